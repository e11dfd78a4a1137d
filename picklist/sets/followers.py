"""Find who is late when a case runs late: cases that wait for its sets or for its room."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from picklist.clock import SiteClock, minutes_between, shift
from picklist.model.schedule import Case, one_after_another
from picklist.model.uses import Use
from picklist.sets.allocate_group import GroupPlan, Service
from picklist.sets.planning_context import PlanningContext
from picklist.sets.reuse import reuse_after


class Followers:
    """Which service follows a use on its set, and which case follows a case in its room."""

    def __init__(self, context: PlanningContext, plans: Iterable[GroupPlan], cases: Iterable[Case]) -> None:
        self.context = context
        self.uses: dict[str, list[Use]] = {}
        self.after: dict[str, Service] = {}
        for plan in plans:
            for service in plan.services:
                self.uses.setdefault(service.use.case, []).append(service.use)
                if service.after is not None:
                    self.after[service.after.key] = service
        self.next_in_room = _next_in_room(cases, context.site.settings.site_clock)

    def knock_on(self, case: str, late: int) -> tuple[str, ...]:
        """The cases that become late when a case is ``late`` minutes late, as the delay reaches them."""
        waits: dict[str, int] = {case: late}
        queue = [case]
        while queue:
            current = queue.pop(0)
            for follower, minutes in self._pushed(current, waits[current]):
                if minutes > waits.get(follower, 0):
                    waits[follower] = minutes
                    queue.append(follower)
        return tuple(one for one in waits if one != case)

    def _pushed(self, case: str, late: int) -> list[tuple[str, int]]:
        found = []
        for use in self.uses.get(case, ()):
            service = self.after.get(use.key)
            if service is not None:
                found.append((service.use.case, self._late_by_set(use, service, late)))
        follower = self.next_in_room.get(case)
        if follower is not None:
            other, gap = follower
            found.append((other, late - max(0, gap - self.context.site.settings.turnover)))
        return [(other, minutes) for other, minutes in found if minutes > 0]

    def _late_by_set(self, use: Use, service: Service, late: int) -> int:
        reuse = reuse_after(self.context.turnaround, service.one, shifted(use, late), service.use)
        return -reuse.slack if reuse is not None else late


def shifted(use: Use, minutes: int, building: str | None = None) -> Use:
    """The use of a case that starts so many minutes later (earlier when negative)."""
    return replace(
        use,
        needed=shift(use.needed, minutes),
        starts=shift(use.starts, minutes),
        ends=shift(use.ends, minutes),
        leaves_room=shift(use.leaves_room, minutes),
        received=shift(use.received, minutes),
        building=use.building if building is None else building,
    )


def _next_in_room(cases: Iterable[Case], clock: SiteClock) -> dict[str, tuple[str, int]]:
    """The next case in the same room (see ``one_after_another``), and the minutes between them."""
    return {
        before.number: (after.number, minutes_between(shift(before.start, before.minutes), after.start))
        for before, after in one_after_another(cases, clock)
    }
