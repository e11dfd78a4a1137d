"""What the operations did to stock and sets, as changes to the rows of the site's tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from picklist.evening.after_lots import lot_changes
from picklist.evening.content import Content, as_built, missing_sets, true_facts
from picklist.evening.table_changes import CountedBefore, CountedSet, DayChanges, DayFacts, RowChange, RowCounts
from picklist.evening.usage import UsageLine
from picklist.model.cards import ThingKind
from picklist.model.known import TableChange, Value
from picklist.model.plan import Plan
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site
from picklist.problems import Problem, notice, to_fix
from picklist.sets.states import home_of
from picklist.sets.turnaround import Turnaround


def after_day(site: Site, plan: Plan, facts: DayFacts, counted: CountedBefore, now: datetime) -> DayChanges:
    """The rows of Lots and Sets as they shall be after the day's operations.

    A lot loses what was on built carts and did not come back unopened; a count that the crew
    made takes the place of the table's number for what was there before. A set that was opened
    is dirty since it reached decontamination; one that came back unopened is on the shelf.
    What was ``counted`` before is not counted again, only what a late or corrected form adds to
    it. Carts whose usage nobody reported change nothing and are named. The table must not have been
    counted anew since the carts were built.
    """
    carts, facts = _carts(facts), _of_sets_taken(facts)
    told = {line.case for line in facts.usage}
    ends = {case.number: case.start + timedelta(minutes=case.minutes) for case in plan.cases}
    lots, problems = lot_changes(
        site, {case: content for case, content in carts.items() if case in told}, facts, counted, ends
    )
    sets, more = set_changes(site, _as_taken(site, plan, facts), facts, counted, now)
    return DayChanges(
        rows=(*lots, *sets),
        untold=tuple(sorted(carts.keys() - told)),
        unbuilt=tuple(sorted({u.case for u in facts.usage if u.kind is not ThingKind.TRAY} - carts.keys())),
        counted_before=_counted_before(told, counted, (*lots, *sets)),
        problems=(*problems, *more),
    )


def _carts(facts: DayFacts) -> dict[str, Content]:
    """What was on each built cart."""
    return {
        case: as_built(held.content, true_facts(one, held.revision), held.short)
        for case, one in sorted(facts.built.items())
        if one.done and (held := facts.in_hand.get(case))
    }


def _of_sets_taken(facts: DayFacts) -> DayFacts:
    """What was used, of the sets that were on the carts: a form from before the report names the planned ones."""
    return replace(facts, usage=tuple(replace(line, set_id=_set_taken(line, facts)) for line in facts.usage))


def _set_taken(line: UsageLine, facts: DayFacts) -> str:
    taken = _taken_for(line.case, facts)
    if line.kind is not ThingKind.TRAY or line.set_id in taken.values():
        return line.set_id
    listed = {(piece.wanted, piece.copy): piece.set_id for piece in facts.in_hand[line.case].content} if taken else {}
    found = (one for key, one in taken.items() if key[0] == line.thing and listed.get(key, "") == line.set_id)
    return next(found, line.set_id)


def _taken_for(case: str, facts: DayFacts) -> dict[tuple[str, int], str]:
    """The sets that the crew reported on the cart of a case, by tray and copy."""
    one, held = facts.built.get(case), facts.in_hand.get(case)
    return true_facts(one, held.revision).taken if one and held else {}


def _as_taken(site: Site, plan: Plan, facts: DayFacts) -> Plan:
    """The plan with the sets that were on the carts."""
    given = []
    for one in plan.assignments:
        set_id = _taken_for(one.use.case, facts).get((one.use.tray, one.use.copy), one.set_id)
        other = site.sets.get(set_id) if set_id != one.set_id else None
        given.append(replace(one, set_id=set_id, tray_given=other.tray) if other else one)
    return replace(plan, assignments=tuple(given))


def _counted_before(told: set[str], counted: CountedBefore, rows: tuple[RowChange, ...]) -> tuple[str, ...]:
    """Cases with reported usage of which something was counted before and nothing is new."""
    known = {one.cart for one in counted.items} | {one.cart for one in counted.sets}
    new = {one.cart for row in rows for one in row.counts.items} | {one.cart for row in rows for one in row.counts.sets}
    return tuple(sorted(case for case in told if counted.cart(case) in known - new))


def set_changes(
    site: Site, plan: Plan, facts: DayFacts, counted: CountedBefore, now: datetime
) -> tuple[tuple[RowChange, ...], tuple[Problem, ...]]:
    """The rows of the sets of which was told what became of them, each by its last case, where that is not counted yet.

    One that was reported missing from the cart was not there, and one that is in use or being made ready by its
    row comes back unopened only from a cart on which it was reported: its row stays as it is, which is said.
    """
    turnaround, received = Turnaround(site), {}
    for one in plan.assignments:
        if one.set_id in site.sets:
            home = home_of(turnaround, site.sets[one.set_id])
            received[one.use.case, one.set_id] = turnaround.received(one.use, one.tray_given, home)
    starts = {case.number: case.start for case in plan.cases}
    told: dict[str, list[UsageLine]] = {}
    problems: list[Problem] = []
    for line in sorted(facts.usage, key=lambda u: (starts.get(u.case, now), u.case)):
        if line.kind is not ThingKind.TRAY:
            continue
        if line.set_id not in site.sets:
            problems.append(_unknown_set(line))
        elif line.set_id in _missing_sets(line.case, facts):
            problems.append(_not_there(line, "was reported missing from the cart"))
        elif not line.opened and _is_elsewhere(site.sets[line.set_id], line.case, facts, counted):
            problems.append(
                _not_there(line, f"is recorded as {site.sets[line.set_id].state} when it should be on the cart")
            )
        else:
            told.setdefault(line.set_id, []).append(line)
    changes = []
    for set_id, lines in sorted(told.items()):
        since = {line.case: min(now, received.get((line.case, set_id), now)) for line in lines}
        change = _Set(site=site, one=site.sets[set_id], counted=counted).change(lines, since, problems)
        if change:
            changes.append(change)
    return tuple(changes), tuple(problems)


def _missing_sets(case: str, facts: DayFacts) -> frozenset[str]:
    """The sets of the list of a case that the crew reported missing."""
    one, held = facts.built.get(case), facts.in_hand.get(case)
    return missing_sets(held.content, one) if one and held else frozenset()


def _is_elsewhere(one: InstrumentSet, case: str, facts: DayFacts, counted: CountedBefore) -> bool:
    """Whether a set is in process by its row, which says nothing of the case, and nobody reported it on the cart."""
    known = any((before.cart, before.set_id) == (counted.cart(case), one.id) for before in counted.sets)
    return one.is_in_process and not known and one.in_case != case and one.id not in _taken_for(case, facts).values()


def _not_there(line: UsageLine, why: str) -> Problem:
    return to_fix(
        "set not on the cart",
        line.where,
        f"{line.set_id} {why} of {line.case}; what the form says of it was left out, and its row stays as it is",
        value=line.set_id,
        expected="the set that was on the cart; if it was this one, correct the cart's report or the set's row",
        cases=(line.case,),
    )


def _unknown_set(line: UsageLine) -> Problem:
    message = (
        f"it was not reported which set of {line.thing} case {line.case} had"
        if not line.set_id
        else f"no set is called {line.set_id}"
    )
    return to_fix(
        "unknown set",
        line.where,
        message,
        value=line.set_id,
        expected="the id of the set that was on the cart",
        cases=(line.case,),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Set:
    """One set, its row as it is, and what was counted of it."""

    site: Site
    one: InstrumentSet
    counted: CountedBefore

    def change(
        self, lines: Sequence[UsageLine], since: dict[str, datetime], problems: list[Problem]
    ) -> RowChange | None:
        """What its row shall say after the last of a day's cases; None when all of them were counted before."""
        known = {one.cart: one for one in self.counted.sets if one.set_id == self.one.id}
        told = [self._told(line, since[line.case], known) for line in lines]
        fresh = [one for one in told if one.cart not in known or known[one.cart].opened != one.opened]
        if not fresh:
            return None
        last, day = told[-1], {one.cart for one in told}
        if any(one.since > last.since for one in known.values() if one.cart not in day):
            return RowChange(where=self.one.where, changes=(), counts=RowCounts(sets=tuple(fresh)))
        written = next((one for one in told if one.written), None)
        stands = written is not None and self._says(known[written.cart])
        if self._moved_on(last, written, stands):
            if last in fresh:
                problems.append(self._not_again(lines[-1]))
            return RowChange(where=self.one.where, changes=(), counts=RowCounts(sets=tuple(fresh)))
        base = known[written.cart] if written and stands else self._as_recorded(last)
        return self._written(told, fresh, base, lines[-1])

    def _told(self, line: UsageLine, since: datetime, known: dict[str, CountedSet]) -> CountedSet:
        cart = self.counted.cart(line.case)
        fresh = CountedSet(cart=cart, set_id=self.one.id, opened=line.opened > 0, since=since, written=False)
        return replace(known[cart], opened=fresh.opened) if cart in known else fresh

    def _says(self, before: CountedSet) -> bool:
        """Whether the row still says what was written of a case."""
        wanted = self._cells(before, before)
        return all(self._now(column) == wanted[column] for column in ("state", "step", "step since"))

    def _moved_on(self, last: CountedSet, written: CountedSet | None, stands: bool) -> bool:
        """Whether the row is about something that came after the last case."""
        if written and (written.cart == last.cart or stands):
            return not stands
        minute = last.since.replace(second=0, microsecond=0)
        return any(at is not None and at > minute for at in (self.one.step_since, self.one.recorded_at))

    def _not_again(self, line: UsageLine) -> Problem:
        message = f"{self.one.id} was changed since case {line.case}; its row stays as it is"
        return notice("set moved on", self.one.where, message, value=self.one.id, cases=(line.case,))

    def _as_recorded(self, last: CountedSet) -> CountedSet:
        """A case of the set with what its row says of the last sterilization now."""
        clock = self.site.settings.site_clock
        until = clock.last_day(self.one.recorded_until) if self.one.recorded_until else None
        return replace(last, recorded_at=self._wall(self.one.recorded_at), recorded_until=until)

    def _written(
        self, told: Sequence[CountedSet], fresh: Sequence[CountedSet], base: CountedSet, line: UsageLine
    ) -> RowChange:
        recorded = replace(told[-1], recorded_at=base.recorded_at, recorded_until=base.recorded_until, written=True)
        was_opened = any(one.opened for one in told)
        why = f"opened in case {line.case}"
        if not recorded.opened:
            why = f"came back unopened from case {line.case}; check its package before it goes on the shelf"
        cells = self._cells(recorded, replace(base, recorded_at=None, recorded_until=None) if was_opened else base)
        changes = tuple(
            TableChange(table="Sets", key=(self.one.id,), column=column, was=was, becomes=value, why=why)
            for column, value in cells.items()
            if (was := self._now(column)) != value
        )
        others = [replace(one, written=False) for one in told[:-1] if one.written or one in fresh]
        return RowChange(where=self.one.where, changes=changes, counts=RowCounts(sets=(*others, recorded)))

    def _cells(self, told: CountedSet, before: CountedSet) -> dict[str, Value]:
        """What the row says after a case; ``before`` has its last sterilization."""
        return {
            "state": (SetState.DIRTY if told.opened else SetState.ON_SHELF).value,
            "step": "",
            "step since": self._wall(told.since.replace(second=0, microsecond=0) if told.opened else None),
            "in case": "",
            "recorded sterile at": None if told.opened else before.recorded_at,
            "recorded sterile until": None if told.opened else before.recorded_until,
        }

    def _now(self, column: str) -> Value:
        """What the table says of the set."""
        one, clock = self.one, self.site.settings.site_clock
        return {
            "state": one.state.value,
            "step": one.step,
            "step since": self._wall(one.step_since),
            "in case": one.in_case,
            "recorded sterile at": self._wall(one.recorded_at),
            "recorded sterile until": clock.last_day(one.recorded_until) if one.recorded_until else None,
        }[column]

    def _wall(self, moment: datetime | None) -> datetime | None:
        return self.site.settings.site_clock.wall(moment).replace(tzinfo=None) if moment else None
