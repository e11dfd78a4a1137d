"""The reference page of all tables, from the same declarations that the reader uses."""

from __future__ import annotations

from collections.abc import Iterable

from picklist.tables.column_words import HOLDS, allowed_text, key_text, need_text
from picklist.tables.columns import CellType, Column, Table
from picklist.tables.schema import SETTING_ROWS, TABLES

INTRODUCTION = """\
# The tables of a site

A site is a folder. A table is found by the name of its sheet in any workbook there (`.xlsx`), or by
the name of a CSV file; so one workbook, several, or CSV files all do, and a table may be spread over
files. Headers match whatever their case, spaces, hyphens and order; rows above the header are passed
over. Columns that are not listed here are never read: nothing about a patient belongs in any table.
Lock files, hidden files and sub-folders are passed over, files of other kinds are named in a notice.

This page is made from the program's own declarations of the tables.
"""


def reference_page() -> str:
    """The reference page as Markdown."""
    parts = [INTRODUCTION, _contents(), *(_table(table) for table in TABLES), _settings(), _kinds()]
    return "\n".join(parts)


def _contents() -> str:
    rows = [(f"[{t.name}](#{_anchor(t.name)})", t.row_is, "yes" if t.required else "") for t in TABLES]
    return _grid(("table", "one row is", "needed"), rows)


def _anchor(name: str) -> str:
    return name.lower().replace(" ", "-")


def _table(table: Table) -> str:
    lines = [f"## {table.name}", "", f"One row is {table.row_is}."]
    if table.rows_form:
        lines.append(f"Rows with the same {table.rows_form} make one {table.rows_form}.")
    if table.key:
        lines.append(f"Unique: {key_text(table)}.")
    return "\n".join([*lines, "", _grid(HEADS, [_column(column) for column in table.columns])])


HEADS = ("column", "holds", "needed", "allowed", "meaning", "example")


def _column(column: Column) -> tuple[str, ...]:
    return (
        f"**{column.name}**",
        column.type.value,
        need_text(column),
        allowed_text(column),
        column.help,
        column.shown_example,
    )


def _settings() -> str:
    rows = [_column(column) for column in SETTING_ROWS]
    return "\n".join(["## The settings", "", "Rows of the table Settings.", "", _grid(("setting", *HEADS[1:]), rows)])


def _kinds() -> str:
    rows = [(kind.value, HOLDS[kind]) for kind in CellType]
    return "\n".join(["## What cells hold", "", _grid(("kind", "how it is typed"), rows)])


def _grid(heads: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = ["| " + " | ".join(heads) + " |", "|" + " --- |" * len(heads)]
    lines += ["| " + " | ".join(_cell(text) for text in row) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")
