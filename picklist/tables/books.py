"""Which tables lie together in which workbook when the program writes a folder.

The reader does not care: it finds a table by its sheet name wherever it lies.
"""

from __future__ import annotations

from picklist.tables.schema import TABLES

# Drop-downs reach only sheets of their own workbook, so all tables that refer to each other lie
# together; the schedule changes all evening and has a file of its own.
BLANK_BOOKS: dict[str, tuple[str, ...]] = {
    "schedule": ("Schedule",),
    "site": tuple(table.name for table in TABLES if table.name != "Schedule"),
}

# By who keeps them.
BOOKS: dict[str, tuple[str, ...]] = {
    "schedule": ("Schedule",),
    "cards": ("Procedures", "Cards"),
    "supplies": ("Items", "Packs", "Lots", "Places"),
    "trays": ("Trays", "Tray contents", "Sets"),
    "department": ("Routes", "Stations", "Hours", "Departures", "Holidays", "Transfers"),
    "site": ("Settings", "Staff", "Rooms", "Past cases", "Codes"),
}
