"""Make one cart for each case from what the engines found, line by line."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from picklist.clock import shift
from picklist.model.cards import ThingKind
from picklist.model.catalogue import ItemClass, Tray
from picklist.model.conflicts import Conflict
from picklist.model.department import SetRun, headline
from picklist.model.needs import CaseNeeds, Need
from picklist.model.plan import Cart, GiveBack, SundryLine, TrayLine
from picklist.model.schedule import Case
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site
from picklist.model.supply import ItemShortage, Pick
from picklist.model.uses import Act, Assignment, Pace, Reuse
from picklist.problems import Problem, Severity
from picklist.sets.copies import WantedCopy, copies_in_hand, sets_in_use, wanted_copies
from picklist.wording.set_states import (
    IMPLANTS_NOT_STATED,
    LATEX_NOT_STATED,
    SIDE_NOT_STATED,
    look_at,
    look_for,
    place_now,
)

PEOPLE = frozenset({ItemClass.OUTER_GLOVE, ItemClass.UNDER_GLOVE, ItemClass.GOWN})
ROOM = frozenset({ItemClass.EQUIPMENT, ItemClass.POSITIONING})
REFERENCE = frozenset({ItemClass.MEDICINE, ItemClass.SOLUTION})


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineResults:
    """What the engines found for the horizon: needs, picks, shortages, assignments, reuses and conflicts.

    ``runs``: the department's runs by set and waiting case, none where it was not run. ``on_carts``: the case on
    whose cart a set stands.
    """

    needs: Sequence[CaseNeeds]
    picks: Sequence[Pick]
    shortages: Sequence[ItemShortage]
    assignments: Sequence[Assignment]
    reuses: Sequence[Reuse]
    conflicts: Sequence[Conflict]
    runs: Mapping[tuple[str, str], SetRun] = field(default_factory=dict)
    on_carts: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """A tray on a case's list: the copy that is wanted, and the set and its tray that are given."""

    case: str
    copy: WantedCopy
    set_id: str
    tray: str

    def is_touched_by(self, conflict: Conflict) -> bool:
        """Whether this line lacks or risks what a conflict is about; what others want of its set is not its trouble."""
        return conflict.waiter == self.case and conflict.wanted == self.copy.key

    def is_awaited_in(self, conflict: Conflict) -> bool:
        """Whether another case goes without and waits for just the set that this line has."""
        one = conflict.awaited
        return one is not None and conflict.waiter != self.case and (one.set_id, one.case) == (self.set_id, self.case)


