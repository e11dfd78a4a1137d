"""Carry late starts and overruns from case to case, through rooms and sets, for all draws at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

import numpy as np

from picklist.department.day import Day, ReuseLink
from picklist.department.jobs import department_steps
from picklist.department.ready_table import KEPT_AS, Minutes
from picklist.model.uses import Pace


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """What is drawn, in minutes.

    ``minutes`` that each case takes and ``starts``, by which it starts late of itself, of shape (cases, draws);
    ``arrivals``: by which each set that is to be brought comes late, of shape (draws,), by set.
    """

    minutes: Minutes
    starts: Minutes
    arrivals: Mapping[str, Minutes] = field(default_factory=dict)

    @classmethod
    def of_minutes(cls, minutes: Minutes) -> Draws:
        """Cases that take these minutes and start when they may."""
        return cls(minutes=minutes, starts=np.zeros_like(minutes))

    @property
    def count(self) -> int:
        """How many draws."""
        return int(self.minutes.shape[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnDays:
    """The result of the draws.

    Of shape (links, draws): ``late``, minutes late by the pace that the plan says; ``hurried``, minutes late if
    this set alone were hurried all the way; ``blame``, the place of the case whose overrun
    did most on the way there (-1: none, in time or no later than in the plan itself). Of shape
    (cases, draws), in minutes after the plan: ``rooms``, when the room lets a case begin;
    ``ends``, when it ends, negative when early.
    """

    late: Minutes
    hurried: Minutes
    blame: Minutes
    rooms: Minutes
    ends: Minutes


def propagate(day: Day, draws: Draws) -> DrawnDays:
    """Carry what was drawn through the day.

    A case begins no earlier than planned, and late by itself as drawn. It is pushed by the case before it in its
    room and by a set that is late by more than in the plan itself (what fails on plan is settled tonight). A
    reuse is late when its set is ready after the cart must be complete, for the start that the
    room leaves the case.
    """
    days = _WholeDays(day, draws)
    for case in range(len(day.cases)):  # each after its givers and the case before it in the room
        days.take(case)
    return DrawnDays(late=days.late, hurried=days.hurried, blame=days.link_blame, rooms=days.rooms, ends=days.ends)


def late_after_change(day: Day, draws: Draws, before: DrawnDays, changed: Collection[int]) -> MinutesNow:
    """Minutes late of each link, as ``propagate`` gives them, of a day that differs in some links only.

    ``before`` is what the draws made of the day without the change, ``changed`` the places of the links that are
    not as they were. Only the cases that the change reaches are worked out again.
    """
    days = _ChangedDays(day, draws, before)
    days.carry_changes(changed)
    return days.late


class MinutesNow:
    """Rows of an array, of which some are others now, at the places ``changed``; the array itself stays as it is."""

    def __init__(self, before: Minutes) -> None:
        """Take the array as it was before."""
        self._before = before
        self._now = np.empty_like(before)  # takes memory only where a row is put
        self.changed: set[int] = set()

    def __getitem__(self, place: int) -> Minutes:
        """The row at a place, as it is now."""
        row: Minutes = (self._now if place in self.changed else self._before)[place]
        return row

    def __setitem__(self, place: int, row: Minutes) -> None:
        """Put another row in its place."""
        self._now[place] = row
        self.changed.add(place)


class _Days:
    """Minutes by which each link is late and by which each case ends later than planned."""

    late: Minutes | MinutesNow
    ends: Minutes | MinutesNow

    def __init__(self, day: Day, draws: Draws) -> None:
        self.day = day
        self.drawn = draws
        self.draws = np.arange(draws.count)
        self.links: dict[int, list[int]] = defaultdict(list)
        for place, link in enumerate(day.links):
            self.links[link.waiter].append(place)

    def take(self, case: int) -> None:
        """Work out a case whose givers and room have been worked out."""
        before = self.day.before[case]
        room = np.zeros_like(self.draws)
        driver = np.full_like(self.draws, -1)
        if before >= 0:
            room = np.maximum(0, self.ends[before] - self.day.spare[case])
            driver = np.where(room > 0, before, driver)
        own, over = self.drawn.starts[case], self.drawn.minutes[case] - self.day.cases[case].minutes
        moved = room + own
        for place in self.links[case]:
            start = room + self._serve(place, room)
            driver = np.where(start > moved, self.day.links[place].giver, driver)
            moved = np.maximum(moved, start)
        self.ends[case] = moved + over
        self._explain_case(case, room, own + over, driver)

    def _explain_case(self, case: int, room: Minutes, mine: Minutes, driver: Minutes) -> None:
        """Note of a case what pushed it beside its own late start and overrun."""

    def _serve(self, place: int, room: Minutes) -> Minutes:
        """Enter the lateness of a link; answer how much later than in the plan it makes its case."""
        link = self.day.links[place]
        shift = self._release_shift(link)
        if shift is None:
            ready, on_plan = np.full_like(room, link.fixed), link.fixed
        else:
            both = self._ready(link, np.append(link.released + shift, link.released))
            ready, on_plan = both[:-1], int(both[-1])
        late = np.maximum(0, ready - link.needed - room)
        more: Minutes = np.maximum(0, late - max(0, on_plan - link.needed))
        self.late[place] = late
        self._explain(place, more, shift, room)
        return more

    def _explain(self, place: int, more: Minutes, shift: Minutes | None, room: Minutes) -> None:
        """Note of a link what made it late."""

    def _release_shift(self, link: ReuseLink) -> Minutes | None:
        """By how much later than planned a set leaves its room, or is brought; None for one that nothing delays."""
        if link.giver >= 0:
            shift: Minutes = self.ends[link.giver]
            return shift
        return self.drawn.arrivals[link.reuse.set_id] if link.arrives else None

    def _ready(self, link: ReuseLink, released: Minutes) -> Minutes:
        """At usual pace, or in today's queue where that is later: as every paper says when a set is ready."""
        usual = self.day.stairs.ready(link.steps, Pace.USUAL, released)
        if link.delay is None:
            return usual
        steps = department_steps(link.steps, link.steps)
        queued: Minutes = self.day.stairs.ready(steps, Pace.USUAL, released) + link.delay
        return np.maximum(usual, queued)


