"""Card lines that remove or replace what no card beneath them asks for, whether scheduled or not."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import date

from picklist.model.cards import CardLine, Change, ThingKind
from picklist.model.site import Site
from picklist.problems import Problem
from picklist.resolve.desk import mending
from picklist.resolve.versions import Target, dates_hold, target_of

Owner = tuple[str | None, str | None]
HOUSE: Owner = (None, None)


def find_idle_lines(site: Site, day: date) -> tuple[Problem, ...]:
    """A problem for each approved line in force on a day that can find nothing on any card.

    Conditions and sides are not looked at. A line for every procedure is idle only if no
    procedure's card has what it speaks of; resolving cannot see that from one case.
    """
    lines = [line for line in site.card_lines if line.approved and dates_hold(line, day)]
    owners: dict[Target, set[Owner]] = defaultdict(set)
    for line in lines:
        if _brings_something(line, site):
            owners[line.kind, line.thing].add((line.procedure, line.surgeon))
    for procedure in site.procedures.values():
        if procedure.pack:
            owners[ThingKind.PACK, procedure.pack].add((procedure.id, None))
    return tuple(_idle(line) for line in lines if line.change is not Change.ADD and not _finds(line, site, owners))


def _brings_something(line: CardLine, site: Site) -> bool:
    """Whether a line puts a thing on the card that need not be there before."""
    if line.change is Change.REPLACE:
        return target_of(line, site) != (line.kind, line.thing)
    return line.change is Change.ADD


def _finds(line: CardLine, site: Site, owners: Mapping[Target, set[Owner]]) -> bool:
    own = (line.procedure, line.surgeon)
    return any(_is_beneath(owner, own) for owner in owners.get(target_of(line, site), ()))


def _is_beneath(owner: Owner, line: Owner) -> bool:
    """Whether an owner's lines lie in the layer of a line's owner or in one beneath it."""
    (procedure, surgeon), (line_procedure, line_surgeon) = owner, line
    if line == HOUSE:
        return True
    if owner == HOUSE:
        return False
    if procedure is None and line_procedure is not None:
        return False
    return line_procedure in (None, procedure) and surgeon in (None, line_surgeon)


def _idle(line: CardLine) -> Problem:
    verb = "removes" if line.change is Change.REMOVE else "replaces"
    thing = line.instead_of if verb == "replaces" and line.instead_of else line.thing
    return mending(f"{verb} nothing", line.where, f"no card beneath this line has {thing}")
