"""An invented site as files: workbooks by who keeps them, and what a stock system gives out as CSV."""

from __future__ import annotations

from pathlib import Path

from benchmarks.scenario.lists import Tables
from picklist.tables.write import write_tables

AS_CSV = frozenset({"Lots", "Past cases"})
MOST_ROWS = 100_000  # of workbooks, in all: for more, writing takes minutes and all are CSV
BOOKS: dict[str, tuple[str, ...]] = {
    "schedule": ("Schedule", "Rooms", "Staff"),
    "cards": ("Procedures", "Cards"),
    "catalogue": ("Items", "Packs", "Places"),
    "trays": ("Trays", "Tray contents", "Sets"),
    "department": ("Routes", "Stations", "Hours", "Departures", "Holidays"),
    "settings": ("Settings",),
}


def write_site(folder: Path, tables: Tables) -> tuple[Path, ...]:
    """Write the tables into the folder and give the files' paths."""
    rows = sum(len(tables[name]) for name in tables if name not in AS_CSV)
    as_csv = AS_CSV if rows <= MOST_ROWS else frozenset(tables)
    return write_tables(folder, tables, as_csv=as_csv, books=BOOKS)
