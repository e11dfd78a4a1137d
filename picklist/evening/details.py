"""What a cart's list says besides its pieces, and which changes of it make the list print again: stated only here.

A list is printed again when what goes on the cart changes (a set, a lot, a quantity, open or hold), and
when one of these things on it changes:

- case number, room, start, when the cart must be complete, surgeon, procedures, side, alerts, size, notes;
- that it is stopped; that a tray has no set or one that stands in; notes; what is short; what is checked
  in the room, brought as an implant or named for reference;
- what a thing is called, by which it is found, and the unit in which it is counted; that a tray is to be
  checked for latex or its side and was not, but not that it need not be checked any more;
- from which case a set comes and for which one it must be given back;
- a time by which a set must leave, when it is earlier than printed, or later by ``LATER`` minutes or more;
- when a set is expected from another case, by ``MOVED`` minutes or more;
- a kind of conflict that touches a tray now and did not, or not with these cases; but not that a tray is
  under the number kept ready, which asks nothing of who builds or uses the cart.

It stays, because a sheet that every build renews says it, when only these change: minutes to spare or
short, a conflict that is gone, chances, proofs, remedies and their order (conflict sheet); where a set
is and its steps (department sheet, changes); what may stand in for a shortage (shortages); planned
minutes of the case (board).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from picklist.clock import minutes_between
from picklist.model.conflicts import Conflict, ConflictKind
from picklist.model.needs import Need
from picklist.model.plan import Cart, Plan, SundryLine, TrayLine
from picklist.model.uses import Reuse
from picklist.wording.quantities import listed
from picklist.wording.set_states import LATEX_NOT_STATED, SIDE_NOT_STATED

NAME, UNIT, TO_CHECK = "name", "unit", "to be checked"
DetailValue = str | int | datetime | tuple[str, ...] | None
Details = dict[tuple[str, str], DetailValue]


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """One thing that a list says otherwise: ``what`` in words, ``of`` which line, before and now."""

    what: str
    of: str
    was: DetailValue
    now: DetailValue


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What a plan says beside its carts: conflicts by id, reuses by set and waiting case, the day's cases."""

    conflicts: Mapping[str, Conflict]
    reuses: Mapping[tuple[str, str], Reuse]
    cases: frozenset[str]

    @classmethod
    def of(cls, plan: Plan) -> Context:
        """The context of a plan's carts."""
        return cls(
            conflicts={one.id: one for one in plan.conflicts},
            reuses={(reuse.set_id, reuse.waiter): reuse for reuse in plan.reuses},
            cases=frozenset(cart.case.number for cart in plan.carts),
        )


def cart_details(cart: Cart, context: Context) -> Details:
    """What the list says besides its pieces; keyed by words and the line it stands at (see ``must_reprint``)."""
    case = cart.case
    found: Details = {
        ("room", ""): case.room,
        ("start", ""): case.start,
        ("cart complete by", ""): cart.complete_by,
        ("surgeon", ""): cart.surgeon_name,
        ("procedures", ""): cart.procedure_names,
        ("side", ""): "; ".join(case.sides or ((cart.side,) if cart.side else ())),
        ("alerts", ""): tuple(sorted(case.alerts)),
        ("patient size", ""): case.patient_size,
        ("notes", ""): case.notes,
        ("list stopped", ""): tuple(p.sentence() for p in cart.stopped),
    }
    for tray in cart.trays:
        found |= _tray_details(tray, case.number, context)
    for line in cart.goods:
        found |= _short_details(line)
    for words, needs in (
        ("check in the room", cart.room_checks),
        ("implant", cart.implants),
        ("for reference", cart.reference_only),
    ):
        found |= {(words, _line_name(need)): f"{need.open}/{need.hold} {need.note}".strip() for need in needs}
        found |= {(NAME, _line_name(need)): need.name for need in needs}
    return {key: value for key, value in found.items() if value not in ("", (), None)}


def _line_name(need: Need) -> str:
    side = need.side.value if need.side else ""
    return " ".join(part for part in (need.thing, need.size, side, need.person) if part)


