"""One parser for each column: raw cell in, (value, fault) out; it never raises for bad content."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Any

from picklist.settings import DateOrder
from picklist.tables.cells import CUT_OFF, PRIVATE, CellFlaw, Fault, Parsed, Raw, shown, tidy
from picklist.tables.columns import CellType as T
from picklist.tables.columns import Column
from picklist.tables.nearest import plain
from picklist.tables.parse_dates import parse_date_cell, parse_expiry_cell
from picklist.tables.parse_numbers import parse_number_cell
from picklist.tables.parse_times import parse_stamp_cell, parse_time_cell, parse_times_cell
from picklist.tables.parse_words import (
    parse_choice,
    parse_choices,
    parse_code,
    parse_codes,
    parse_conditions,
    parse_text,
    parse_weekdays,
    parse_yes_no,
)
from picklist.tables.private import Kind, looks_private

SIMPLE: dict[T, Any] = {
    T.CODE: parse_code,
    T.CODES: parse_codes,
    T.TEXT: parse_text,
    T.WHOLE: parse_number_cell,
    T.NUMBER: parse_number_cell,
    T.TIME: parse_time_cell,
    T.TIMES: parse_times_cell,
    T.YES_NO: parse_yes_no,
    T.CHOICE: parse_choice,
    T.CHOICES: parse_choices,
    T.CONDITIONS: parse_conditions,
    T.STAND_INS: parse_codes,
    T.WEEKDAYS: parse_weekdays,
}
DATED: dict[T, Any] = {
    T.DATE: parse_date_cell,
    T.EXPIRY: parse_expiry_cell,
    T.STAMP: parse_stamp_cell,
}
SEVERAL = frozenset({T.CODES, T.TIMES, T.CHOICES, T.CONDITIONS, T.STAND_INS, T.WEEKDAYS})
# Types whose nearest values come from a list; those of the others are made of what was typed.
LISTED = frozenset({T.TEXT, T.YES_NO, T.CHOICE, T.CHOICES, T.STAND_INS, T.WEEKDAYS})
WORDS = frozenset({T.TEXT, T.CODE})
FLAW_TEXTS = {
    "error value": "the spreadsheet shows the error {0} here",
    "no stored value": "this formula was never computed, so its value is not known",
    "merged cell": "this cell is merged with others ({0}), so it is not clear what it says",
    CUT_OFF.kind: "this last row has fewer cells than all others and no line end, so the file may be cut off here",
}
WHOLE_FILE = "the whole file; where the row is whole as it is, a line end after it (press Enter at its end)"
LARGEST = 1e18  # beyond it no cell of any column is meant so


@dataclass(frozen=True, slots=True)
class Look:
    """How closely texts are looked at for what tells who a patient is; not at all without a ``kind``."""

    kind: Kind | None = None
    today: date | None = None

    def fault(self, text: str) -> Fault | None:
        """The fault of a text that goes no further."""
        what = looks_private(text, self.today, self.kind) if self.kind else ""
        return private_fault(what) if what else None


def private_fault(what: str) -> Fault:
    """Why a text is not read; what stands in it is not said."""
    return Fault(
        kind=PRIVATE,
        message=f"this text seems to hold {what}; it was not read",
        expected="nothing that tells who the patient is",
    )


@dataclass(frozen=True, slots=True)
class ParsedColumn:
    """What the cells of a column say, from top to bottom (None where there is a fault), and the faults by place."""

    values: list[Any]
    faults: dict[int, Fault]


class ColumnParser:
    """Parses the cells of one column."""

    def __init__(
        self, column: Column, order: DateOrder | None = DateOrder.ANY, digits: int = 0, look: Look = Look()
    ) -> None:
        """Take the column, the order of its text dates (None: two stand in it) and how long its 0-led ids are."""
        self.column = column
        self._look = look
        self._digits = digits
        self._parse: Any = SIMPLE.get(column.type) or partial(DATED[column.type], order=order)
        self._most_characters = column.most_characters
        self.default = self._default()

    def __call__(self, raw: Raw) -> Parsed:
        """(value, fault): a fault that is not mild has no value."""
        if raw is None:
            return self._empty()
        return self._text(raw) if isinstance(raw, str) else self._other(raw)

    def column_of(self, raws: Sequence[Raw]) -> ParsedColumn:
        """What the cells of a whole column say; what stands in several of them is parsed once."""
        if bool in set(map(type, raws)):  # True is 1 to a dictionary
            each = [self(raw) for raw in raws]
            return ParsedColumn([value for value, _ in each], {n: fault for n, (_, fault) in enumerate(each) if fault})
        said = {raw: self(raw) for raw in set(raws)}
        values = {raw: value for raw, (value, _) in said.items()}
        wrong = {raw: fault for raw, (_, fault) in said.items() if fault}
        faults = {n: wrong[raw] for n, raw in enumerate(raws) if raw in wrong} if wrong else {}
        return ParsedColumn(list(map(values.__getitem__, raws)), faults)

    def _empty(self) -> Parsed:
        if self.column.required:
            return None, Fault(kind="empty cell", message="this cell is empty", expected=self.column.wanted)
        return self.default, None

    def _text(self, raw: str) -> Parsed:
        text = tidy(raw)
        if not text:
            return self._empty()
        if self.column.every and "?" not in text and plain(text) in ("every", "all", "any"):
            return None, None
        private = self._look.fault(text)
        if private:
            return None, private
        if len(raw) > self._most_characters:
            return None, _too_long(len(raw), self._most_characters)
        parsed: Parsed = self._parse(self.column, raw)
        return parsed

    def _other(self, raw: Raw) -> Parsed:
        if isinstance(raw, CellFlaw):
            return None, flaw_fault(raw, self.column.wanted)
        if isinstance(raw, int | float) and not -LARGEST < raw < LARGEST:
            return None, Fault(kind="not a number", expected=self.column.wanted)
        private = self._look.fault(shown(raw))
        if private:
            return None, private
        parsed: Parsed = self._parse(self.column, raw)
        if self._digits and isinstance(parsed[0], str) and len(parsed[0]) < self._digits and parsed[0].isdigit():
            return None, _lost_zeros(parsed[0], self._digits)
        return parsed

    def _default(self) -> Any:
        if self.column.default:
            return self._parse(self.column, self.column.default)[0]
        if self.column.type in SEVERAL:
            return ()
        return "" if self.column.type in WORDS and not self.column.every else None


def flaw_fault(flaw: CellFlaw, expected: str) -> Fault:
    """What is wrong with a cell whose value cannot be had."""
    wanted = WHOLE_FILE if flaw == CUT_OFF else expected
    return Fault(kind=flaw.kind, message=FLAW_TEXTS[flaw.kind].format(flaw.text), expected=wanted)


def _lost_zeros(code: str, digits: int) -> Fault:
    return Fault(kind="lost zeros", expected="the id as text, with its zeros", nearest=(code.zfill(digits),))


def _too_long(characters: int, most: int) -> Fault:
    return Fault(kind="too long", message=f"this text has {characters} characters", expected=f"at most {most}")
