"""Lines that plainly find what they remove or replace: the lines alone show it, and no case need be resolved for it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from picklist.grouping import grouped
from picklist.model.cards import CardLine, Change, ThingKind
from picklist.model.site import Site
from picklist.resolve.versions import dates_hold, is_known, target_of


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
