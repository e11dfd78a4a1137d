"""Changes applied to a site by other means than the program's own, and judged on a plan made from nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from picklist.model.conflicts import ConflictKind, Edit, RemedyKind
from picklist.model.schedule import Case, CaseStatus
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site
from picklist.model.uses import Use
from picklist.sets.plan_sets import plan_sets
from tests.sets.random_sites import Evening

ORDER = ("tight", "reserve", "conditional", "rush", "short")
Moves = Mapping[str, tuple[datetime, str]]  # start and room by case


@dataclass(frozen=True, kw_only=True)
class Trouble:
    """A conflict in figures; a shortage of no minutes is one for which no set ever comes."""

    kind: ConflictKind
    minutes: int
    case: str

    def no_worse_than(self, other: Trouble) -> bool:
        if self.kind is not other.kind:
            return ORDER.index(self.kind) < ORDER.index(other.kind)
        if self.kind is ConflictKind.TIGHT:
            return self.minutes >= other.minutes
        mine, theirs = (one.minutes or 10**6 for one in (self, other))
        return mine <= theirs


def troubles(evening: Evening) -> dict[str, Trouble]:
    plan = plan_sets(evening.site, evening.uses, evening.now, remedies=False)
    return {one.id: Trouble(kind=one.kind, minutes=one.minutes, case=one.waiter) for one in plan.conflicts}


def removes(before: Mapping[str, Trouble], after: Mapping[str, Trouble], target: str, moved: set[str]) -> bool:
    """The target is gone or only tight, nothing is new or worse, and no moved case is late or goes without."""
    left = after.get(target)
    if left and (left.kind is not ConflictKind.TIGHT or before[target].kind is ConflictKind.TIGHT):
        return False
    others = {key: one for key, one in after.items() if key != target}
    if any(key not in before or not one.no_worse_than(before[key]) for key, one in others.items()):
        return False
    late = {ConflictKind.SHORT, ConflictKind.RUSH, ConflictKind.CONDITIONAL}
    return not any(one.case in moved and one.kind in late and one.minutes for one in others.values())


def moves_of(evening: Evening, edit: Edit) -> Moves:
    """Where an edit puts which cases; two that are exchanged leave the gaps of the room as they are."""
    cases = {one.number: one for one in evening.site.cases}
    one = cases[edit.case]
    if edit.kind is not RemedyKind.SWAP:
        return {edit.case: (edit.start or one.start, edit.room or one.room)}
    other = cases[edit.other_case]
    room = sorted((c for c in live(evening.site) if (c.room, c.day) == (one.room, one.day)), key=_place)
    gaps = [(b.start - a.start - timedelta(minutes=a.minutes)) for a, b in pairwise(room)]
    swapped = [{one.number: other, other.number: one}.get(c.number, c) for c in room]
    starts, moment = {}, room[0].start
    for place, c in enumerate(swapped):
        starts[c.number] = (moment, c.room)
        moment += timedelta(minutes=c.minutes) + (gaps[place] if place < len(gaps) else timedelta())
    return {number: where for number, where in starts.items() if where[0] != cases[number].start}


def with_moves(evening: Evening, moves: Moves) -> Evening:
    site = evening.site
    cases = {one.number: one for one in site.cases}
    moved = {n: replace(cases[n], start=start, room=room) for n, (start, room) in moves.items()}
    uses = tuple(_with_case(site, use, cases[use.case], moved.get(use.case)) for use in evening.uses)
    return replace(
        evening, site=replace(site, cases=tuple(moved.get(one.number, one) for one in site.cases)), uses=uses
    )


def with_one_more(evening: Evening, use: Use) -> Evening:
    """One more set that stands on the shelf of the building where it is wanted."""
    places = evening.site.places.values()
    home = next((place.id for place in places if place.building == use.building), "")
    one = InstrumentSet(id="ONE MORE", tray=use.tray, state=SetState.ON_SHELF, place=home, size=use.size, side=use.side)
    return replace(evening, site=replace(evening.site, sets={**evening.site.sets, one.id: one}))


def with_route(evening: Evening, tray: str, step: str, minutes: int) -> Evening:
    """All sets of a tray with less waiting at a step: the same as for one set where there is only one."""
    site = evening.site
    name = site.trays[tray].route
    steps = tuple(
        replace(one, usual_minutes=one.usual_minutes - minutes) if one.name == step else one
        for one in site.routes[name].steps
    )
    routes = {**site.routes, "less waiting": replace(site.routes[name], id="less waiting", steps=steps)}
    trays = {**site.trays, tray: replace(site.trays[tray], route="less waiting")}
    return replace(evening, site=replace(site, routes=routes, trays=trays))


def live(site: Site) -> list[Case]:
    return [one for one in site.cases if one.status in (CaseStatus.PLANNED, CaseStatus.RUNNING)]


def forbidden(evening: Evening, moves: Moves) -> bool:
    """Whether hours, rooms, people or the cases themselves forbid moves."""
    before = {one.number: one for one in live(evening.site)}
    moved = {n: replace(before[n], start=start, room=room) for n, (start, room) in moves.items() if n in before}
    after = {**before, **moved}
    return len(moved) < len(moves) or any(
        _may_not_go(evening, before[n], one)
        or any(_clash(evening.site, (before[n], one), (before[m], other)) for m, other in after.items() if m != n)
        for n, one in moved.items()
        if (one.start, one.room) != (before[n].start, before[n].room)
    )


def _may_not_go(evening: Evening, was: Case, one: Case) -> bool:
    settings, room = evening.site.settings, evening.site.rooms.get(one.room)
    zone = ZoneInfo(settings.time_zone)
    opens = (room and room.opens) or settings.rooms_open
    closes = (room and room.closes) or settings.rooms_close
    first, last = (datetime.combine(one.day, wall, tzinfo=zone) for wall in (opens, closes))
    there = [_end(c) for c in live(evening.site) if (c.room, c.day) == (one.room, one.day)]
    return (
        not was.may_move
        or was.status is not CaseStatus.PLANNED
        or was.start <= evening.now
        or one.start - timedelta(minutes=settings.setup_lead) < evening.now
        or one.start.astimezone(zone).date() != one.day
        or one.start < first
        or _end(one) > max([last, *there])
    )


def _clash(site: Site, one: tuple[Case, Case], other: tuple[Case, Case]) -> bool:
    """Each as it was and as it is: too little between them in a room, or a person in both longer than before."""
    (one_was, one_is), (other_was, other_is) = one, other
    gap, was = _gap(one_is, other_is), _gap(one_was, other_was)
    if (one_is.room, one_is.day) == (other_is.room, other_is.day):
        wanted = timedelta(minutes=site.settings.turnover)
        if (one_was.room, one_was.day) == (other_was.room, other_was.day):
            wanted = min(wanted, max(timedelta(), was))
        if gap < wanted:
            return True
    shared = {one_is.surgeon, *one_is.team} & {other_is.surgeon, *other_is.team} - {""}
    return bool(shared) and -gap > max(timedelta(), -was)


def _gap(one: Case, other: Case) -> timedelta:
    return max(other.start - _end(one), one.start - _end(other))


def _end(one: Case) -> datetime:
    return one.start + timedelta(minutes=one.minutes)


def _place(one: Case) -> tuple[datetime, str]:
    return one.start, one.number


def _with_case(site: Site, use: Use, was: Case, one: Case | None) -> Use:
    if one is None:
        return use
    later = one.start - was.start
    room = site.rooms.get(one.room)
    return replace(
        use,
        needed=use.needed + later,
        starts=use.starts + later,
        ends=use.ends + later,
        leaves_room=use.leaves_room + later,
        received=use.received + later,
        building=room.building if room else "",
    )
