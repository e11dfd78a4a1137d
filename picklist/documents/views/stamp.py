"""What stands at the foot of every page: site, revision, time printed and what it replaces."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from picklist.cautions import AID
from picklist.clock import SiteClock
from picklist.model.plan import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Printing:
    """Which revision a sheet belongs to and when it was made; ``replaces`` None for a first one."""

    revision: int
    printed: datetime
    replaces: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PageFoot:
    """The foot of a page in finished words."""

    site: str
    paper: str
    revision: str
    printed: str
    replaces: str
    aid: str = AID


def printing_of(plan: Plan) -> Printing:
    """The plan's own revision and time."""
    return Printing(revision=plan.revision, printed=plan.now, replaces=plan.replaces)


def stamp_for(plan: Plan, printing: Printing, clock: SiteClock) -> PageFoot:
    """The foot of the sheets of one printing."""
    return PageFoot(
        site=plan.settings.site,
        paper=plan.settings.paper.in_typst,
        revision=f"Revision {printing.revision}",
        printed=f"printed {clock.stamp(printing.printed)}",
        replaces="first printing" if printing.replaces is None else f"replaces revision {printing.replaces}",
    )