class _WholeDays(_Days):
    """All of a day, with whose overrun did most of each lateness."""

    late: Minutes
    ends: Minutes

    def __init__(self, day: Day, draws: Draws) -> None:
        super().__init__(day, draws)
        of_cases, of_links = (len(day.cases), draws.count), (len(day.links), draws.count)
        self.ends = np.empty(of_cases, dtype=KEPT_AS)
        self.rooms = np.empty(of_cases, dtype=KEPT_AS)
        self.worst = np.empty(of_cases, dtype=KEPT_AS)
        self.blame = np.empty(of_cases, dtype=KEPT_AS)
        self.late = np.zeros(of_links, dtype=KEPT_AS)
        self.hurried = np.zeros(of_links, dtype=KEPT_AS)
        self.link_blame = np.full(of_links, -1, dtype=KEPT_AS)

    def _explain_case(self, case: int, room: Minutes, mine: Minutes, driver: Minutes) -> None:
        """The case itself, late start and overrun together, or the greater of these behind whatever pushed it."""
        self.rooms[case] = room
        led = (driver >= 0) & (self.worst[driver, self.draws] > mine)
        self.worst[case] = np.where(led, self.worst[driver, self.draws], mine)
        self.blame[case] = np.where(led, self.blame[driver, self.draws], case)

    def _explain(self, place: int, more: Minutes, shift: Minutes | None, room: Minutes) -> None:
        """How late the set would be if it were hurried, and whose overrun did most."""
        link = self.day.links[place]
        if shift is None:
            hurried = np.full_like(room, link.hurried)
        else:
            hurried = self.day.stairs.ready(link.steps, Pace.LEAST, link.released + shift)
        self.hurried[place] = np.minimum(self.late[place], np.maximum(0, hurried - link.needed - room))
        if link.giver >= 0:
            self.link_blame[place] = np.where(more > 0, self.blame[link.giver], -1)


class _ChangedDays(_Days):
    """The days of a changed day, worked out again only where the change reaches."""

    late: MinutesNow
    ends: MinutesNow

    def __init__(self, day: Day, draws: Draws, before: DrawnDays) -> None:
        super().__init__(day, draws)
        self.late, self.ends = MinutesNow(before.late), MinutesNow(before.ends)

    def carry_changes(self, changed: Collection[int]) -> None:
        """Work out the cases whose links changed, and those behind them whose room or set then comes otherwise."""
        reached = {self.day.links[place].waiter for place in changed}
        moved: set[int] = set()
        for case in range(len(self.day.cases)):
            givers = {self.day.links[place].giver for place in self.links[case]}
            if case in reached or self.day.before[case] in moved or givers & moved:
                was = self.ends[case]
                self.take(case)
                if not np.array_equal(was, self.ends[case]):
                    moved.add(case)
