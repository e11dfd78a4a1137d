"""Check whether cases may go where an edit puts them: rooms, hours, turnover, people, and what may move at all."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime, time, timedelta

from picklist.clock import minutes_between, shift
from picklist.model.objections import Objection, ObjectionKind
from picklist.model.schedule import Case, CaseStatus
from picklist.sets.case_uses import case_times
from picklist.sets.remedies.planned_day import Edited, PlannedDay


def why_not(planned: PlannedDay, edited: Edited) -> Objection | None:
    """Why the touched cases may not go where they are put; None when they may."""
    moved = [edited.cases[number] for number in edited.touched if number in edited.cases]
    for case in moved:
        before = planned.cases[case.number]
        if (case.start, case.room) == (before.start, before.room):
            continue
        reason = (
            _fixed(planned, before)
            or _hours(planned, case)
            or _room_is_taken(planned, edited.cases, case)
            or _people_are_busy(planned, edited.cases, case)
        )
        if reason:
            return reason
    return None


def allowed_starts(planned: PlannedDay, case: Case, room: str) -> list[tuple[datetime, datetime]]:
    """The spans of starts at which a case alone may be moved into a room, ends included, in order.

    The same rules as ``why_not``, as gaps between what is in the way.
    """
    placed = replace(case, room=room)
    if _fixed(planned, case):
        return []
    lead = minutes_between(wheels(planned, case)[0], case.start)
    settings = planned.context.site.settings
    first = max(opening(planned, placed), shift(planned.context.now, settings.setup_lead))
    already = last_end(planned, placed)
    last = shift(max(closing(planned, placed), already or first), -case.minutes)
    spans = [(first, last)] if first <= last else []
    for begins, ends in _in_the_way(planned, placed):
        spans = [piece for span in spans for piece in _without(span, begins, ends)]
    clock = settings.site_clock
    day_ends = shift(clock.at_or_after(case.day + timedelta(days=1), time(0)), -1)
    moved = [(shift(begins, lead), min(shift(ends, lead), day_ends)) for begins, ends in spans]
    return [span for span in moved if clock.day(span[0]) == case.day and span[0] <= span[1]]


def _in_the_way(planned: PlannedDay, placed: Case) -> list[tuple[datetime, datetime]]:
    """Open spans of wheels-in that the room's other cases, or the case's people, rule out."""
    found = []
    for other in _near_in_room(planned, placed):
        if other.number != placed.number:
            begins, ends = wheels(planned, other)
            gap = _gap_wanted(planned, placed, other)
            found.append((shift(begins, -placed.minutes - gap), shift(ends, gap)))
    for number in planned.colleagues(placed.number):
        other = planned.cases[number]
        begins, ends = wheels(planned, other)
        overlap = max(0, -_gap(planned, planned.cases[placed.number], other))
        found.append((shift(begins, overlap - placed.minutes), shift(ends, -overlap)))
    return found


def _near_in_room(planned: PlannedDay, case: Case) -> Iterator[Case]:
    """The cases of a room on a day, and on the days beside it, whose cases may last past midnight."""
    for days in (-1, 0, 1):
        yield from planned.in_room(replace(case, day=case.day + timedelta(days=days)))


def _without(span: tuple[datetime, datetime], begins: datetime, ends: datetime) -> list[tuple[datetime, datetime]]:
    """A closed span less an open one."""
    first, last = span
    if ends <= first or begins >= last or begins >= ends:
        return [span]
    return [piece for piece in ((first, begins), (ends, last)) if piece[0] <= piece[1]]


def wheels(planned: PlannedDay, case: Case) -> tuple[datetime, datetime]:
    """Wheels-in and wheels-out of a case."""
    key = (case.start, case.minutes)
    if key not in planned.memo:
        starts = case_times(planned.context.site.settings, case).starts
        planned.memo[key] = (starts, shift(starts, case.minutes))
    return planned.memo[key]


def closing(planned: PlannedDay, case: Case) -> datetime:
    """When the room of a case closes on its day; where it opens later than that, after midnight."""
    settings = planned.context.site.settings
    room = planned.context.site.rooms.get(case.room)
    closes: time = (room.closes if room else None) or settings.rooms_close
    after_midnight = closes <= _opens(planned, case)
    return settings.site_clock.at_or_after(case.day + timedelta(days=after_midnight), closes)


def opening(planned: PlannedDay, case: Case) -> datetime:
    """When the room of a case opens on its day."""
    return planned.context.site.settings.site_clock.at_or_after(case.day, _opens(planned, case))


def _opens(planned: PlannedDay, case: Case) -> time:
    room = planned.context.site.rooms.get(case.room)
    opens = room.opens if room else None
    return planned.context.site.settings.rooms_open if opens is None else opens


def last_end(planned: PlannedDay, case: Case) -> datetime | None:
    """When the last case of a case's room and day ends; None where there is none."""
    return max((wheels(planned, one)[1] for one in planned.in_room(case)), default=None)


def _fixed(planned: PlannedDay, case: Case) -> Objection | None:
    if not case.may_move:
        return Objection(ObjectionKind.FIXED, case)
    if case.status is not CaseStatus.PLANNED:
        return Objection(ObjectionKind.STARTED, case)
    if wheels(planned, case)[0] <= planned.context.now:
        return Objection(ObjectionKind.DUE, case)
    return None


def _hours(planned: PlannedDay, case: Case) -> Objection | None:
    clock = planned.context.site.settings.site_clock
    begins, ends = wheels(planned, case)
    needed = case_times(planned.context.site.settings, case).needed
    if needed < planned.context.now:
        return Objection(ObjectionKind.CART_DUE, case)
    if clock.day(case.start) != case.day or begins < opening(planned, case):
        return Objection(ObjectionKind.NOT_OPEN, case)
    already = last_end(planned, case)
    if ends > max(closing(planned, case), already or ends.min.replace(tzinfo=ends.tzinfo)):
        return Objection(ObjectionKind.CLOSES, case)
    return None


def _room_is_taken(planned: PlannedDay, cases: Mapping[str, Case], case: Case) -> Objection | None:
    for other in cases.values():
        if other.number == case.number or other.room != case.room:
            continue
        if _gap(planned, case, other) < _gap_wanted(planned, case, other):
            return Objection(ObjectionKind.ROOM_TAKEN, case, other.number)
    return None


def _gap(planned: PlannedDay, one: Case, other: Case) -> int:
    """Minutes between two cases, negative when they overlap."""
    (a, b), (c, d) = wheels(planned, one), wheels(planned, other)
    return max(minutes_between(b, c), minutes_between(d, a))


def _gap_wanted(planned: PlannedDay, case: Case, other: Case) -> int:
    """The turnover, or what the schedule itself has between the two when that is less."""
    turnover = planned.context.site.settings.turnover
    before, beside = planned.cases[case.number], planned.cases[other.number]
    if before.room != beside.room:
        return turnover
    return min(turnover, max(0, _gap(planned, before, beside)))


def _people_are_busy(planned: PlannedDay, cases: Mapping[str, Case], case: Case) -> Objection | None:
    for number, person in planned.colleagues(case.number).items():
        if number not in cases:
            continue
        overlap = -_gap(planned, case, cases[number])
        already = -_gap(planned, planned.cases[case.number], planned.cases[number])
        if overlap > max(0, already):
            return Objection(ObjectionKind.PERSON_BUSY, case, number, person)
    return None
