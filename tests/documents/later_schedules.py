"""An evening of the sample hospital whose schedule changes twice: what the office sends at 18:40 and at 20:15."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import time
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

Row = dict[str, Any]


def edit_sheet(book: Path, sheet: str, key: str, changes: Mapping[str, Row | None], new: tuple[Row, ...] = ()) -> None:
    """Change rows found by their key (None deletes one), and add rows, as an office does by hand."""
    workbook = openpyxl.load_workbook(book)
    table = workbook[sheet]
    assert isinstance(table, Worksheet)
    heads = {str(cell.value): column for column, cell in enumerate(table[1], start=1)}
    rows = {str(table.cell(row, heads[key]).value): row for row in range(2, table.max_row + 1)}
    for name, values in changes.items():
        for head, value in (values or {}).items():
            table.cell(rows[name], heads[head]).value = value
    for row in sorted((rows[name] for name, values in changes.items() if values is None), reverse=True):
        table.delete_rows(row)
    for values in new:
        last = table.max_row + 1
        for head, value in values.items():
            table.cell(last, heads[head]).value = value
    workbook.save(book)


def schedule_rows(site: Path) -> dict[str, Row]:
    """The rows of the schedule by case."""
    table = openpyxl.load_workbook(site / "schedule.xlsx")["Schedule"]
    heads, *rows = table.iter_rows(values_only=True)
    found = (dict(zip((str(head) for head in heads), row, strict=True)) for row in rows)
    return {str(row["case"]): row for row in found}


KEPT = (101, 102, 103, 104, 105, 106, 109, 111, 113, 114, 115, 116, 117, 118, 121, 122, 123, 126, 137, 141, 146, 147)


def thin_schedule(site: Path) -> None:
    """Leave only some twenty cases, so that an evening is built quickly."""
    kept = {f"C-4{number}" for number in KEPT}
    edit_sheet(
        site / "schedule.xlsx", "Schedule", "case", {case: None for case in schedule_rows(site) if case not in kept}
    )


def first_edit(site: Path) -> None:
    """18:40: a scope is cancelled, a hand moves, a thyroid starts later, a stone is now a resection, a hip comes in."""
    rows = schedule_rows(site)
    hip = rows["C-4118"] | {
        "case": "C-4301", "room": "OR 7", "start": time(9, 40), "surgeon": "S07", "team": "A02; N07", "priority": 3,
        "side": "right", "may move": "no", "notes": "Add-on from the emergency room",
    }  # fmt: skip
    edit_sheet(
        site / "schedule.xlsx",
        "Schedule",
        "case",
        {
            "C-4116": {"status": "cancelled"},
            "C-4146": {"room": "OR 3"},
            "C-4109": {"start": time(7, 45)},
            "C-4126": {"procedures": "URO-TURBT", "side": "none"},
            "C-4121": {"surgeon": "S07"},
            "C-4111": {"procedures": "GEN-CHOLE"},
        },
        (hip,),
    )


def second_edit(site: Path) -> None:
    """20:15: an eye is renumbered, a curettage comes back under another number, a side goes blank, a knee moves a day.

    A set on a built cart is found incomplete.
    """
    rows = schedule_rows(site)
    hernia = rows["C-4106"] | {"case": "C-4313", "procedures": "GEN-INGHERN", "start": time(16, 30), "minutes": 60}
    eye = rows["C-4141"] | {"case": "C-4311"}
    curettage = rows["C-4137"] | {"case": "C-4312", "start": time(16, 30), "minutes": 40}
    edit_sheet(
        site / "schedule.xlsx",
        "Schedule",
        "case",
        {
            "C-4141": None,
            "C-4137": None,
            "C-4122": {"side": None},
            "C-4106": {"procedures": "GEN-CHOLE", "minutes": 75},
            "C-4115": {"day": rows["C-4147"]["day"], "room": "OR 1", "start": time(15, 30)},
        },
        (eye, curettage, hernia),
    )
    edit_sheet(site / "trays.xlsx", "Sets", "set", {"KNEE-02": {"state": "incomplete"}})
