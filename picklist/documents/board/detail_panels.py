"""Panels of cases and trays: what one sees of each when it is asked for."""

from __future__ import annotations

from dataclasses import dataclass

from picklist import wording
from picklist.documents.board.deadline_strip import DeadlineStrip, deadline_strip
from picklist.documents.board.index import BoardIndex, Ref, case_href, tray_href
from picklist.documents.views.lookup import in_order_of_completion
from picklist.model.plan import Cart, TrayLine
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.uses import Assignment, Pace


@dataclass(frozen=True, slots=True, kw_only=True)
class CartTray:
    """A tray of a case: which set, from where, and to whom it must go on."""

    tray: Ref
    set_id: str
    where: str
    gives: str
    conflicts: tuple[tuple[str, Ref], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseLeaf:
    """A case of the day."""

    id: str
    number: str
    room: str
    times: str
    minutes: str
    complete_by: str
    state: str
    surgeon: str
    procedures: str
    side: str
    moves: str
    stopped: tuple[str, ...]
    waits: tuple[tuple[str, Ref], ...]
    gives: tuple[tuple[str, Ref], ...]
    trays: tuple[CartTray, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class UseRow:
    """A use of a tray on the day."""

    needed: str
    case: Ref
    room: str
    set_id: str
    spare: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayLeaf:
    """A tray: its sets, its uses of the day, its conflicts, and the days of the sets that no conflict shows."""

    id: str
    name: str
    tray: str
    sets: tuple[tuple[str, str], ...]
    kept: str
    conflicts: tuple[tuple[str, Ref], ...]
    uses: tuple[UseRow, ...]
    days: tuple[DeadlineStrip, ...]
    find: str


def case_leaves(index: BoardIndex) -> tuple[CaseLeaf, ...]:
    """The cases of the day, the first cart to complete first."""
    return tuple(_case(index, cart) for cart in in_order_of_completion(index.plan.carts))


def _case(index: BoardIndex, cart: Cart) -> CaseLeaf:
    found, case = index.found, cart.case
    gives = [one for one in index.gives.get(case.number, ()) if one.waiter != case.number]
    return CaseLeaf(
        id=case_href(case.number)[1:],
        number=case.number,
        room=case.room,
        times=f"{found.when(index.starts(cart))} to {found.when(index.ends(cart))}",
        minutes=wording.span(case.minutes),
        complete_by=found.when(cart.complete_by),
        state=index.state(case.number),
        surgeon=cart.surgeon_name,
        procedures=", ".join(wording.procedures_with_sides(cart)),
        side="" if case.sides else wording.small_side(cart.side),
        moves="" if case.may_move else "fixed time",
        stopped=tuple(problem.sentence() for problem in cart.stopped),
        waits=index.conflict_refs(one.id for one in index.waits.get(case.number, ())),
        gives=index.conflict_refs(one.id for one in gives),
        trays=tuple(_cart_tray(index, tray) for tray in cart.trays),
    )


def _cart_tray(index: BoardIndex, line: TrayLine) -> CartTray:
    when = index.found.when
    expected = wording.at_pace(when(line.expected), line.pace)
    where = f"expected {expected}" if line.expected and line.set_id else line.place_now
    if not line.set_id:
        where = "no set" + (f"; the first is ready {expected}" if line.expected else "")
    back = line.give_back
    gives = ""
    if back:
        spare = wording.at_pace(wording.to_spare(back.slack), back.pace)
        gives = f"for {back.for_case}: out of the room by {when(back.leave_room_by)}, {spare}"
    return CartTray(
        tray=index.tray_ref(line.need.thing),
        set_id=line.set_id,
        where=where,
        gives=gives,
        conflicts=index.conflict_refs(line.conflicts),
    )


def tray_leaves(index: BoardIndex) -> tuple[TrayLeaf, ...]:
    """The trays of the day and those in trouble, by name."""
    return tuple(_tray(index, tray) for tray in index.trays)


def _tray(index: BoardIndex, tray: str) -> TrayLeaf:
    sets = index.sets_of.get(tray, ())
    uses = [a for a in index.plan.assignments if tray in (a.use.tray, a.tray_given) and a.use.case in index.carts]
    kept = next((one.keep_ready for one in index.plan.trays if one.id == tray), 0)
    conflicts = [one for one in index.conflicts if one.tray == tray]
    told = {(one.set_id, one.waiter) for one in conflicts}
    reuses = [one for one in index.reuses_of_day() if one.tray == tray and one.waiter in index.carts]
    return TrayLeaf(
        id=tray_href(tray)[1:],
        name=index.found.tray(tray),
        tray=tray,
        sets=tuple((one, _state(index, index.sets[one])) for one in sets),
        kept=f"{wording.counted(kept, 'set')} kept ready for emergencies" if kept else "",
        conflicts=index.conflict_refs(one.id for one in conflicts),
        uses=tuple(_use(index, a) for a in sorted(uses, key=lambda a: (a.use.needed, a.use.key))),
        days=tuple(deadline_strip(index, one) for one in reuses if (one.set_id, one.waiter) not in told),
        find=" ".join([index.found.tray(tray), tray, *sets]),
    )


def _state(index: BoardIndex, one: InstrumentSet) -> str:
    parts = [one.state.value]
    if one.state is SetState.ON_SHELF and one.place:
        parts = [f"on shelf {one.place}"]
    if one.in_case:
        parts.append(f"in case {one.in_case}")
    if one.step:
        parts.append(one.step)
    if one.back_at:
        parts.append(f"back {index.found.when(one.back_at)}")
    if one.recorded_at and one.state is SetState.ON_SHELF:
        parts.append(f"recorded as sterile {index.found.when(one.recorded_at)}")
    return ", ".join([*parts, wording.small_side(one.side)]).removesuffix(", ")


def _use(index: BoardIndex, given: Assignment) -> UseRow:
    reuse = index.found.reuses.get((given.set_id, given.use.case))
    spare = index.found.spare(reuse) if reuse else "on the shelf"
    if reuse is None and given.slack is not None:
        spare = wording.to_spare(given.slack)
    short = wording.at_pace(f"{wording.span(given.late)} short", Pace.USUAL) if given.late else ""
    return UseRow(
        needed=index.found.when(given.use.needed),
        case=index.case_ref(given.use.case),
        room=index.found.room(given.use.case),
        set_id=given.set_id or "no set",
        spare=spare if given.set_id else short,
    )
