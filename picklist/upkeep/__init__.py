"""Preference cards as offices keep them: workbooks out, proposals back, a log of changes."""
