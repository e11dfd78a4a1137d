"""Cases that cannot all be so: in one room, with one surgeon, or against the clock."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta

from picklist.clock import SiteClock, shift
from picklist.grouping import grouped
from picklist.model.schedule import Case, CaseStatus
from picklist.model.site import Site
from picklist.problems import Problem, notice, to_fix

EARLY = timedelta(hours=2)  # a case may begin before its time, but hardly more
OVERRUN = timedelta(hours=3)  # a case may take longer than planned, but rarely so long
FAR = timedelta(days=366)
NAMED = 3  # cases that are named beside their count


def check_rooms(site: Site, _now: datetime) -> Iterator[Problem]:
    """Two live cases in one room at the same time."""
    for room, cases in _grouped(site, "room").items():
        for first, second in _overlaps(cases):
            message = (
                f"case {second.number} starts in {room} at {site.settings.site_clock.hhmm(second.start)}, "
                f"while case {first.number} is planned there until {site.settings.site_clock.hhmm(_end(first))}"
            )
            yield to_fix(
                "cases overlap in a room", second.where.at("start"), message, related=(first.where.at("start"),)
            )


def check_surgeons(site: Site, _now: datetime) -> Iterator[Problem]:
    """One surgeon in two rooms at the same time."""
    for surgeon, cases in _grouped(site, "surgeon").items():
        for first, second in _overlaps(cases):
            if first.room == second.room:
                continue  # said of the room already
            name = site.staff[surgeon].name if surgeon in site.staff else surgeon
            message = (
                f"{name} is to start case {second.number} in {second.room} at "
                f"{site.settings.site_clock.hhmm(second.start)}, while case {first.number} in {first.room} "
                f"is planned until {site.settings.site_clock.hhmm(_end(first))}"
            )
            yield to_fix(
                "surgeon in two rooms", second.where.at("surgeon"), message, related=(first.where.at("surgeon"),)
            )


def check_room_hours(site: Site, _now: datetime) -> Iterator[Problem]:
    """Notices for rooms that close before they open, which count as closing on the next day."""
    for room in site.rooms.values():
        opens, closes = room.opens or site.settings.rooms_open, room.closes or site.settings.rooms_close
        if closes <= opens:
            first, last = (site.settings.site_clock.wall_text(one) for one in (opens, closes))
            message = f"{room.id} opens at {first} and closes at {last}; it was taken to close on the next day"
            yield notice("room closes before it opens", room.where.at("closes"), message, value=last)


def check_case_times(site: Site, now: datetime) -> Iterator[Problem]:
    """Cases whose status and time do not go together at ``now``, or that are a year away."""
    over = [case for case in site.cases if case.status is CaseStatus.PLANNED and _end(case) <= now]
    yield from _still_planned(over, site.settings.site_clock, site.settings.site_clock.day(now))
    for case in site.cases:
        begins = site.settings.site_clock.stamp(case.start)
        if case.is_running and case.start - EARLY > now:
            yield to_fix(
                "running before its start",
                case.where.at("status"),
                f"case {case.number} is running, but starts {begins}",
            )
        elif case.is_running and _end(case) + OVERRUN < now:
            ended = site.settings.site_clock.stamp(_end(case))
            late = f"case {case.number} is still running, but should have ended {ended}"
            message = f"{late}; its sets count as leaving the room now"
            yield notice("running long after its end", case.where.at("status"), message)
        elif case.status is CaseStatus.DONE and case.start > now:
            yield to_fix(
                "done before its start", case.where.at("status"), f"case {case.number} is done, but starts {begins}"
            )
        elif case.start - now > FAR:
            message = f"case {case.number} starts more than a year from now"
            yield notice("far away", case.where.at("day"), message)


def _still_planned(over: list[Case], clock: SiteClock, today: date) -> Iterator[Problem]:
    """What cases that nobody wrote off do to the plan: today they still bind their sets, later they are left out."""
    for cases in ([one for one in over if one.day < today], [one for one in over if one.day >= today]):
        if not cases:
            continue
        several = len(cases) > 1
        named = ", ".join(one.number for one in cases[:NAMED])
        more = f" and {len(cases) - NAMED} more" if len(cases) > NAMED else ""
        told = f"{len(cases)} cases are" if several else f"case {named} is"
        effect, last = "no list is needed", clock.hhmm(max(_end(one) for one in cases))
        if cases[0].day >= today:
            effect = "until the status is corrected, sets count as used until "
            effect += f"the planned ends, the last at {last}" if several else last
        message = f"{told} still planned, but would be over by now{f' ({named}{more})' if several else ''}; {effect}"
        yield notice("planned in the past", cases[0].where.at("status"), message)


def _grouped(site: Site, by: str) -> dict[str, list[Case]]:
    lasting = (case for case in site.cases if case.is_live and case.minutes > 0)
    return grouped((key, case) for case in lasting if (key := getattr(case, by)))


def _overlaps(cases: Iterable[Case]) -> Iterator[tuple[Case, Case]]:
    """Each case that begins before an earlier one ends, with the one that ends last."""
    longest: Case | None = None
    for case in sorted(cases, key=lambda one: (one.start, one.number)):
        if longest is not None and case.start < _end(longest):
            yield longest, case
        if longest is None or _end(case) > _end(longest):
            longest = case


def _end(case: Case) -> datetime:
    return shift(case.start, case.minutes)
