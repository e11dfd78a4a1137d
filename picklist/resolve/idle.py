"""Find lines for every procedure that remove or replace what no card has.

Resolving lets them act where they can, so one case cannot show that they never do. A line of a
named procedure that finds nothing stops its case when it is resolved.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import date

from picklist.model.cards import CardLine, Change, ThingKind
from picklist.model.site import Site
from picklist.problems import Problem
from picklist.resolve.card_index import Target
from picklist.resolve.versions import dates_hold, target_of
from picklist.wording.card_problems import idle_line

Owner = tuple[str | None, str | None]
HOUSE: Owner = (None, None)


def find_idle_lines(site: Site, day: date) -> tuple[Problem, ...]:
    """A problem for each approved line for every procedure, in force on a day, that no card has work for.

    Conditions and sides are not looked at.
    """
    lines = [line for line in site.card_lines if line.approved and dates_hold(line, day)]
    owners: dict[Target, set[Owner]] = defaultdict(set)
    for line in lines:
        if _brings_something(line, site):
            owners[line.kind, line.thing].add((line.procedure, line.surgeon))
    for procedure in site.procedures.values():
        if procedure.pack:
            owners[ThingKind.PACK, procedure.pack].add((procedure.id, None))
    rules = [line for line in lines if line.procedure is None and line.change is not Change.ADD]
    return tuple(idle_line(line) for line in rules if not _finds(line, site, owners))


def _brings_something(line: CardLine, site: Site) -> bool:
    """Whether a line puts a thing on the card that need not be there before."""
    if line.change is Change.REPLACE:
        return target_of(line, site) != (line.kind, line.thing)
    return line.change is Change.ADD


def _finds(line: CardLine, site: Site, owners: Mapping[Target, set[Owner]]) -> bool:
    """Whether any card beneath has it: for the house any line, for a surgeon all but the house's and others'."""
    found = owners.get(target_of(line, site), set())
    if line.surgeon is None:
        return bool(found)
    return any(owner != HOUSE and owner[1] in (None, line.surgeon) for owner in found)
