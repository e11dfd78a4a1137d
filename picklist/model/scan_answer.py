"""What a scan is answered: a kind, how it is to be taken, and the facts; ``wording.say_scans`` says it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from picklist.problems import Problem, Where


class ScanKind(StrEnum):
    """What came of a scan. What is also a problem keeps the word that problems have."""

    OPENED = "opened"
    OPEN_ALREADY = "open already"
    STILL_MISSING = "still missing"
    OLDER_LIST = "older list"
    UNKNOWN_CASE = "unknown case"
    LIST_STOPPED = "list stopped"
    LEFT_OPEN = "left open"
    NO_CART = "no cart open"
    SET_ON = "set on the cart"
    SET_FOUND = "set found"
    BEFORE_ITS_TIME = "before its time"
    OTHER_CARTS_SET = "set of another cart"
    SCANNED_TWICE = "scanned twice"
    NOT_WANTED = "set not wanted"
    ITEM_ON = "item on the cart"
    OTHER_LOT = "other lot"
    COUNTED_BEFORE = "counted before"
    NOT_LISTED = "not on the list"
    MORE_THAN_LISTED = "more than listed"
    MISSING = "missing"
    FOUND = "found"
    INSTEAD = "instead"
    COUNT = "count"
    BY = "by"
    AT = "at"
    NOTE = "note"
    DONE = "built"
    NOT_SCANNED = "not scanned"
    WITHOUT_SET = "without a set"
    WAITS = "waits for"
    ASKS = "asks for more"
    BROKEN_OFF = "broken off"
    UNDONE = "undone"
    NOTHING_TO_UNDO = "nothing to undo"
    UNKNOWN_SCAN = "unknown scan"
    NOT_A_NUMBER = "not a number"
    OVERTAKEN = "reported meanwhile"
    OTHER_LAYOUT = "other keyboard layout"
    TWO_READINGS = "two readings"
    CHECKED = "checked"  # says what ``problem`` says


# Said at the cart, and nothing to fix afterwards: the report and the next build have it.
ADVICE = frozenset({ScanKind.STILL_MISSING, ScanKind.WAITS, ScanKind.OTHER_CARTS_SET, ScanKind.OTHER_LAYOUT})


class Weight(StrEnum):
    """How an answer is to be taken."""

    DONE = "done"
    LOOK = "look"  # recorded, and worth a look
    FIX = "fix"  # recorded, and must not stay so
    REFUSED = "refused"  # nothing was recorded


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanAnswer:
    """The answer to one scan: its kind and the facts that its words need.

    ``scan`` is what was scanned, ``case`` the cart, ``thing`` the set, item or tray as the tables spell it;
    ``quantity`` of it, ``listed`` on the list; ``cases`` are carts where it belongs or stands, ``place`` is where
    it is stored; ``things`` more
    things to name; ``who`` and ``at`` say who reported it before and when; ``undone`` is what was undone.
    """

    kind: ScanKind
    weight: Weight = Weight.DONE
    where: Where
    scan: str = ""
    case: str = ""
    thing: str = ""
    name: str = ""
    quantity: int = 0
    listed: int = 0
    before: int = 0
    lot: str = ""
    expiry: date | None = None
    serial: str = ""
    cases: tuple[str, ...] = ()
    place: str = ""
    things: tuple[str, ...] = ()
    nearest: tuple[str, ...] = ()
    who: str = ""
    at: datetime | None = None
    revision: int = 0
    counts: int = 0
    undone: ScanAnswer | None = None
    problem: Problem | None = None

    @property
    def recorded(self) -> bool:
        """Whether the scan counts."""
        return self.weight is not Weight.REFUSED
