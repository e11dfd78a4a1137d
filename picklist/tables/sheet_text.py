"""Where the rows and cells of a sheet are in the text of its part, byte for byte."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any
from xml.parsers import expat

from picklist.tables.sheet_flags import place_of


@dataclass(slots=True, kw_only=True)
class SheetCell:
    """One cell: its first byte and the one after its last, its style, and whether it holds a formula."""

    start: int
    end: int = 0
    style: str = ""
    formula: bool = False


@dataclass(slots=True, kw_only=True)
class SheetRow:
    """One row: its bytes, the end of its opening tag, whether that closes itself, and its cells by column from 0."""

    start: int
    head_end: int = 0
    end: int = 0
    empty_tag: bool = False
    cells: dict[int, SheetCell] = field(default_factory=dict)


@dataclass(slots=True, kw_only=True)
class SheetText:
    """Where the rows and cells of a sheet stand in its text, in bytes."""

    xml: bytes
    prefix: str = ""
    rows: dict[int, SheetRow] = field(default_factory=dict)
    data_start: int = 0
    data_end: int = 0
    data_empty: bool = False


def locate_cells(xml: bytes) -> SheetText:
    """Walk a sheet once and note where its rows and cells are."""
    found = SheetText(xml=xml)
    parser = expat.ParserCreate()
    state: dict[str, Any] = {"row": 0, "column": 0, "open": None}

    def start(name: str, attributes: dict[str, str]) -> None:
        prefix, _, plain = name.rpartition(":")
        at = parser.CurrentByteIndex
        if plain == "sheetData":
            found.prefix = f"{prefix}:" if prefix else ""
            found.data_start, found.data_empty = _tag_end(xml, at)
        elif plain == "row" and found.data_start and not found.data_end:
            number = int(attributes.get("r", state["row"] + 1))
            end, empty = _tag_end(xml, at)
            state.update(row=number, column=-1)
            found.rows[number] = SheetRow(start=at, head_end=end, empty_tag=empty)
        elif plain == "c" and state["row"] in found.rows and not found.data_end:
            column = place_of(attributes["r"])[1] if "r" in attributes else state["column"] + 1
            state.update(column=column, open=SheetCell(start=at, style=attributes.get("s", "")))
            found.rows[state["row"]].cells[column] = state["open"]
        elif plain == "f" and state["open"]:
            state["open"].formula = True

    def end(name: str) -> None:
        plain = name.rpartition(":")[2]
        at = parser.CurrentByteIndex
        if plain == "c" and state["open"]:
            state["open"].end = _close_end(xml, state["open"].start, at)
            state["open"] = None
        elif plain == "row" and state["row"] in found.rows:
            row = found.rows[state["row"]]
            row.end = _close_end(xml, row.start, at)
        elif plain == "sheetData":
            found.data_end = at

    parser.StartElementHandler, parser.EndElementHandler = start, end
    parser.Parse(xml, True)
    return found


TAG = re.compile(rb"<(?:[^\"'>]|\"[^\"]*\"|'[^']*')*>")


def _tag_end(xml: bytes, at: int) -> tuple[int, bool]:
    """Where the tag that begins here ends, and whether it closes itself."""
    match = TAG.match(xml, at)
    end = match.end() if match else len(xml)
    return end, xml[end - 2 : end - 1] == b"/"


def _close_end(xml: bytes, start: int, at: int) -> int:
    """The end of an element that began at ``start`` and whose end was reported at ``at``.

    Of an element that closes itself the parser tells either its beginning or its end.
    """
    if xml[at : at + 2] == b"</":
        return xml.index(b">", at) + 1
    return at if at > start else _tag_end(xml, start)[0]
