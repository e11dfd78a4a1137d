"""The words of the trade as frozen dataclasses; no spreadsheet and no computation in here."""