def _tray_details(line: TrayLine, case: str, context: Context) -> Details:
    name = f"{line.need.thing} {line.copy}"
    found: Details = {("stands in for", name): line.stand_in_for, ("note", name): line.need.note}
    found[NAME, name] = line.need.name  # of a stand-in its set and "stands in for" tell
    found[TO_CHECK, name] = tuple(text for text in line.not_stated if text in (LATEX_NOT_STATED, SIDE_NOT_STATED))
    if not line.set_id:
        found["no set for", name] = line.name
    if line.give_back:
        found["must leave the room by", name] = line.give_back.leave_room_by
        found["must reach decontamination by", name] = line.give_back.reach_decontamination_by
        found["given back for", name] = line.give_back.for_case
    found["awaited by", name] = line.awaited_by
    reuse = context.reuses.get((line.set_id, case))
    if reuse and reuse.giver:
        found["comes from", name] = reuse.giver
        if reuse.giver in context.cases:  # a case of today that still runs moves with the clock
            # At usual pace: the department's queue moves with every other set, and is not worth new paper.
            found["expected from there", name] = reuse.ready
    own = (context.conflicts[one] for one in line.conflicts if one in context.conflicts)
    found["conflict", name] = tuple(sorted({_conflict_words(one) for one in own if one.waiter == case}))
    return found


def _conflict_words(one: Conflict) -> str:
    """A conflict by its kind and the cases in it: how many minutes it is about is on the conflict sheet."""
    return f"{one.kind.value}, after {listed(one.givers)}" if one.givers else one.kind.value


def _short_details(line: SundryLine) -> Details:
    of = _line_name(line.need)
    found: Details = {("note", of): line.need.note, (NAME, of): line.need.name, (UNIT, of): line.unit}
    if line.is_short:
        found["short", of] = f"{line.short_open}/{line.short_hold}"
    return found


def compare_details(was: Details, now: Details) -> tuple[Detail, ...]:
    """What is said otherwise, in the order of the new list and then what it no longer says.

    The name and the unit of a thing that comes or goes are no news of their own.
    """
    keys = [*now, *(key for key in was if key not in now)]
    keys = [key for key in keys if key[0] not in (NAME, UNIT) or (key in was and key in now)]
    return tuple(
        Detail(what=what, of=of, was=was.get((what, of)), now=now.get((what, of)))
        for what, of in keys
        if was.get((what, of)) != now.get((what, of))
    )


LATER = 30  # minutes; until then the paper asks for nothing wrong, only for more haste than is needed
MOVED = 15  # minutes
GIVE_BACK_TIMES = frozenset({"must leave the room by", "must reach decontamination by"})
EXPECTED = "expected from there"
NEAR = 120  # minutes before the cart must be complete; a set still on its way then is worth a word


def must_reprint(details: Iterable[Detail]) -> bool:
    """Whether a list must be printed again because these things on it changed."""
    return any(_counts(detail) for detail in details)


def _counts(detail: Detail) -> bool:
    if detail.what == "conflict":
        return any(not text.startswith(ConflictKind.RESERVE) for text in _texts(detail.now) - _texts(detail.was))
    if detail.what == TO_CHECK:
        return bool(_texts(detail.now) - _texts(detail.was))
    if not (isinstance(detail.was, datetime) and isinstance(detail.now, datetime)):
        return True
    later = minutes_between(detail.was, detail.now)
    if detail.what in GIVE_BACK_TIMES:
        return later < 0 or later >= LATER
    if detail.what == EXPECTED:
        return abs(later) >= MOVED
    return True


def news_of_sets(was: Cart, now: Cart) -> tuple[Detail, ...]:
    """Sets of a list that stays which are elsewhere now, or are expected later and near to when they are needed.

    A set's progress through the department is not worth new paper; that another case gives it back at another time
    is (see ``cart_details``). Its expected time moves on while nobody records its next step: for hours that is no news.
    """
    before = {line.set_id: line for line in was.trays if line.set_id}
    news = []
    for line, old in ((line, before[line.set_id]) for line in now.trays if line.set_id in before):
        moved = old.place_now != line.place_now
        if moved:
            news.append(Detail(what="is now", of=line.set_id, was=old.place_now, now=line.place_now))
        near = line.expected is not None and minutes_between(line.expected, line.needed) < NEAR
        if old.expected != line.expected and (moved or near):
            news.append(Detail(what="expected", of=line.set_id, was=old.expected, now=line.expected))
    return tuple(news)


def _texts(value: DetailValue) -> set[str]:
    return set(value) if isinstance(value, tuple) else set()
