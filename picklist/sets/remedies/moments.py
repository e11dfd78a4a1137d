"""The starts at which moving a case can change anything: where sets, rooms and people come free or are wanted."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from picklist.clock import minutes_between, shift
from picklist.model.conflicts import ConflictKind
from picklist.model.schedule import Case
from picklist.model.uses import Pace, Use
from picklist.sets.calendar import instant_of, minute_from, minute_until
from picklist.sets.remedies.evening import Evening
from picklist.sets.remedies.rooms import allowed_starts, wheels
from picklist.sets.situation import choices
from picklist.sets.states import ready_for

STEP = 5  # minutes: schedules are written on a grid


class Moments:
    """The starts to try for one case; what depends on its trays is found once for all rooms."""

    def __init__(self, evening: Evening, case: Case) -> None:
        self.evening = evening
        self.case = case
        self._spans: dict[str, list[tuple[datetime, datetime]]] = {}
        exact = {moment for use in evening.uses_of(case.number) for moment in _set_moments(evening, case, use)}
        self.by_sets = {moment for one in exact for moment in on_grid(one)}

    def starts(self, rooms: tuple[str, ...]) -> list[datetime]:
        """Starts allowed in one of the rooms at which something changes, nearest to the present start first.

        Between two of them nothing changes, so the least move that helps, on a grid of five
        minutes, is among them.
        """
        spans = {span for room in rooms for span in self.spans(room)}
        edges = {moment for span in spans for edge in span for moment in on_grid(edge)}
        wanted = self.by_sets | edges | {self.case.start}
        if rooms == (self.case.room,):
            wanted.discard(self.case.start)
        found = [start for start in wanted if any(first <= start <= last for first, last in spans)]
        return sorted(found, key=lambda start: (abs(minutes_between(self.case.start, start)), start))

    def is_allowed(self, start: datetime, room: str) -> bool:
        """Whether the case alone may start then in the room."""
        return any(first <= start <= last for first, last in self.spans(room))

    def spans(self, room: str) -> list[tuple[datetime, datetime]]:
        """The spans of starts that the room, its hours and the people allow."""
        if room not in self._spans:
            self._spans[room] = allowed_starts(self.evening, self.case, room)
        return self._spans[room]

    def near(self) -> list[datetime]:
        """Starts in its own room, allowed or not, for moves that need another one to make room."""
        found = self.by_sets | _room_moments(self.evening, self.case)
        return sorted(
            found - {self.case.start}, key=lambda start: (abs(minutes_between(self.case.start, start)), start)
        )


def on_grid(moment: datetime) -> tuple[datetime, datetime]:
    """The grid's points just before and just after a moment."""
    below = minute_until(moment) // STEP * STEP
    above = -(-minute_from(moment) // STEP) * STEP
    return instant_of(below), instant_of(above)


def _room_moments(evening: Evening, case: Case) -> set[datetime]:
    """Starts right after and before the room's other cases."""
    lead = minutes_between(wheels(evening, case)[0], case.start)
    turnover = evening.situation.site.settings.turnover
    found: set[datetime] = set()
    for other in evening.in_room(case):
        if other.number != case.number:
            begins, ends = wheels(evening, other)
            found |= {shift(ends, lead + turnover), shift(begins, lead - case.minutes - turnover)}
    return {moment for one in found for moment in on_grid(one)}


def _set_moments(evening: Evening, case: Case, use: Use) -> set[datetime]:
    """Starts at which a set is just ready for the use, or just back from it for another."""
    part = evening.situation.part_of[use.tray]
    others = [one for one in evening.scenario.uses if one.tray in part and one.case != case.number]
    to_start = minutes_between(use.needed, case.start)
    spares = _spares(evening, part)
    found = {shift(moment, to_start + spare) for moment in _ready_moments(evening, use, others) for spare in spares}
    needs = {shift(other.needed, -spare) for other in others for spare in spares}
    for tray, _ in choices(evening.situation.site, use):
        for needed in needs:
            found |= _giving_starts(evening, case, use, (tray, needed))
    return found


def _spares(evening: Evening, part: tuple[str, ...]) -> tuple[int, ...]:
    """Minutes to spare that may matter: none, the margin, and what close calls have or lack now."""
    margin = evening.situation.site.settings.margin
    plan = evening.plans.get(part)
    now = {one.minutes if one.kind is ConflictKind.TIGHT else -one.minutes for one in plan.spotted} if plan else set()
    return tuple(sorted({0, margin, *now}))


def _ready_moments(evening: Evening, use: Use, others: list[Use]) -> set[datetime]:
    situation = evening.situation
    turnaround, found = situation.turnaround, set[datetime | None]()
    sets = [one for tray, _ in choices(situation.site, use) for one in situation.sets_of.get(tray, ())]
    for one in sets:
        state = replace(situation.states[one.id], until=None)
        for pace in Pace:
            found.add(None if state.on_shelf else ready_for(turnaround, state, use, pace))
    for tray, home in {(one.tray, situation.states[one.id].home) for one in sets}:
        for other in others:
            found |= {turnaround.free_after(other, tray, pace, home, use.building) for pace in Pace}
            found.add(turnaround.put_back(other, home, use.building) if other.on_hold else None)
    return {moment for moment in found if moment is not None}


def _giving_starts(evening: Evening, case: Case, use: Use, wanted: tuple[str, datetime]) -> set[datetime]:
    """The latest starts of the case after which its set is ready when another needs it."""
    tray, needed = wanted
    turnaround = evening.situation.turnaround
    released = turnaround.released(use, tray)
    found = set()
    for pace in Pace:
        trail = turnaround.trail(tray, pace)
        release = trail.release(needed) if trail else None
        if release is not None:
            found.add(shift(case.start, minutes_between(released, release)))
    if use.on_hold:
        back = shift(use.leaves_room, evening.situation.site.settings.put_back)
        found.add(shift(case.start, minutes_between(back, needed)))
    return found
