"""The tables, settings and forms as a JSON schema, made from their declarations (JSON Schema draft 2020-12)."""

from __future__ import annotations

from typing import Any

from picklist.tables.columns import CellType, Column, Table
from picklist.tables.forms_schema import FORMS
from picklist.tables.parse import SEVERAL, ColumnParser
from picklist.tables.schema import SETTING_ROWS, SETTINGS, TABLES

Schema = dict[str, Any]
HOLDS: dict[CellType, Schema] = {
    CellType.WHOLE: {"type": "integer"},
    CellType.NUMBER: {"type": "number"},
    CellType.YES_NO: {"type": "boolean"},
    CellType.DATE: {"type": "string", "format": "date"},
    CellType.TIME: {"type": "string", "pattern": r"^\d\d:\d\d$"},
    CellType.STAMP: {"type": "string", "pattern": r"^\d{4}-\d\d-\d\d \d\d:\d\d$"},
}


def site_schema() -> Schema:
    """A site as an object of tables, each a list of rows; a cell that is empty is left out of its row.

    Times are wall times of the site. Several ids or words are one text separated by ; or a list.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A site of picklist",
        "type": "object",
        "properties": {table.name: _settings() if table is SETTINGS else _rows(table) for table in TABLES},
        "required": [table.name for table in TABLES if table.required],
        "additionalProperties": False,
        "$defs": {
            form: {"type": "object", "properties": {table.name: _rows(table) for table in tables}}
            for form, tables in FORMS.items()
        },
    }


def _rows(table: Table) -> Schema:
    row = {
        "type": "object",
        "properties": {column.name: _cell(column) for column in table.columns},
        "required": [column.name for column in table.columns if column.required],
        "additionalProperties": False,
    }
    return {"type": "array", "description": f"One row is {table.row_is}.", "items": row}


def _settings() -> Schema:
    """A row of Settings is one of the settings, with a value of its kind."""
    row = _rows(SETTINGS)
    each = [
        {"properties": {"setting": {"const": column.name}, "value": _cell(column)}, "required": ["setting"]}
        for column in SETTING_ROWS
    ]
    row["items"]["properties"]["value"] = True
    return row | {"items": row["items"] | {"oneOf": each}}


def _cell(column: Column) -> Schema:
    made: Schema = {"description": column.help, **HOLDS.get(column.type, {"type": "string"})}
    if column.type in SEVERAL:
        made["type"] = ["string", "array"]
        made["items"] = {"type": "string"}
    elif column.type is CellType.CHOICE:
        made["enum"] = list(column.choices)
    if column.least is not None:
        made["minimum"] = column.least
    if column.most is not None:
        made["maximum"] = column.most
    if column.default and column.type in (CellType.WHOLE, CellType.NUMBER, CellType.YES_NO, CellType.CHOICE):
        made["default"] = ColumnParser(column).default
    if column.refers_to:
        made["$comment"] = f"an id in {column.refers_to}"
    return made
