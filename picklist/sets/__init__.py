"""Decide which set serves which case: routes over time, allocation, conflicts and remedies."""
