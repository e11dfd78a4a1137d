"""Buildings: they have no table of their own, so that a slip in a name makes a building to which no way leads."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import datetime

from picklist.checks.spelling import NamedCell
from picklist.model.site import Site
from picklist.problems import Problem, to_fix
from picklist.sets.walk import begins_in_room, steps_for
from picklist.tables.nearest import Candidates, plain
from picklist.tables.private import may_be_quoted
from picklist.wording import counted


def check_buildings(site: Site, _now: datetime) -> Iterator[Problem]:
    """Buildings spelled in two ways, ways from or to a building of which nothing else is known, and ways to itself."""
    rooms = [NamedCell(name=one.building, column="building", where=one.where) for one in site.rooms.values()]
    places = [NamedCell(name=one.building, column="building", where=one.where) for one in site.places.values()]
    ways = [
        NamedCell(name=name, column=f"{end} building", where=one.where)
        for one in site.transfers
        for end, name in (("from", one.from_building), ("to", one.to_building))
    ]
    yield from _not_said(rooms, places)
    yield from _spelled_in_two_ways([*rooms, *places, *ways])
    yield from _leading_nowhere(ways, [*rooms, *places])
    for one in site.transfers:
        if one.from_building == one.to_building:
            message = f"this transfer goes from {one.from_building} to itself"
            yield _problem(
                "way to itself", NamedCell(name=one.to_building, column="to building", where=one.where), message
            )


def check_reach(site: Site, _now: datetime) -> Iterator[Problem]:
    """Rooms in a building in which no place is and to which no way leads, where the places name other buildings."""
    homes = {one.building for one in site.places.values()} - {""}
    rooms = sorted({one.building for one in site.rooms.values()} - {""})
    ends, meant = {one.to_building for one in site.transfers}, Candidates(rooms)
    slips = {room for end in ends - homes - set(rooms) for room in meant.nearest(end)}  # told at the way itself
    reached = homes | ends | slips
    spelled = {plain(name) for name in reached}
    nearest = Candidates(sorted(homes))
    for room in site.rooms.values():
        if homes and room.building and room.building not in reached and plain(room.building) not in spelled:
            named = NamedCell(name=room.building, column="building", where=room.where)
            message = f"no place is in {room.building} and no transfer goes there, so no set reaches {room.id}"
            found = nearest.nearest(room.building)
            expected = "a building that has places, or a row in Transfers that goes there"
            yield _problem("building out of reach", named, message, expected, found)


def check_ways_back(site: Site, _now: datetime) -> Iterator[Problem]:
    """Ways on which ready sets go to rooms of another building and from which no way leads back for the used ones.

    A route that begins in the room has its own way to decontamination; a way that leads to itself is reported as such.
    """
    listed = {(one.from_building, one.to_building) for one in site.transfers}
    rooms = {one.building for one in site.rooms.values()}
    homes = {
        place.building
        for one in site.sets.values()
        if (place := site.places.get(one.place)) and (tray := site.trays.get(one.tray))
        if not begins_in_room(steps_for(site, tray))
    }
    for way in site.transfers:
        start, end = way.from_building, way.to_building
        if start in homes - {end} and end in rooms and listed.isdisjoint({(end, start), (end, end)}):
            named = NamedCell(name=end, column="to building", where=way.where)
            message = (
                f"sets from {start} are used in {end}, but no transfer back from {end} to {start} is listed, "
                "so a set used there serves no other case"
            )
            yield _problem("way back not listed", named, message, f"a row in Transfers from {end} to {start}")


def _not_said(rooms: list[NamedCell], places: list[NamedCell]) -> Iterator[Problem]:
    """Rooms or places without a building, where others have one: no way is counted for them then."""
    several = len({one.name for one in (*rooms, *places)} - {""}) > 1
    for named, other, what in ((rooms, places, "room"), (places, rooms, "place")):
        silent = [one for one in named if not one.name]
        if silent and (several or (len(silent) == len(named) and any(one.name for one in other))):
            told = f"no 'building' is stated for {len(silent)} of {counted(len(named), what)}"
            message = f"{told}, so no transfer between buildings counts there"
            yield _problem("building not said", silent[0], message, f"the building of each {what}")


def _spelled_in_two_ways(named: list[NamedCell]) -> Iterator[Problem]:
    """Names that differ in case, spaces or points only; the one written most often is taken as right."""
    counts = Counter(one.name for one in named if one.name)
    usual: dict[str, str] = {}
    for name, _ in sorted(counts.items(), key=lambda pair: (-pair[1], pair[0])):
        usual.setdefault(plain(name), name)
    for one in named:
        if one.name and usual[plain(one.name)] != one.name:
            right = usual[plain(one.name)]
            message = f"{one.name} and {right} are taken as two buildings"
            yield _problem("building in two spellings", one, message, "one spelling everywhere", (right,))


def _leading_nowhere(ways: list[NamedCell], others: list[NamedCell]) -> Iterator[Problem]:
    known = sorted({one.name for one in others if one.name})
    spelled, nearest = {plain(name) for name in known}, Candidates(known)
    for way in ways:
        if plain(way.name) not in spelled:
            message = "no room and no place is in this building"
            found = nearest.nearest(way.name)
            yield _problem("unknown building", way, message, "a building in Rooms or Places", found)


def _problem(
    kind: str, named: NamedCell, message: str, expected: str = "another building", nearest: tuple[str, ...] = ()
) -> Problem:
    value = named.name if may_be_quoted(named.name, nearest) else ""
    return to_fix(kind, named.where.at(named.column), message, value=value, expected=expected, nearest=nearest)
