"""What stays the same while one schedule is planned and changes to it are tried."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from picklist.model.routes import Step
from picklist.model.schedule import Side
from picklist.model.sets import InstrumentSet
from picklist.model.site import Site
from picklist.model.uses import Use
from picklist.sets.allocation.terms import Copy, Job
from picklist.sets.parts import joined_parts
from picklist.sets.states import Availability, first_available
from picklist.sets.turnaround import Turnaround


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraSet:
    """A set brought from elsewhere that stands ready in a building from an instant; ``until``: a loan goes back."""

    id: str
    tray: str
    ready: datetime
    side: Side | None = None
    size: str = ""
    building: str = ""
    until: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Haste:
    """A step done faster: for the set that a use (``source``: its key) gives back, or a set as it is now (its id)."""

    source: str
    tray: str
    step: str
    minutes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """Uses to be served, with what is tried: extra sets, haste, and uses (by key) that must take a given tray.

    ``accepted``: uses (by key) that may take their set from the number kept ready, or whose case is over, so that
    nothing is left to decide. ``off_carts``: sets that must be put back first, each with the case on whose built cart
    it is.
    """

    uses: tuple[Use, ...]
    extras: tuple[ExtraSet, ...] = ()
    hastes: tuple[Haste, ...] = ()
    only: tuple[tuple[str, str], ...] = ()
    accepted: tuple[str, ...] = ()
    off_carts: tuple[tuple[str, str], ...] = ()
    _by_tray: dict[str, list[tuple[int, Use]]] = field(default_factory=dict, init=False, compare=False, repr=False)
    _places: dict[str, list[int]] = field(default_factory=dict, init=False, compare=False, repr=False)

    def uses_in(self, group: tuple[str, ...]) -> tuple[Use, ...]:
        """The uses of a tray group, in their order."""
        if not self._by_tray:
            for place, use in enumerate(self.uses):
                self._by_tray.setdefault(use.tray, []).append((place, use))
        if len(group) == 1:
            return tuple(use for _, use in self._by_tray.get(group[0], ()))
        found = [one for tray in group for one in self._by_tray.get(tray, ())]
        return tuple(use for _, use in sorted(found, key=lambda one: one[0]))

    def uses_of(self, case: str) -> tuple[Use, ...]:
        """The uses of a case, in their order."""
        return tuple(self.uses[place] for place in self._places_of(case))

    def _places_of(self, case: str) -> Sequence[int]:
        if not self._places:
            for place, use in enumerate(self.uses):
                self._places.setdefault(use.case, []).append(place)
        return self._places.get(case, ())

    def with_case(self, case: str, changed: Callable[[Use], Use]) -> Scenario:
        """The same with the uses of a case changed, which keep their trays; what is known of the others goes along."""
        uses, places = list(self.uses), self._places_of(case)
        for place in places:
            uses[place] = changed(uses[place])
        made = replace(self, uses=tuple(uses))
        made._places.update(self._places)
        made._by_tray.update(self._by_tray)
        for tray in {uses[place].tray for place in places} & self._by_tray.keys():
            made._by_tray[tray] = [(place, uses[place]) for place, _ in self._by_tray[tray]]
        return made


class HastenedTurnaround(Turnaround):
    """A turnaround in which some steps of one tray's route take fewer usual minutes."""

    def __init__(self, base: Turnaround, tray: str, hastes: tuple[Haste, ...]) -> None:
        super().__init__(base.site, base.calendar)
        self._hastened = (tray, hasten(base.steps(tray), hastes))

    def steps(self, tray: str) -> tuple[Step, ...]:
        """The steps of a tray's route, faster for the tray in haste."""
        return self._hastened[1] if tray == self._hastened[0] else super().steps(tray)


def hasten(steps: tuple[Step, ...], hastes: tuple[Haste, ...]) -> tuple[Step, ...]:
    """Cut the usual minutes of steps, never below the least."""
    cut = {haste.step: haste.minutes for haste in hastes}
    return tuple(_cut(step, cut.get(step.name, 0)) for step in steps)


def _cut(step: Step, minutes: int) -> Step:
    least = min(step.least_minutes, step.usual_minutes)
    return replace(step, usual_minutes=max(least, step.usual_minutes - minutes)) if minutes else step


class PlanningContext:
    """A site at a moment: its turnaround, what each set's state means, and its tray groups.

    A tray group holds trays that stand in for each other; a change in one group leaves the others
    as they are. ``held`` says which set is on a built cart, by the key of its use,
    ``printed`` which one a list in hand names. ``day`` is that of the sheets, whose times need no date beside them.
    """

    def __init__(
        self,
        site: Site,
        now: datetime,
        held: Mapping[str, str] | None = None,
        printed: Mapping[str, str] | None = None,
        day: date | None = None,
    ) -> None:
        self.site = site
        self.held = dict(held or {})
        self.printed = dict(printed or {})
        self.now = now
        self.day = day
        self.turnaround = Turnaround(site)
        self.states: Mapping[str, Availability] = {
            one.id: first_available(self.turnaround, one, now) for one in site.sets.values()
        }
        self.groups = _groups(site)
        self.group_of = {tray: group for group in self.groups for tray in group}
        self.sets_of: dict[str, list[InstrumentSet]] = {}
        for one in site.sets.values():
            self.sets_of.setdefault(one.tray, []).append(one)
        # Jobs and copies made for allocation questions, kept because most stay the same when a change is tried.
        self.jobs: dict[tuple[object, ...], Job] = {}
        self.copies: dict[tuple[object, ...], Copy] = {}
        self._hastened: dict[tuple[str, tuple[Haste, ...]], Turnaround] = {}

    def day_beside(self, instant: datetime) -> date:
        """The day beside which a moment is said: that of the sheets, or its own where none are printed."""
        return self.day or self.site.settings.site_clock.day(instant)

    def turnaround_of(self, source: str, tray: str, hastes: tuple[Haste, ...]) -> Turnaround:
        """The turnaround that holds for the set of a tray given back by a source."""
        mine = tuple(haste for haste in hastes if haste.source == source and haste.tray == tray)
        if not mine:
            return self.turnaround
        key = (tray, mine)
        if key not in self._hastened:
            self._hastened[key] = HastenedTurnaround(self.turnaround, tray, mine)
        return self._hastened[key]

    def state_of(self, set_id: str, scenario: Scenario) -> Availability:
        """What the set's state means, its remaining steps hastened and itself put back where that is tried."""
        state, carts = self.states[set_id], dict(scenario.off_carts)
        if set_id in carts:
            off = replace(self.site.sets[set_id], off_cart_of=carts[set_id])
            state = first_available(self.turnaround, off, self.now)
        mine = tuple(haste for haste in scenario.hastes if haste.source == set_id)
        return replace(state, steps=hasten(state.steps, mine)) if mine else state


def choices(site: Site, use: Use) -> tuple[tuple[str, int], ...]:
    """The trays that may serve a use with their preference; 0 is the tray asked for."""
    tray = site.trays.get(use.tray)
    stand_ins = tray.stand_ins if tray else ()
    fit = (one for one in stand_ins if one.tray in site.trays and not (use.no_latex and site.trays[one.tray].latex))
    return ((use.tray, 0), *((one.tray, max(1, one.preference)) for one in fit))


def _groups(site: Site) -> tuple[tuple[str, ...], ...]:
    ties = ((tray.id, *(one.tray for one in tray.stand_ins if one.tray in site.trays)) for tray in site.trays.values())
    return tuple(sorted(tuple(sorted(group)) for group in joined_parts(ties)))
