"""Whether cases may stand where an edit puts them: rooms, hours, turnover, people, and what may move at all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, time

from picklist.clock import minutes_between, shift
from picklist.model.schedule import Case, CaseStatus
from picklist.sets.case_uses import case_times
from picklist.sets.remedies.planned_day import Edited, PlannedDay


def why_not(evening: PlannedDay, edited: Edited) -> str:
    """Why the touched cases may not stand where they are put; empty when they may."""
    moved = [edited.cases[number] for number in edited.touched if number in edited.cases]
    for case in moved:
        before = evening.cases[case.number]
        if (case.start, case.room) == (before.start, before.room):
            continue
        reason = (
            _fixed(evening, before)
            or _hours(evening, case)
            or _room_is_taken(evening, edited.cases, case)
            or _people_are_busy(evening, edited.cases, case)
        )
        if reason:
            return reason
    return ""


def allowed_starts(evening: PlannedDay, case: Case, room: str) -> list[tuple[datetime, datetime]]:
    """The spans of starts at which a case alone may be moved into a room, ends included, in order.

    The same rules as ``why_not``, as gaps between what stands in the way.
    """
    placed = replace(case, room=room)
    if _fixed(evening, case):
        return []
    lead = minutes_between(wheels(evening, case)[0], case.start)
    settings = evening.context.site.settings
    first = max(opening(evening, placed), shift(evening.context.now, settings.setup_lead))
    already = last_end(evening, evening.cases, placed)
    last = shift(max(closing(evening, placed), already or first), -case.minutes)
    spans = [(first, last)] if first <= last else []
    for begins, ends in _in_the_way(evening, placed):
        spans = [piece for span in spans for piece in _without(span, begins, ends)]
    clock = settings.site_clock
    moved = [(shift(begins, lead), shift(ends, lead)) for begins, ends in spans]
    return [span for span in moved if clock.day(span[0]) == case.day == clock.day(span[1])]


def _in_the_way(evening: PlannedDay, placed: Case) -> list[tuple[datetime, datetime]]:
    """Open spans of wheels-in that the room's other cases, or the case's people, rule out."""
    found = []
    for other in evening.cases.values():
        if other.number != placed.number and (other.room, other.day) == (placed.room, placed.day):
            begins, ends = wheels(evening, other)
            gap = _gap_wanted(evening, placed, other)
            found.append((shift(begins, -placed.minutes - gap), shift(ends, gap)))
    for number in evening.colleagues(placed.number):
        other = evening.cases[number]
        begins, ends = wheels(evening, other)
        overlap = max(0, -_gap(evening, evening.cases[placed.number], other))
        found.append((shift(begins, overlap - placed.minutes), shift(ends, -overlap)))
    return found


def _without(span: tuple[datetime, datetime], begins: datetime, ends: datetime) -> list[tuple[datetime, datetime]]:
    """A closed span less an open one."""
    first, last = span
    if ends <= first or begins >= last or begins >= ends:
        return [span]
    return [piece for piece in ((first, begins), (ends, last)) if piece[0] <= piece[1]]


def wheels(evening: PlannedDay, case: Case) -> tuple[datetime, datetime]:
    """Wheels-in and wheels-out of a case."""
    key = (case.start, case.minutes)
    if key not in evening.memo:
        starts = case_times(evening.context.site.settings, case).starts
        evening.memo[key] = (starts, shift(starts, case.minutes))
    return evening.memo[key]


def closing(evening: PlannedDay, case: Case) -> datetime:
    """When the room of a case closes on its day."""
    settings = evening.context.site.settings
    room = evening.context.site.rooms.get(case.room)
    closes = (room.closes if room else None) or settings.rooms_close
    return settings.site_clock.at_or_after(case.day, closes)


def opening(evening: PlannedDay, case: Case) -> datetime:
    """When the room of a case opens on its day."""
    settings = evening.context.site.settings
    room = evening.context.site.rooms.get(case.room)
    opens: time = (room.opens if room else None) or settings.rooms_open
    return settings.site_clock.at_or_after(case.day, opens)


def last_end(evening: PlannedDay, cases: Mapping[str, Case], case: Case) -> datetime | None:
    """When the last case of the room and day ends."""
    mine = [one for one in cases.values() if (one.room, one.day) == (case.room, case.day)]
    return max((wheels(evening, one)[1] for one in mine), default=None)


def _fixed(evening: PlannedDay, case: Case) -> str:
    if not case.may_move:
        return f"case {case.number} may not move"
    if case.status is not CaseStatus.PLANNED:
        return f"case {case.number} has begun"
    if wheels(evening, case)[0] <= evening.context.now:
        return f"case {case.number} should have begun"
    return ""


def _hours(evening: PlannedDay, case: Case) -> str:
    clock = evening.context.site.settings.site_clock
    begins, ends = wheels(evening, case)
    needed = case_times(evening.context.site.settings, case).needed
    if needed < evening.context.now:
        return f"the cart of case {case.number} would be due before now"
    if clock.day(case.start) != case.day or begins < opening(evening, case):
        return f"{case.room} is not open then"
    already = last_end(evening, evening.cases, case)
    if ends > max(closing(evening, case), already or ends.min.replace(tzinfo=ends.tzinfo)):
        return f"{case.room} closes before case {case.number} would end"
    return ""


def _room_is_taken(evening: PlannedDay, cases: Mapping[str, Case], case: Case) -> str:
    for other in cases.values():
        if other.number == case.number or (other.room, other.day) != (case.room, case.day):
            continue
        if _gap(evening, case, other) < _gap_wanted(evening, case, other):
            return f"{case.room} has case {other.number} then"
    return ""


def _gap(evening: PlannedDay, one: Case, other: Case) -> int:
    """Minutes between two cases, negative when they overlap."""
    (a, b), (c, d) = wheels(evening, one), wheels(evening, other)
    return max(minutes_between(b, c), minutes_between(d, a))


def _gap_wanted(evening: PlannedDay, case: Case, other: Case) -> int:
    """The turnover, or what the schedule itself has between the two when that is less."""
    turnover = evening.context.site.settings.turnover
    before, beside = evening.cases[case.number], evening.cases[other.number]
    if (before.room, before.day) != (beside.room, beside.day):
        return turnover
    return min(turnover, max(0, _gap(evening, before, beside)))


def _people_are_busy(evening: PlannedDay, cases: Mapping[str, Case], case: Case) -> str:
    for number, person in evening.colleagues(case.number).items():
        if number not in cases:
            continue
        overlap = -_gap(evening, case, cases[number])
        already = -_gap(evening, evening.cases[case.number], evening.cases[number])
        if overlap > max(0, already):
            return f"{person} is in case {number} then"
    return ""
