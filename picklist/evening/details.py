"""What a cart's list says besides its pieces: hours, alerts, deadlines, shortages, conflicts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from picklist.model.conflicts import Conflict
from picklist.model.needs import Need
from picklist.model.plan import Cart, Plan, SundryLine, TrayLine
from picklist.model.uses import Reuse

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
    """What the list says besides its pieces; keyed by words and the line it stands at (see ``renewal``)."""
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
    return {key: value for key, value in found.items() if value not in ("", (), None)}


def _line_name(need: Need) -> str:
    side = need.side.value if need.side else ""
    return " ".join(part for part in (need.thing, need.size, side, need.person) if part)


def _tray_details(line: TrayLine, case: str, context: Context) -> Details:
    name = f"{line.need.thing} {line.copy}"
    found: Details = {("stands in for", name): line.stand_in_for, ("note", name): line.need.note}
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
    """A conflict by its kind and the cases in it: how many minutes it is about stands on the conflict sheet."""
    return f"{one.kind.value}, after {' and '.join(one.givers)}" if one.givers else one.kind.value


def _short_details(line: SundryLine) -> Details:
    found: Details = {("note", _line_name(line.need)): line.need.note}
    if line.is_short:
        found["short", _line_name(line.need)] = f"{line.short_open}/{line.short_hold}"
    return found


def cart_whereabouts(cart: Cart) -> Details:
    """Where each set is now and when it is expected; its change alone prints no cart again.

    A set's progress through the department is not worth new paper; that another case gives it
    back at another time is (see ``cart_details``).
    """
    found: Details = {}
    for line in cart.trays:
        if line.set_id:
            found["is now", line.set_id] = line.place_now
            found["expected", line.set_id] = line.expected
    return found


def compare_details(was: Details, now: Details) -> tuple[Detail, ...]:
    """What is said otherwise, in the order of the new list and then what it no longer says."""
    keys = [*now, *(key for key in was if key not in now)]
    return tuple(
        Detail(what=what, of=of, was=was.get((what, of)), now=now.get((what, of)))
        for what, of in keys
        if was.get((what, of)) != now.get((what, of))
    )
