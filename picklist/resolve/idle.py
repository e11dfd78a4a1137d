"""What lines that remove or replace show by themselves: that no card has their thing, or that theirs plainly has.

The first is asked of lines for every procedure: resolving lets them act where they can, so one case cannot show that
they never do. The second is asked of a procedure's lines, which stop a case when they find nothing: where it holds, no
case need be resolved for it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date

from picklist.grouping import grouped
from picklist.model.cards import CardLine, Change, ThingKind
from picklist.model.site import Site
from picklist.problems import Problem
from picklist.resolve.card_index import Target
from picklist.resolve.versions import dates_hold, is_known, target_of
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


class PlainCards:
    """What the base cards and the surgeons' cards of a site say of each thing."""

    def __init__(self, site: Site, lines: Iterable[CardLine]) -> None:
        """Take the lines of a site that may count on the days that are asked for, all that are in force among them."""
        self._site = site
        self._about = grouped(((line.procedure, line.surgeon, *target_of(line, site)), line) for line in lines)

    def plainly_finds(self, line: CardLine, day: date) -> bool:
        """Whether a surgeon's line for one procedure is sure to find on a day what it changes.

        So it is where it is the only one of its card about that thing, and the base card brings the thing in
        the one line that it has about it, whatever the case is.
        """
        if line.procedure is None or line.surgeon is None:
            return False
        target = target_of(line, self._site)
        beneath = self._about.get((line.procedure, None, *target), [])
        beside = self._about[line.procedure, line.surgeon, *target]
        return len(beneath) == len(beside) == 1 and self._brings_always(beneath[0], day)

    def _brings_always(self, line: CardLine, day: date) -> bool:
        if line.change is not Change.ADD or not line.approved or not dates_hold(line, day):
            return False
        if line.side or line.only_if or not is_known(self._site, line.kind, line.thing):
            return False
        return line.kind is not ThingKind.TRAY or not self._site.trays[line.thing].sided
