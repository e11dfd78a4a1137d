"""Panels of cases and trays: what one sees of each when it is asked for."""

from __future__ import annotations

from dataclasses import replace

from picklist import wording
from picklist.documents.board.deadline_strip import DeadlineStrip
from picklist.documents.board.index import BoardIndex, case_href, tray_href
from picklist.documents.views.finished_words import View
from picklist.model.plan import Cart, TrayLine, in_order_of_completion
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.uses import Assignment, Pace
from picklist.wording.set_states import until_here


class CartTray(View):
    """A tray of a case as its list names it: which set, from where, and to whom it must go on."""

    def __init__(self, index: BoardIndex, line: TrayLine) -> None:
        when = index.found.when
        expected = wording.at_pace(when(line.expected), line.pace)
        self.tray = replace(index.tray_ref(line.need.thing), text=line.name_with_side)
        self.set_id = line.set_id
        self.where = f"expected {expected}" if line.expected else line.place_now
        if not line.set_id:
            self.where = "no set" + (f"; the first is ready {expected}" if line.expected else "")
        if line.stand_in_for:
            self.where += f"; stands in for {line.stand_in_for}"
        self.gives = ""
        if back := line.give_back:
            spare = wording.at_pace(wording.to_spare(back.slack), back.pace)
            self.gives = f"for {back.for_case}: out of the room by {when(back.leave_room_by)}, {spare}"
        self.conflicts = index.conflict_refs(line.conflicts)


class CaseLeaf(View):
    """A case of the day."""

    def __init__(self, index: BoardIndex, cart: Cart) -> None:
        found, case = index.found, cart.case
        gives = [one for one in index.gives.get(case.number, ()) if one.waiter != case.number]
        self.id = case_href(case.number)[1:]
        self.number = case.number
        self.room = case.room
        self.times = f"{found.when(index.starts(cart))} to {found.when(index.ends(cart))}"
        self.minutes = wording.span(case.minutes)
        self.complete_by = found.when(cart.complete_by)
        self.state = index.state(case.number)
        self.surgeon = cart.surgeon_name
        self.procedures = ", ".join(wording.procedures_with_sides(cart))
        self.side = "" if case.sides else wording.small_side(cart.side)
        self.moves = "" if case.may_move else "fixed time"
        self.stopped = tuple(problem.sentence() for problem in cart.stopped)
        self.waits = index.conflict_refs(one.id for one in index.waits.get(case.number, ()))
        self.gives = index.conflict_refs(one.id for one in gives)
        self.trays = tuple(CartTray(index, tray) for tray in cart.trays)


class UseRow(View):
    """A use of a tray on the day."""

    def __init__(self, index: BoardIndex, given: Assignment) -> None:
        reuse = index.found.reuses.get((given.set_id, given.use.case))
        self.needed = index.found.when(given.use.needed)
        self.case = index.case_ref(given.use.case)
        self.room = index.found.room(given.use.case)
        self.set_id = given.set_id or "no set"
        self.spare = index.found.spare(reuse) if reuse else "on the shelf"
        if not given.set_id:
            self.spare = wording.at_pace(f"{wording.span(given.late)} short", Pace.USUAL) if given.late else ""
        elif reuse is None and given.slack is not None:
            self.spare = wording.to_spare(given.slack)


class TrayLeaf(View):
    """A tray: its sets, its uses of the day, its conflicts, and the days of the sets that no conflict shows."""

    def __init__(self, index: BoardIndex, tray: str) -> None:
        sets = index.sets_of.get(tray, ())
        uses = [a for a in index.plan.assignments if tray in (a.use.tray, a.tray_given) and a.use.case in index.carts]
        kept = next((one.keep_ready for one in index.plan.trays if one.id == tray), 0)
        conflicts = [one for one in index.conflicts if one.tray == tray]
        told = {(one.set_id, one.waiter) for one in conflicts}
        reuses = [one for one in index.reuses_of_day() if one.tray == tray and one.waiter in index.carts]
        self.id = tray_href(tray)[1:]
        self.name = index.found.tray(tray)
        self.tray = tray
        self.sets = tuple((one, _state(index, index.sets[one])) for one in sets)
        self.kept = f"{wording.counted(kept, 'set')} kept ready for emergencies" if kept else ""
        self.conflicts = index.conflict_refs(one.id for one in conflicts)
        self.uses = tuple(UseRow(index, a) for a in sorted(uses, key=lambda a: (a.use.needed, a.use.key)))
        self.days = tuple(DeadlineStrip(index, one) for one in reuses if (one.set_id, one.waiter) not in told)
        self.find = " ".join([index.found.tray(tray), tray, *sets])


def case_leaves(index: BoardIndex) -> tuple[CaseLeaf, ...]:
    """The cases of the day, the first cart to complete first."""
    return tuple(CaseLeaf(index, cart) for cart in in_order_of_completion(index.plan.carts))


def tray_leaves(index: BoardIndex) -> tuple[TrayLeaf, ...]:
    """The trays of the day and those in trouble, by name."""
    return tuple(TrayLeaf(index, tray) for tray in index.trays)


def _state(index: BoardIndex, one: InstrumentSet) -> str:
    parts = [one.state.value]
    if one.state is SetState.ON_SHELF and one.place:
        parts = [f"on the shelf {one.place}"]
    if one.in_case:
        parts.append(f"in case {one.in_case}")
    if one.step:
        parts.append(one.step)
    if one.back_at:
        parts = [until_here(one, index.found.when(one.back_at))]
    if one.recorded_at and one.state is SetState.ON_SHELF:
        parts.append(f"recorded as sterile {index.found.when(one.recorded_at)}")
    return ", ".join([*parts, wording.small_side(one.side)]).removesuffix(", ")
