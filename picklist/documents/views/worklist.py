"""Each station's worklist: the loads to put together, in the order to start them."""

from __future__ import annotations

from dataclasses import dataclass

from picklist.documents.views import words
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import Stamp, printing_of, stamp_for
from picklist.documents.views.station_load import LoadGroup, load_groups


@dataclass(frozen=True, slots=True, kw_only=True)
class WorklistView:
    """A page or more for each station, to hang up beside it."""

    stamp: Stamp
    title: str
    counts: str
    rule: str
    stations: tuple[tuple[str, tuple[LoadGroup, ...]], ...]


def worklist(found: Lookup) -> WorklistView:
    """The loads from now until the day is over, by station; none where the department was not run forwards."""
    run = found.plan.department
    groups = load_groups(found, run) if run else ()
    stations = dict.fromkeys(group.station for group in groups)
    number = sum(len(group.rows) for group in groups)
    return WorklistView(
        stamp=stamp_for(found.plan, printing_of(found.plan), found.clock),
        title=f"Worklist, {found.clock.day_text(found.day)}",
        counts=words.counted(number, "load") + f" at {words.counted(len(stations), 'station')}",
        rule=f"Served by: {run.rule}." if run else "",
        stations=tuple((one, tuple(group for group in groups if group.station == one)) for one in stations),
    )
