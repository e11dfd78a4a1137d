"""The routes of a site's trays over its calendar, kept for many questions."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from picklist.clock import minutes_between, shift
from picklist.model.routes import Step, Transfer
from picklist.model.site import Site
from picklist.model.uses import TRANSFER_BACK, Act, Pace, Use
from picklist.sets.calendar import Calendar, make_calendar
from picklist.sets.case_uses import building_of
from picklist.sets.deadlines import TRANSFER
from picklist.sets.start_slots import HORIZON
from picklist.sets.timed_route import TimedRoute
from picklist.sets.walk import begins_in_room, last_steps, steps_for


class Turnaround:
    """What makes each tray of a site usable again. ``home`` and ``to`` are buildings, empty for one only.

    A set that is ready at home and wanted in another building takes its transfer as one
    more step; one that was used in another building (``used_in``) takes the way back as its
    first. Answers are None when a tray has no route, a way is not listed, or a step
    can never start.
    """

    def __init__(self, site: Site, calendar: Calendar | None = None) -> None:
        self.site = site
        self.calendar = calendar or make_calendar(site)
        self.cases = {case.number: case for case in site.cases}
        self._transfers = {(one.from_building, one.to_building): one for one in site.transfers}
        self._steps: dict[str, tuple[Step, ...]] = {}
        self._routes_of: dict[tuple[tuple[Step, ...], Pace, str, str], TimedRoute | None] = {}
        self._timed_routes: dict[tuple[str, Pace, str, str, str], TimedRoute | None] = {}

    def steps(self, tray: str) -> tuple[Step, ...]:
        """The steps of a tray's route that apply to it; empty when it has none."""
        if tray not in self._steps:
            known = self.site.trays.get(tray)
            self._steps[tray] = steps_for(self.site, known) if known else ()
        return self._steps[tray]

    def steps_after(self, tray: str, used_in: str, home: str) -> tuple[Step, ...] | None:
        """The steps of a tray after a use in a building, the way back to its home first; None when it is not listed.

        A route that begins in the room says its own way to decontamination.
        """
        steps = self.steps(tray)
        if not steps or not is_elsewhere(used_in, home) or begins_in_room(steps):
            return steps
        transfer = self._transfers.get((used_in, home))
        if transfer is None:
            return None
        back = _way_back(transfer)
        return (back, *(replace(step, after=step.after or (back.name,)) for step in steps))

    def timed_route(
        self, tray: str, pace: Pace = Pace.USUAL, home: str = "", to: str = "", used_in: str = ""
    ) -> TimedRoute | None:
        """A tray's whole route, with the way back from where it was used and the transfer to where it is wanted."""
        key = (tray, pace, home, to, used_in)
        if key not in self._timed_routes:
            steps = self.steps_after(tray, used_in, home)
            self._timed_routes[key] = self.timed_route_of(steps, pace, home, to) if steps else None
        return self._timed_routes[key]

    def timed_route_of(self, steps: tuple[Step, ...], pace: Pace, home: str = "", to: str = "") -> TimedRoute | None:
        """Any steps, then the transfer; None when none is listed between the buildings."""
        key = (steps, pace, home, to)
        if key not in self._routes_of:
            self._routes_of[key] = self._route_of(*key)
        return self._routes_of[key]

    def _route_of(self, steps: tuple[Step, ...], pace: Pace, home: str, to: str) -> TimedRoute | None:
        if not is_elsewhere(home, to):
            return TimedRoute(steps, self.calendar, pace)
        transfer = self._transfers.get((home, to))
        return TimedRoute((*steps, transfer_step(transfer, steps)), self.calendar, pace) if transfer else None

    def building(self, case: str) -> str:
        """The building of a case's room, empty when it is not known."""
        known = self.cases.get(case)
        return building_of(self.site, known.room) if known else ""

    def released(self, use: Use, tray: str) -> datetime:
        """When the way of the tray given begins after a use: in the room, or received in decontamination.

        Of a set used in another building: when it is ready for its way back.
        """
        return shift(use.leaves_room, self.leaving(tray)[0][1])

    def may_be_late(self, use: Use, tray: str, home: str, until: datetime) -> int:
        """How many minutes late a use may be so that its set is home by an instant; negative: so much too late.

        Where no way back is listed the set counts as home when it is received in the building of the use.
        """
        back = TimedRoute(self._way_home(tray, use.building, home), self.calendar, Pace.USUAL)
        latest = back.release(until)
        return minutes_between(self.released(use, tray), latest) if latest else -HORIZON

    def _way_home(self, tray: str, used_in: str, home: str) -> tuple[Step, ...]:
        """The way back before a tray's route; empty where it has none or none is listed."""
        return tuple(one for one in (self.steps_after(tray, used_in, home) or ())[:1] if is_way_back(one))

    def received(self, use: Use, tray: str, home: str) -> datetime:
        """When a set reaches decontamination after a use: of its home, where a way back is listed."""
        back = self._way_home(tray, use.building, home)
        arrives = TimedRoute(back, self.calendar, Pace.USUAL).ready(self.released(use, tray)) if back else None
        return arrives or use.received

    def leaving(self, tray: str) -> tuple[tuple[str, int], ...]:
        """The acts between the room and the route of a tray, with the minutes from each to the start of the route."""
        if begins_in_room(self.steps(tray)):
            return ((Act.OUT_OF_ROOM, 0),)
        return ((Act.OUT_OF_ROOM, self.site.settings.haul), (Act.INTO_DECONTAMINATION, 0))

    def free_after(self, use: Use, tray: str, pace: Pace = Pace.USUAL, home: str = "", to: str = "") -> datetime | None:
        """When a set of ``tray`` given to a use is usable again, in building ``to``."""
        timed_route = self.timed_route(tray, pace, home, to, use.building)
        return timed_route.ready(self.released(use, tray)) if timed_route else None

    def put_back(self, use: Use, home: str = "", to: str = "") -> datetime | None:
        """When a set that stayed unopened in a use is free again, in building ``to``; next door it need not go home."""
        way = self._unopened_way(use.building, home, to)
        return way.ready(shift(use.leaves_room, self.site.settings.put_back)) if way else None

    def leave_unopened_by(self, use: Use, needed: datetime, home: str = "", to: str = "") -> datetime | None:
        """When a set that stays unopened in a use must leave its room to be free by a need in building ``to``."""
        way = self._unopened_way(use.building, home, to)
        back = way.release(needed) if way else None
        return None if back is None else shift(back, -self.site.settings.put_back)

    def _unopened_way(self, used_in: str, home: str, to: str) -> TimedRoute | None:
        """From where a set stayed unopened to the next building: straight where a way is listed, else by its home."""
        straight = self.timed_route_of((), Pace.USUAL, used_in or home, to)
        to_home = self._transfers.get((used_in, home))
        if straight or to_home is None:
            return straight
        return self.timed_route_of((_way_back(to_home),), Pace.USUAL, home, to)


def is_elsewhere(home: str, to: str) -> bool:
    """Whether two named buildings differ; an unnamed one is taken as the same."""
    return bool(home and to and home != to)


def is_way_back(step: Step) -> bool:
    """Whether a step is the way back of a used set from another building."""
    return step.name.startswith(TRANSFER_BACK)


def _way_back(transfer: Transfer) -> Step:
    """A transfer as the first step after a use."""
    return Step(
        name=f"{TRANSFER_BACK}{transfer.to_building}",
        usual_minutes=transfer.minutes,
        least_minutes=transfer.minutes,
        run=transfer.run,
    )


def transfer_step(transfer: Transfer, steps: tuple[Step, ...]) -> Step:
    """A transfer as the last step of a route."""
    return Step(
        name=f"{TRANSFER}{transfer.to_building}",
        after=tuple(step.name for step in last_steps(steps)),
        usual_minutes=transfer.minutes,
        least_minutes=transfer.minutes,
        run=transfer.run,
    )
