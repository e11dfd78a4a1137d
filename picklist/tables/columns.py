"""How a column and a table are declared; one declaration drives every reader and writer."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from enum import StrEnum


class CellType(StrEnum):
    """What a cell holds."""

    CODE = "code"  # an id, kept as typed
    CODES = "codes"  # several ids, separated by ;
    TEXT = "text"
    WHOLE = "whole number"
    NUMBER = "number"
    DATE = "date"
    EXPIRY = "expiry date"  # a date, or a month that means its last day
    TIME = "time of day"
    TIMES = "times of day"  # separated by ;
    STAMP = "date and time"
    YES_NO = "yes or no"
    CHOICE = "choice"
    CHOICES = "choices"  # one word, or several in order, separated by ;
    CONDITIONS = "conditions"
    STAND_INS = "stand-ins"  # ids in order of preference, separated by ;
    WEEKDAYS = "weekdays"  # "Mon", "Mon-Fri", "daily"


LONGEST_ID = 60  # characters
LONGEST_TEXT = 2000  # characters, also of several ids


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its header, what its cells hold, and how to fill it in.

    ``refers_to`` names the table whose key the cell must match. ``every``: the word
    "every" is allowed (and an empty cell means it). ``default`` is text as a user would
    type it. ``least``/``most`` bound numbers. ``also`` are other spellings of choices
    (spelling, choice). ``closing``: 24:00 is allowed and means midnight. ``private``:
    what it holds could tell who a patient is, and is looked at more closely (see ``tables.private``).
    ``assumed``: what the program takes for granted where the column says nothing, in words;
    reported once when the column is missing or empty in every row. A column has it when it can
    change an answer and nothing else names it then. ``must_state``: rows that leave it empty are
    counted as well. ``open_ended``: a day such as 9999-12-31 is allowed and stands for no end.
    ``timed``: a day without its time says nothing, as midnight may be hours too early.
    ``longest``: how many characters a text may have, where not as many as others of its type.
    ``into`` names the field of the model where it is not the column's name in small letters, with underscores.
    ``vital``: what the row is about is not used where this cell cannot be trusted. ``fill``: a column of a form
    that is to be filled in. ``was``: earlier names, which are still read.
    """

    name: str
    type: CellType
    help: str
    example: str = ""
    _: KW_ONLY
    required: bool = False
    default: str = ""
    refers_to: str = ""
    every: bool = False
    choices: tuple[str, ...] = ()
    least: float | None = None
    most: float | None = None
    width: float = 14
    also: tuple[tuple[str, str], ...] = ()
    closing: bool = False
    private: bool = False
    assumed: str = ""
    must_state: bool = False
    open_ended: bool = False
    timed: bool = False
    longest: int = 0
    into: str = ""
    vital: bool = False
    fill: bool = False
    was: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The headers under which it is read: its name, and what it was called before."""
        return (self.name, *self.was)

    def assumes(self, what: str, *, must_state: bool = False) -> Column:
        """The column with what is taken for granted where it says nothing; see ``assumed`` and ``must_state``."""
        return replace(self, assumed=what, must_state=must_state)

    @property
    def most_characters(self) -> int:
        """How many characters a cell may hold: an id stands in narrow columns of the papers."""
        return self.longest or (LONGEST_ID if self.type is CellType.CODE else LONGEST_TEXT)

    @property
    def shown_example(self) -> str:
        """What may be typed: its example, or what an empty cell means."""
        return self.example or self.default

    @property
    def wanted(self) -> str:
        """What belongs into a cell, in words that follow "expected"."""
        such = f", such as {self.example}" if self.example else ""
        if self.refers_to:
            return f"an id in {self.refers_to}{', or every' if self.every else such}"
        if self.type is CellType.YES_NO:
            return "yes or no"
        if self.choices and self.type is not CellType.EXPIRY:
            return "one of " + ", ".join(self.choices)
        plain = self.help[:1].lower() if self.help[1:2].islower() else self.help[:1]
        return f"{plain}{self.help[1:]}{such}"

    @property
    def field(self) -> str:
        """The field of the model that takes its values."""
        return self.into or self.name.lower().replace(" ", "_").replace("-", "_")


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelCells:
    """Columns of one row into which a maker's label may be scanned: the item's, or the lot's.

    What a label says fills the empty ones of all these columns, and must agree with those that are filled in.
    """

    item: str
    lot: str
    expiry: str = ""
    serial: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table: what a row is, its columns, and the columns that make a row unique.

    ``of_cases``: a row is of one operation, so that its free texts could tell who the patient is.
    ``rows_form`` names the column under which several rows make one thing (a pack, a route).
    ``rows_are`` is the plural of ``row_is``, where the table's name is not. ``assumed``: what the
    program takes for granted without the table, in words. ``either``: columns of which a row
    fills in one or the other; a missing one of these is the cause of rows that fill in none.
    ``book`` is the workbook in which the program writes it (a reader finds it wherever it is).
    ``labels``: the columns that take a maker's label.
    """

    name: str
    row_is: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()
    required: bool = False
    rows_form: str = ""
    of_cases: bool = False
    rows_are: str = ""
    assumed: str = ""
    either: tuple[str, ...] = ()
    book: str = ""
    labels: LabelCells | None = None

    @property
    def rows(self) -> str:
        """What its rows are called when they are counted."""
        return self.rows_are or self.name.lower()

    def column(self, name: str) -> Column:
        """The column with that header; KeyError when there is none."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)
