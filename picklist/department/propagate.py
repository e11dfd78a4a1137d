"""Carry overruns from case to case, through rooms and sets, for all draws at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from picklist.department.day import Day
from picklist.department.ready_table import Minutes
from picklist.model.uses import Pace


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnDays:
    """The result of the draws.

    Of shape (links, draws): ``late``, minutes late; ``blame``, the place of the case whose overrun
    did most on the way there (-1: none, in time or no later than in the plan itself). Of shape
    (cases, draws), in minutes after the plan: ``rooms``, when the room lets a case begin;
    ``ends``, when it ends, negative when early.
    """

    late: Minutes
    blame: Minutes
    rooms: Minutes
    ends: Minutes


def propagate(day: Day, minutes: Minutes) -> DrawnDays:
    """Carry case minutes, of shape (cases, draws), through the day.

    A case begins no earlier than planned. It is pushed by the case before it in its room and by
    a set that is late by more than in the plan itself (what fails on plan is settled tonight). A
    reuse is late when its set is ready after the cart must be complete, for the start that the
    room leaves the case.
    """
    planned = np.array([case.minutes for case in day.cases], dtype=np.int64)
    pushed = _Pushed(day, minutes - planned[:, None])
    links: dict[int, list[int]] = defaultdict(list)
    for place, link in enumerate(day.links):
        links[link.waiter].append(place)
    for case in range(len(day.cases)):
        pushed.take(case, links[case])
    return DrawnDays(late=pushed.late, blame=pushed.link_blame, rooms=pushed.rooms, ends=pushed.ends)


class _Pushed:
    """Minutes by which each case ends later than planned, and whose overrun did most of it."""

    def __init__(self, day: Day, over: Minutes) -> None:
        self.day = day
        self.over = over
        self.ends = np.empty_like(over)
        self.rooms = np.zeros_like(over)
        self.worst = np.empty_like(over)
        self.blame = np.empty_like(over)
        shape = (len(day.links), over.shape[1])
        self.late = np.zeros(shape, dtype=np.int64)
        self.link_blame = np.full(shape, -1, dtype=np.int64)
        self.draws = np.arange(over.shape[1])

    def take(self, case: int, links: Sequence[int]) -> None:
        """Work out a case whose givers and room have been worked out."""
        before = self.day.before[case]
        room = np.zeros_like(self.draws)
        driver = np.full_like(self.draws, -1)
        if before >= 0:
            room = np.maximum(0, self.ends[before] - self.day.spare[case])
            driver = np.where(room > 0, before, driver)
        self.rooms[case] = moved = room
        for place in links:
            start = room + self._serve(place, room)
            driver = np.where(start > moved, self.day.links[place].giver, driver)
            moved = np.maximum(moved, start)
        self.ends[case] = moved + self.over[case]
        self._blame_case(case, driver)

    def _blame_case(self, case: int, driver: Minutes) -> None:
        """The case itself, or the greater overrun behind whatever pushed it."""
        led = (driver >= 0) & (self.worst[driver, self.draws] > self.over[case])
        self.worst[case] = np.where(led, self.worst[driver, self.draws], self.over[case])
        self.blame[case] = np.where(led, self.blame[driver, self.draws], case)

    def _serve(self, place: int, room: Minutes) -> Minutes:
        """Enter the lateness of a link; answer how much later than in the plan it makes its case."""
        link = self.day.links[place]
        if link.giver < 0:
            ready = np.full_like(room, link.fixed)
            on_plan = max(0, link.fixed - link.needed)
        else:
            released = np.append(link.released + self.ends[link.giver], link.released)
            ready = self.day.stairs.ready(link.steps, Pace.USUAL, released) + link.delay
            on_plan = max(0, int(ready[-1]) - link.needed)
            ready = ready[:-1]
        late = np.maximum(0, ready - link.needed - room)
        more: Minutes = np.maximum(0, late - on_plan)
        self.late[place] = late
        if link.giver >= 0:
            self.link_blame[place] = np.where(more > 0, self.blame[link.giver], -1)
        return more
