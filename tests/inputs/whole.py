"""What the reader promises of a site: a live case that no problem stops has everything it refers to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from picklist.model.cards import CardLine, ThingKind
from picklist.model.schedule import Case, CaseStatus
from picklist.model.site import Site
from picklist.problems import Problem, Severity


def gaps(site: Site, problems: tuple[Problem, ...]) -> Iterator[str]:
    """Each broken promise in words."""
    yield from doubles(site)
    for line in site.card_lines:
        yield from missing("card line", line.thing, catalogue(site, line))
        yield from missing("card line", line.procedure, site.procedures)
        yield from missing("card line", line.surgeon, site.staff)
    for tray in site.trays.values():
        yield from missing(tray.id, tray.route, site.routes)
        for other in tray.stand_ins:
            yield from missing(tray.id, other.tray, site.trays)
    for one in site.sets.values():
        yield from missing(one.id, one.tray, site.trays)
    for route in site.routes.values():
        yield from route_gaps(site, route.id)
    for pack in site.packs.values():
        for inside in pack.lines:
            yield from missing(pack.id, inside.item, site.items)
    for procedure in site.procedures.values():
        yield from missing(procedure.id, procedure.pack, site.packs)
    for lot in site.lots:
        yield from missing("lot", lot.item, {**site.items, **site.packs})
    stopped = {case for one in problems if one.severity is Severity.STOPS_CASE for case in one.cases}
    for case in site.cases:
        if case.number not in stopped and case.status in (CaseStatus.PLANNED, CaseStatus.RUNNING):
            yield from case_gaps(site, case)


def case_gaps(site: Site, case: Case) -> Iterator[str]:
    if case.minutes < 1 or not case.procedures:
        yield f"{case.number} has no minutes or procedures"
    for procedure in case.procedures:
        yield from missing(case.number, procedure, site.procedures)
    for person in (case.surgeon, *case.team):
        yield from missing(case.number, person, site.staff)


def route_gaps(site: Site, route: str) -> Iterator[str]:
    seen: set[str] = set()
    for step in site.routes[route].steps:
        if not seen.issuperset(step.after):
            yield f"{step.name} of {route} stands before what it waits for"
        if not 0 <= step.least_minutes <= step.usual_minutes:
            yield f"{step.name} of {route} is quicker than it can be"
        seen.add(step.name)
        yield from missing(step.name, step.station, site.stations)
        yield from missing(step.name, step.run, {one.run: one for one in site.departures})
    if not seen:
        yield f"{route} has no steps"


def doubles(site: Site) -> Iterator[str]:
    numbers = [case.number.casefold() for case in site.cases]
    if len(numbers) != len(set(numbers)):
        yield "a case number stands twice"
    for table in (site.items, site.trays, site.sets, site.procedures, site.staff):
        if len({key.casefold() for key in table}) != len(table):
            yield "an id stands twice"


def catalogue(site: Site, line: CardLine) -> Mapping[str, object]:
    return {ThingKind.TRAY: site.trays, ThingKind.PACK: site.packs, ThingKind.ITEM: site.items}[line.kind]


def missing(who: str, one: str | None, table: Mapping[str, object]) -> Iterator[str]:
    if one and one not in table:
        yield f"{who} refers to {one}"
