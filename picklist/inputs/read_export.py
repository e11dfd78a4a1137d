"""The table Export: whether what it says of headers and codes can be meant."""

from __future__ import annotations

from pathlib import Path

from picklist.inputs.read_schedule import read_procedures, read_rooms, read_staff
from picklist.inputs.site_reader import SiteReader
from picklist.inputs.unstated import Unstated, report_unstated
from picklist.problems import Where
from picklist.tables.drafts import Ledger
from picklist.tables.folder import FolderTables, read_folder
from picklist.tables.nearest import plain
from picklist.tables.parse import ColumnParser
from picklist.tables.rows import Row
from picklist.tables.schema import CASE_END, CASE_HOURS, NOT_READ, SCHEDULE

NAMES = {"room": "Rooms", "surgeon": "Staff", "team": "Staff", "procedures": "Procedures"}
NO_CODES = frozenset({CASE_END, CASE_HOURS, NOT_READ})


def check_export(reader: SiteReader) -> None:
    """Report codes whose value Schedule could not say, and codes that stand in two rows with two values."""
    seen: dict[tuple[str, str, str], Row] = {}
    blank: list[tuple[str, Where]] = []
    for row in reader.tables.export_rows:
        if row.bad or not row.values["code"]:
            continue
        key = (plain(row.values["header"]), row.values["means"], row.values["code"].casefold())
        before = seen.setdefault(key, row)
        if before.values["value"] != row.values["value"]:
            message = "this code is in two rows that say different things; the first counts"
            reader.doubled(before.where("code"), row, "code", message, "each code of a header once")
        elif row.values["means"] in NO_CODES:
            continue
        elif row.values["value"]:
            _check_value(reader, row)
        elif before is row:
            blank.append((f"row {row.number}", row.where("value")))
    stand_for_nothing = Unstated(
        column="value",
        of=len(seen),
        what="codes",
        assumed="they stand for nothing, so that Schedule is left empty there",
        expected="what Schedule would say, where a code stands for something",
        harmless=True,
    )
    report_unstated(reader, stand_for_nothing, blank)


def _check_value(reader: SiteReader, row: Row) -> None:
    column = SCHEDULE.column(row.values["means"])
    parsed, fault = ColumnParser(column)(row.values["value"])
    if fault is not None:
        reader.ledger.of_fault(fault, row.where("value"), value=row.values["value"])
    elif column.refers_to:
        for one in parsed if isinstance(parsed, tuple) else (parsed,):
            reader.find(row, "value", column.refers_to, one)


def read_names(folder: Path) -> tuple[FolderTables, dict[str, dict[str, str]]]:
    """The tables of a folder; and, by column of Schedule that refers to a table, the ids of that with their names."""
    ledger = Ledger()
    reader = SiteReader(read_folder(folder, ledger), ledger)
    for read in (read_rooms, read_staff, read_procedures):
        read(reader)
    return reader.tables, {means: dict(reader.index(table).spoken) for means, table in NAMES.items()}
