"""What a table does not say: columns that are missing or empty, and rows that leave a column out that each must state.

Nothing unsaid is taken for an answer in silence: each column is reported once, with what is assumed.
"""

from __future__ import annotations

from collections.abc import Iterable

from picklist.tables.cells import FilledRows, Grid
from picklist.tables.columns import Column, Table
from picklist.tables.drafts import Draft, Ledger
from picklist.tables.headers import Header

MOST_SPANS = 4


def report_left_out(grid: Grid, header: Header, table: Table, rows: FilledRows, ledger: Ledger) -> dict[str, Draft]:
    """Report what the table leaves out; give the reports of the columns of which a row fills in one or the other.

    Rows without any content do not count. A column whose header stands twice has its own report.
    """
    if not rows.indexes:
        return {}
    bare: dict[str, list[Column]] = {"missing": [], "empty in every row": []}
    either: dict[str, Draft] = {}
    for column in table.columns:
        if not column.assumed or column.name in header.unusable:
            continue
        blank = rows.blank(column.name)
        if column.must_state:
            _count(grid, header, table, column, [rows.indexes[n] for n in blank], len(rows.indexes), ledger)
        elif len(blank) == len(rows.indexes):
            how = "empty in every row" if column.name in header.positions else "missing"
            if column.name in table.either:
                either[column.name] = _report_bare(grid, header, (column,), how, ledger)
            else:
                bare[how].append(column)
    for how, columns in bare.items():
        if columns:
            _report_bare(grid, header, columns, how, ledger)
    return either


def _report_bare(grid: Grid, header: Header, columns: Iterable[Column], how: str, ledger: Ledger) -> Draft:
    listed = tuple(columns)
    named = "; ".join(f"'{column.name}': {column.assumed}" for column in listed)
    if len(listed) == 1:
        where = grid.where(header.row, listed[0].name, header.positions.get(listed[0].name))
        return ledger.notice(
            f"{how.partition(' ')[0]} column", where, f"the column '{listed[0].name}' is {how}, so {listed[0].assumed}"
        )
    where = grid.where(header.row)
    return ledger.notice(
        f"{how.partition(' ')[0]} column", where, f"these columns are {how}, and what is assumed: {named}"
    )


def _count(
    grid: Grid, header: Header, table: Table, column: Column, blank: list[int], total: int, ledger: Ledger
) -> None:
    """Say once of how many rows a column that each must state says nothing, and where they are."""
    if not blank:
        return
    if len(blank) < total:
        where_blank = f" ({'row' if len(blank) == 1 else 'rows'} {spans([index + 1 for index in blank])})"
    elif column.name in header.positions:
        where_blank = ""
    else:
        where_blank = ": the column is missing"
    of_them = f"{len(blank)} of {total} {table.rows}" if len(blank) < total else f"any of {total} {table.rows}"
    ledger.notice(
        "blank cells",
        grid.where(header.row, column.name, header.positions.get(column.name)),
        f"'{column.name}' is not stated for {of_them}{where_blank}; {column.assumed}",
        expected=column.wanted,
    )


def in_rows(indexes: list[int]) -> str:
    """Rows, counted from 0, as ``row 3 holds`` or ``rows 3 and 7 to 9 hold``."""
    return f"row {indexes[0] + 1} holds" if len(indexes) == 1 else f"rows {spans([n + 1 for n in indexes])} hold"


def spans(numbers: list[int]) -> str:
    """Numbers in order as ``2, 5 to 9 and 14``; of many spans the first few, and how many more numbers there are."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    parts = [str(first) if first == last else f"{first} to {last}" for first, last in runs[:MOST_SPANS]]
    more = sum(last - first + 1 for first, last in runs[MOST_SPANS:])
    if more:
        parts.append(f"{more} more")
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
