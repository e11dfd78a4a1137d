"""How what stands on a list reads: sides, expiries, moments, kinds of conflict, and characters that no font has."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from datetime import date, datetime
from itertools import groupby

from picklist.clock import SiteClock
from picklist.model.conflicts import ConflictKind
from picklist.model.expiry import Expiry
from picklist.model.plan import Cart
from picklist.model.schedule import SIDED, Side
from picklist.wording.quantities import counted, listed, span

NONE = "–"

SIDE_WORDS = {
    Side.LEFT: "LEFT",
    Side.RIGHT: "RIGHT",
    Side.BOTH: "BOTH SIDES",
    Side.NOT_SIDED: "SIDE NOT APPLICABLE",
    None: "SIDE NOT STATED",
}

KIND_MEANS = {
    ConflictKind.SHORT: "no set in time, even when hurried",
    ConflictKind.RUSH: "in time only if steps are faster than usual",
    ConflictKind.TIGHT: "in time, but with less than the margin to spare",
    ConflictKind.RESERVE: "leaves fewer sets ready for emergencies than planned",
    ConflictKind.CONDITIONAL: "depends on whether the held tray is opened",
    ConflictKind.QUEUE: "late only because of the department's queue",
}
_AMOUNTS = {
    ConflictKind.RUSH: "to save",
    ConflictKind.TIGHT: "to spare",
    ConflictKind.QUEUE: "late",
    ConflictKind.CONDITIONAL: "short if opened",
}


def amount_of(kind: ConflictKind, minutes: int) -> str:
    """How much is lacking, or left to spare: ``25 min to save``; of the reserve in sets."""
    if kind is ConflictKind.RESERVE:
        return f"{counted(minutes, 'set')} fewer than to be kept ready"
    return f"{span(minutes)} {_AMOUNTS.get(kind, 'short')}"


def case_side(cart: Cart) -> str:
    """The side of a whole case in capitals; where its procedures are on two, both in their order."""
    if cart.case.sides and Side.BOTH not in cart.case.sides:
        sided = dict.fromkeys(side for side in cart.case.sides if side in SIDED)
        return " + ".join(SIDE_WORDS[side] for side in sided)
    return SIDE_WORDS[cart.side]


def side_on_list(cart: Cart) -> str:
    """The side of a case at the head of its list, where the word side stands above it."""
    return "NOT APPLICABLE" if case_side(cart) == SIDE_WORDS[Side.NOT_SIDED] else case_side(cart)


def procedures_with_sides(cart: Cart) -> tuple[str, ...]:
    """The procedures by name, each with its side where they are not all on the same."""
    sides = cart.case.sides
    return tuple(f"{name}: {SIDE_WORDS[sides[n]]}" if sides else name for n, name in enumerate(cart.procedure_names))


def side_says(side: Side | None) -> str:
    """What to do where the schedule leaves the side blank; nothing beside a stated one."""
    return "blank on the schedule: ask" if side is None else ""


def small_side(side: Side | None) -> str:
    """The side of one line in small letters, empty when it has none."""
    return side.value if side in SIDED else ""


def joined(*parts: str, by: str = "; ") -> str:
    """Those of the parts that say something, one after the other."""
    return by.join(part for part in parts if part)


def quantity(number: int) -> str:
    """A number to pick; a dash for none, so that an empty field can only mean a fault."""
    return str(number) if number else NONE


def open_and_hold(opened: int, hold: int) -> str:
    """``2 open and 1 hold``; the part that is nought is left out."""
    parts = [f"{opened} open"] if opened else []
    parts += [f"{hold} hold"] if hold else []
    return " and ".join(parts) or "none"


def expiry(until: Expiry) -> str:
    """``31 Mar 2028``, ``never``, or that it is not recorded."""
    if isinstance(until, date):
        return f"{until.day} {until:%b %Y}"
    return until or "not recorded"


def check_expiry(until: Expiry) -> str:
    """What to do about an expiry that is not recorded; nothing where it is."""
    return "no expiry recorded: check the package" if until is None else ""


def moment(clock: SiteClock, instant: datetime, day: date) -> str:
    """The wall time alone on the sheet's own day, with weekday and date on any other."""
    return clock.hhmm(instant) if clock.day(instant) == day else clock.stamp(instant)


def beside(clock: SiteClock, instant: datetime, other: datetime) -> str:
    """The wall time alone on the day of another moment, with weekday and date on any other."""
    return moment(clock, instant, clock.day(other))


def not_on_paper(missing: Iterable[str]) -> str:
    """A cell whose text holds such characters, by their scripts: it does not say what the text is."""
    scripts = listed(sorted({_script(one) for one in missing}))
    return f"papers cannot show characters of this text ({scripts}); each is printed as its number, such as [U+65E5]"


def writable() -> str:
    """What papers can show."""
    return "Latin, Greek or Cyrillic letters"


def replaced(missing: Iterable[str]) -> tuple[str, ...]:
    """A sentence for each script of which characters were printed as numbers, in order of the numbers."""
    return tuple(_sentence(script, list(some)) for script, some in groupby(sorted(missing), key=_script))


def cut_at(most: int, starts: Iterable[str]) -> tuple[str, ...]:
    """A sentence for each text that was too long for a row."""
    return tuple(f"a text of more than {most} characters is cut on paper: {start} …" for start in sorted(starts))


def _sentence(script: str, some: list[str]) -> str:
    numbers = [f"U+{ord(one):04X}" for one in some]
    if len(some) == 1:
        named = unicodedata.name(some[0], "without a name")
        return f"the character {numbers[0]} {named} is not in the sheets' font; it is printed as [{numbers[0]}]"
    return (
        f"{counted(len(some), 'character')} ({script}) are not in the sheets' font; "
        f"each is printed as its number, such as [{numbers[0]}]"
    )


def _script(character: str) -> str:
    """The script of a letter as its name in Unicode begins; of anything else what it is."""
    if unicodedata.category(character)[0] not in "LM":
        return "symbols"
    return (
        unicodedata.name(character, "other").split()[0].split("-")[0].capitalize().replace("Cjk", "Chinese characters")
    )


AID = "Planning aid, not a record of sterility or release. Device instructions, local policy and licensed staff decide."
CHECK_BEFORE_USE = (
    "Before it goes on the cart and again before use: package whole and dry, indicator changed, lock in place "
    "(containers), expiry, side and size. Do not use what fails a check."
)
CAUTIONS = (AID, CHECK_BEFORE_USE)
CAUTIONS_SHEET = "Cautions"  # of a workbook