class CartMaker:
    """Makes carts from the engines' results, which are indexed once."""

    def __init__(
        self, site: Site, given: EngineResults, problems: Iterable[Problem], complete_by: Mapping[str, datetime]
    ):
        self.site = site
        self.complete_by = complete_by
        self.in_use = sets_in_use(site)
        self.running = {case.number for case in site.cases if case.is_running}
        self.needs = {one.case: one for one in given.needs}
        self.assigned = {(a.use.case, a.use.tray, a.use.copy): a for a in given.assignments}
        self.giving = {(r.giver, r.set_id): r for r in given.reuses if r.giver}
        self.ready = {(r.set_id, r.waiter): headline(r, given.runs.get((r.set_id, r.waiter))) for r in given.reuses}
        self.picks: dict[tuple[str, str, str], list[Pick]] = defaultdict(list)
        self.on_carts = given.on_carts
        for pick in given.picks:
            self.picks[pick.case, pick.item, pick.person].append(pick)
        self.stand_ins = {s.item: s.stand_ins for s in given.shortages}
        self.conflicts: dict[str, list[Conflict]] = defaultdict(list)
        for conflict in given.conflicts:
            for number in set(conflict.cases):
                self.conflicts[number].append(conflict)
        self.stopping: dict[str, list[Problem]] = defaultdict(list)
        for problem in problems:
            for number in problem.cases if problem.severity is Severity.STOPS_CASE else ():
                self.stopping[number].append(problem)

    def make(self, case: Case) -> Cart:
        """The cart of a case; for a stopped case only the reasons."""
        needs = self.needs.get(case.number, CaseNeeds(case=case.number))
        stopped = tuple(dict.fromkeys((*self.stopping[case.number], *needs.stopped)))
        shown = () if stopped else needs.needs
        surgeon = self.site.staff.get(case.surgeon)
        return Cart(
            case=case,
            surgeon_name=surgeon.name if surgeon else case.surgeon,
            procedure_names=tuple(self._procedure_name(p) for p in case.procedures),
            side=case.side,
            complete_by=self.complete_by[case.number],
            needs=needs,
            trays=tuple(self._tray_lines(case, shown)),
            packs=tuple(self._sundry(n) for n in shown if n.kind is ThingKind.PACK),
            sundries=self._sundries(shown, frozenset({ItemClass.SUPPLY})),
            peel_packs=self._sundries(shown, frozenset({ItemClass.PEEL_PACK})),
            people=self._sundries(shown, PEOPLE),
            room_checks=_of_class(shown, ROOM),
            implants=_of_class(shown, frozenset({ItemClass.IMPLANT})),
            reference_only=_of_class(shown, REFERENCE),
            stopped=stopped,
        )

    def _procedure_name(self, procedure: str) -> str:
        known = self.site.procedures.get(procedure)
        return known.name if known else procedure

    def _sundries(self, needs: Sequence[Need], classes: frozenset[ItemClass]) -> tuple[SundryLine, ...]:
        return tuple(self._sundry(need) for need in _of_class(needs, classes))

    def _sundry(self, need: Need) -> SundryLine:
        picks = tuple(self.picks.get((need.case, need.thing, need.person), ()))
        item = self.site.items.get(need.thing)
        lacks = need.case not in self.running  # a running case has its things already, whatever is known of them
        short_open = need.open - sum(p.open for p in picks) if lacks else 0
        short_hold = need.hold - sum(p.hold for p in picks) if lacks else 0
        return SundryLine(
            need=need,
            unit=item.unit if item else "each",
            picks=picks,
            short_open=short_open,
            short_hold=short_hold,
            stand_ins=self.stand_ins.get(need.thing, ()) if short_open or short_hold else (),
        )

    def _place(self, case: str, one: InstrumentSet) -> str:
        """Where a set is now, for the list of a case; a built cart of another case may have it."""
        holder = self.on_carts.get(one.id, case)
        elsewhere = holder != case and holder not in self.running
        return place_now(replace(one, off_cart_of=holder) if elsewhere else one)

    def _tray_lines(self, case: Case, shown: Sequence[Need]) -> Iterable[TrayLine]:
        """The lines of each need together, in the order of the needs."""
        copies = wanted_copies(shown)
        in_hand = copies_in_hand(self.site, case, copies, self.in_use.get(case.number, ()))
        place = {id(need): number for number, need in enumerate(shown)}
        for copy in sorted(copies, key=lambda one: (place[id(one.need)], one.copy)):
            yield self._tray_line(case, copy, in_hand.get(copy.key))

    def _tray_line(self, case: Case, copy: WantedCopy, in_hand: InstrumentSet | None) -> TrayLine:
        need = copy.need
        assignment = self.assigned.get((case.number, *copy.key))
        set_id = assignment.set_id if assignment else in_hand.id if in_hand else ""
        physical = self.site.sets.get(set_id)  # none of a set that is to be brought
        given = assignment.tray_given if assignment else physical.tray if physical else ""
        tray = self.site.trays[given or need.thing]
        line = _Line(case=case.number, copy=copy, set_id=set_id, tray=tray.id)
        expected, pace = self._expected(case.number, assignment)
        return TrayLine(
            need=need,
            copy=copy.copy,
            name=tray.name,
            container=tray.container,
            count_sheet=tray.count_sheet,
            weight_lb=tray.weight_lb,
            set_id=set_id,
            stand_in_for=need.name if tray.id != need.thing else "",
            place_now=self._place(case.number, physical) if physical else "",
            recorded=physical.recorded_at if physical else None,
            expected=expected,
            needed=assignment.use.needed if assignment else self.complete_by[case.number],
            give_back=self._give_back(case.number, set_id),
            conflicts=tuple(one.id for one in self.conflicts[case.number] if line.is_touched_by(one)),
            on_hold=copy.on_hold,
            in_hand=in_hand is not None,
            not_stated=what_is_not_stated(self.site, case, tray, physical),
            end_not_recorded=_lacks_end(physical, assignment),
            pace=pace,
            awaited_by=tuple(one.waiter for one in self.conflicts[case.number] if line.is_awaited_in(one)),
        )

    def _expected(self, case: str, given: Assignment | None) -> tuple[datetime | None, Pace | None]:
        """When a line's set is there, and at which pace; of a line without a set the one that comes free first."""
        if given is None or given.expected is None:
            return None, None
        ready = self.ready.get((given.set_id, case))
        if ready is not None:
            return ready.at, ready.pace
        return given.expected, None if given.set_id else Pace.USUAL

    def _give_back(self, case: str, set_id: str) -> GiveBack | None:
        reuse = self.giving.get((case, set_id))
        if reuse is None:
            return None
        ready = self.ready[set_id, reuse.waiter]
        into, out = reuse.deadline_of(Act.INTO_DECONTAMINATION), reuse.deadline_of(Act.OUT_OF_ROOM)
        received = into.latest if into else shift(reuse.released, reuse.slack)
        return GiveBack(
            leave_room_by=out.latest if out else received,
            reach_decontamination_by=received,
            for_case=reuse.waiter,
            slack=ready.slack,
            pace=ready.pace,
        )


def _of_class(needs: Sequence[Need], classes: frozenset[ItemClass]) -> tuple[Need, ...]:
    return tuple(n for n in needs if n.kind is ThingKind.ITEM and n.item_class in classes)


def _lacks_end(physical: InstrumentSet | None, assignment: Assignment | None) -> bool:
    """Whether a set goes from its shelf to the case as it is, and its row leaves the end of its record open."""
    if physical is None or assignment is None or assignment.expected is not None:
        return False
    return physical.state is SetState.ON_SHELF and not physical.end_recorded


def what_is_not_stated(site: Site, case: Case, tray: Tray, given: InstrumentSet | None) -> tuple[str, ...]:
    """What the sheets do not state about a case's tray or, where it has no set, about its sets."""
    return tuple(_not_stated(site, case, tray, given))


def _not_stated(site: Site, case: Case, tray: Tray, given: InstrumentSet | None) -> Iterator[str]:
    route = site.routes.get(tray.route)
    if tray.implants is None and site.settings.implants_wait and route is not None and route.waits_for_implants:
        yield IMPLANTS_NOT_STATED
    if tray.sided is None and case.sided_as is not None:
        yield SIDE_NOT_STATED
    if tray.latex is None and case.latex_alert:
        yield LATEX_NOT_STATED
    if given is not None:
        return
    sets = [one for one in site.sets.values() if one.tray == tray.id]
    unknown = [one.id for one in sets if one.state is SetState.UNKNOWN]
    if unknown:
        yield look_for(unknown)
    no_side = [one.id for one in sets if tray.sided and one.side is None and one.state is not SetState.UNKNOWN]
    if no_side:
        yield look_at(no_side)
