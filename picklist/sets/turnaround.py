"""The routes of a site's trays over its calendar, kept for many questions."""

from __future__ import annotations

from datetime import datetime

from picklist.clock import shift
from picklist.model.routes import Step, Transfer
from picklist.model.site import Site
from picklist.model.uses import Act, Pace, Use
from picklist.sets.calendar import Calendar, make_calendar
from picklist.sets.deadlines import TRANSFER
from picklist.sets.timed_route import TimedRoute
from picklist.sets.walk import begins_in_room, last_steps, steps_for


class Turnaround:
    """What makes each tray of a site usable again. ``home`` and ``to`` are buildings, empty for one only.

    A set that is ready at home and wanted in another building takes its transfer as one
    more step. Answers are None when a tray has no route, no transfer is listed, or a step
    can never start.
    """

    def __init__(self, site: Site, calendar: Calendar | None = None) -> None:
        self.site = site
        self.calendar = calendar or make_calendar(site)
        self.cases = {case.number: case for case in site.cases}
        self._transfers = {(one.from_building, one.to_building): one for one in site.transfers}
        self._steps: dict[str, tuple[Step, ...]] = {}
        self._timed_routes: dict[tuple[str, Pace, str, str], TimedRoute | None] = {}

    def steps(self, tray: str) -> tuple[Step, ...]:
        """The steps of a tray's route that apply to it; empty when it has none."""
        if tray not in self._steps:
            known = self.site.trays.get(tray)
            self._steps[tray] = steps_for(self.site, known) if known else ()
        return self._steps[tray]

    def timed_route(self, tray: str, pace: Pace = Pace.USUAL, home: str = "", to: str = "") -> TimedRoute | None:
        """A tray's whole route, with the transfer from its home to where it is wanted."""
        key = (tray, pace, home, to)
        if key not in self._timed_routes:
            steps = self.steps(tray)
            self._timed_routes[key] = self.timed_route_of(steps, pace, home, to) if steps else None
        return self._timed_routes[key]

    def timed_route_of(self, steps: tuple[Step, ...], pace: Pace, home: str = "", to: str = "") -> TimedRoute | None:
        """Any steps, then the transfer; None when none is listed between the buildings."""
        if not is_elsewhere(home, to):
            return TimedRoute(steps, self.calendar, pace)
        transfer = self._transfers.get((home, to))
        return TimedRoute((*steps, transfer_step(transfer, steps)), self.calendar, pace) if transfer else None

    def released(self, use: Use, tray: str) -> datetime:
        """When the route of the tray given begins after a use: in the room, or received in decontamination."""
        return shift(use.leaves_room, self.leaving(tray)[0][1])

    def leaving(self, tray: str) -> tuple[tuple[str, int], ...]:
        """The acts between the room and the route of a tray, with the minutes from each to the start of the route."""
        if begins_in_room(self.steps(tray)):
            return ((Act.OUT_OF_ROOM, 0),)
        return ((Act.OUT_OF_ROOM, self.site.settings.haul), (Act.INTO_DECONTAMINATION, 0))

    def free_after(self, use: Use, tray: str, pace: Pace = Pace.USUAL, home: str = "", to: str = "") -> datetime | None:
        """When a set of ``tray`` given to a use is usable again, in building ``to``."""
        timed_route = self.timed_route(tray, pace, home, to)
        return timed_route.ready(self.released(use, tray)) if timed_route else None

    def put_back(self, use: Use, home: str = "", to: str = "") -> datetime | None:
        """When a set that stayed unopened in a use is free again, in building ``to``; next door it need not go home."""
        back = shift(use.leaves_room, self.site.settings.put_back)
        if use.building == to:
            return back
        timed_route = self.timed_route_of((), Pace.USUAL, home, to)
        return timed_route.ready(back) if timed_route else None

    def leave_unopened_by(self, use: Use, needed: datetime, home: str = "", to: str = "") -> datetime | None:
        """When a set that stays unopened in a use must leave its room to be free by a need in building ``to``."""
        if use.building == to:
            return shift(needed, -self.site.settings.put_back)
        timed_route = self.timed_route_of((), Pace.USUAL, home, to)
        back = timed_route.release(needed) if timed_route else None
        return None if back is None else shift(back, -self.site.settings.put_back)


def is_elsewhere(home: str, to: str) -> bool:
    """Whether two named buildings differ; an unnamed one is taken as the same."""
    return bool(home and to and home != to)


def transfer_step(transfer: Transfer, steps: tuple[Step, ...]) -> Step:
    """A transfer as the last step of a route."""
    return Step(
        name=f"{TRANSFER}{transfer.to_building}",
        after=tuple(step.name for step in last_steps(steps)),
        usual_minutes=transfer.minutes,
        least_minutes=transfer.minutes,
        run=transfer.run,
    )
