"""What a list says at its end: what procedures asked for together, what was left off and why, what is pending."""

from __future__ import annotations

from collections.abc import Iterator
from string import ascii_uppercase

from picklist import wording
from picklist.documents.views.lookup import Lookup
from picklist.model.cards import ThingKind
from picklist.model.needs import Need, ReasonKind
from picklist.model.plan import Cart
from picklist.problems import Problem, Severity
from picklist.wording.quantities import first_listed

MOST_NAMED, LONGEST_NAMES = 12, 400  # sets, and characters of their names where there are more: what to do stands after


def remarks(cart: Cart) -> tuple[tuple[str, str], ...]:
    """What leaves the list standing, each under its name.

    Problems, what the sheets do not state, what was left off, and what is not approved.
    """
    notices = [(_name(one), f"{wording.capital(one.sentence())} ({one.where})") for one in cart.needs.notices]
    off = [("Left off:", text) for text in left_off(cart)]
    pending = [("Pending, not used:", f"{one.text} ({one.where})") for one in cart.needs.pending]
    open_points = [("Not stated:", text) for text in _not_stated(cart)]
    return (*notices, *open_points, *off, *pending)


def _not_stated(cart: Cart) -> Iterator[str]:
    """A sentence each for sets without an end of their record, and for lines that nobody says are approved."""
    sets = [line.set_id for line in cart.trays if line.end_not_recorded]
    if sets:
        named = wording.listed(sets) if len(sets) <= MOST_NAMED else first_listed(sets, LONGEST_NAMES)
        yield f"the last day of recorded sterility of {named}; check the package"
    lines = cart.needs.approval_not_stated
    if len(lines) == 1:
        yield f"whether a card line is approved ({lines[0]}); it counts as approved"
    elif lines:
        yield f"whether {len(lines)} card lines are approved (first {lines[0]}); they count as approved"


def _name(notice: Problem) -> str:
    return "Note:" if notice.severity is Severity.NOTICE else "To fix:"


def merged_from(cart: Cart) -> str:
    """The procedures of the case with the letters that stand for them below."""
    letters = _letters(cart)
    if not cart.needs.merges:
        return ""
    named = zip(cart.case.procedures, cart.procedure_names, strict=False)
    return "; ".join(f"{letters.get(one, one)}: {name}" for one, name in named)


def merged(found: Lookup, cart: Cart) -> tuple[str, ...]:
    """What more than one procedure asked for, and what came of it."""
    letters = _letters(cart)
    lines = []
    for merge in cart.needs.merges:
        asked = [f"{letters.get(one, one)} {wording.open_and_hold(opened, hold)}" for one, opened, hold in merge.asked]
        thing = found.tray_names.get(merge.thing) or found.item(merge.thing)
        lines.append(f"{thing}: {'; '.join(asked)}. Here {wording.open_and_hold(merge.open, merge.hold)}.")
    return tuple(lines)


def _letters(cart: Cart) -> dict[str, str]:
    """A letter for each procedure, its id where the alphabet ends."""
    return dict(zip(cart.case.procedures, ascii_uppercase, strict=False))


def left_off(cart: Cart) -> tuple[str, ...]:
    """Trays and packs that a card asked for and that are not here, and items that a card takes off.

    What only stands in for something, is in the pack already, or holds for other patients is left out:
    nobody looks for it on the cart.
    """
    return tuple(dict.fromkeys(_left_off(need) for need in cart.needs.dropped if _is_told(need)))


def _is_told(need: Need) -> bool:
    return need.kind is not ThingKind.ITEM or need.reasons[-1].kind is ReasonKind.REMOVED


def _left_off(need: Need) -> str:
    return f"{need.name} ({need.thing}) – {need.reasons[-1].text}"
