"""What a column holds and allows, in words: for notes on headers and for the reference page."""

from __future__ import annotations

from picklist.tables.cells import number_text
from picklist.tables.columns import CellType, Column, Table

HOLDS: dict[CellType, str] = {
    CellType.CODE: "An id, kept as typed. Format the column as text, so that leading zeros stay.",
    CellType.CODES: "Several ids, separated by ;",
    CellType.TEXT: "Text.",
    CellType.WHOLE: "A whole number, without a unit.",
    CellType.NUMBER: "A number with a point for decimals, without a unit.",
    CellType.DATE: "A day: a date cell, or text such as 2026-11-26 or 26 Nov 2026. A date such as 03/04/2026 is "
    "read only when other dates of the column, or the setting 'date order', show what comes first.",
    CellType.EXPIRY: "A day as above, or a month such as 2027-06, which means its last day.",
    CellType.TIME: "A time of day: a time cell, or text such as 07:30, 0730 or 7:30 am. A time after midnight "
    "belongs to the next day: 25:30 is refused.",
    CellType.TIMES: "Several times of day, separated by ;",
    CellType.STAMP: "A day and a time, such as 2026-11-25 16:30, by the site's clock.",
    CellType.YES_NO: "yes or no (also true and false, y and n, 1 and 0).",
    CellType.CHOICE: "One of the words given, in any case.",
    CellType.CHOICES: "One of the words given, in any case; or several of them in order, separated by ;",
    CellType.CONDITIONS: "Conditions that must all hold, separated by ; each is 'alert WORD', 'side WORD' or "
    "'size WORD', with 'not' before it for the opposite.",
    CellType.STAND_INS: "Several ids in the order in which they are tried, separated by ;",
    CellType.WEEKDAYS: "Weekdays: Mon, Mon-Fri, Sat; Sun, weekdays, weekends or daily.",
}


def allowed_text(column: Column) -> str:
    """What values a column allows, in a few words; empty when anything of its kind goes."""
    parts = []
    if column.choices:
        parts.append(("a day, a month, " if column.type is CellType.EXPIRY else "") + ", ".join(column.choices))
    if column.least is not None and column.most is not None:
        parts.append(f"{number_text(column.least)} to {number_text(column.most)}")
    elif column.least is not None:
        parts.append(f"{number_text(column.least)} or more")
    if column.refers_to:
        parts.append(f"an id in {column.refers_to}")
    if column.every:
        parts.append("'every' or empty for all")
    return "; ".join(parts)


def need_text(column: Column) -> str:
    """Whether a column must be filled in, and what an empty cell means."""
    if column.required:
        return "needed"
    empty = f"empty means {column.default}" if column.default else "may be empty"
    if column.must_state:
        return f"{empty}; rows without it are counted in a notice"
    return empty


def note_text(column: Column) -> str:
    """The note on a column's header."""
    lines = [column.help, HOLDS[column.type]]
    allowed = allowed_text(column)
    if allowed:
        lines.append(f"Allowed: {allowed}.")
    lines.append(f"{need_text(column).capitalize()}.")
    return "\n".join(lines)


def key_text(table: Table) -> str:
    """What makes a row of a table unique, in words."""
    return " + ".join(table.key)
