"""A set's day against its deadlines: for each act the latest moment beside the moment that is expected."""

from __future__ import annotations

from datetime import datetime, timedelta

from picklist import wording
from picklist.clock import minutes_between
from picklist.documents.board.index import BoardIndex, Ref
from picklist.documents.board.set_ways import SetWay, walked, way_of
from picklist.documents.views.finished_words import View
from picklist.documents.views.scale import Scale
from picklist.model.uses import Act, Deadline, Pace, Reuse, end_of, start_of
from picklist.wording.say_conflicts import overrun_words

EDGE = timedelta(minutes=20)


class StepOnStrip(View):
    """One act; ``at`` and ``latest_at`` are per cent of the strip's width, None when it is not known."""

    def __init__(self, index: BoardIndex, one: Deadline, expected: datetime | None, scale: Scale) -> None:
        spare = minutes_between(expected, one.latest) if expected else None
        self.act = one.act
        self.station = one.station
        self.expected = index.found.when(expected)
        self.latest = index.found.when(one.latest)
        self.last_resort = index.found.when(one.last_resort)
        self.spare = "" if spare is None else wording.to_spare(spare).removesuffix(" to spare")
        self.late = spare is not None and spare < 0
        self.at = scale.per_cent(expected, 1) if expected else None
        self.latest_at = scale.per_cent(one.latest, 1)
        self.resort_at = scale.per_cent(one.last_resort, 1)


class DeadlineStrip(View):
    """The day of one set that must be made usable, on its way to the case that waits for it."""

    def __init__(self, index: BoardIndex, reuse: Reuse) -> None:
        way = way_of(index, reuse.set_id, reuse.giver)
        if way and way.pace is Pace.USUAL:
            way = walked(reuse)
        expected = _expected(index, reuse, way)
        moments = [m for one in reuse.deadlines for m in (one.latest, one.last_resort)]
        moments += [moment for moment in expected.values() if moment]
        scale = Scale(
            begins=min(moments, default=reuse.released) - EDGE, ends=max(moments, default=reuse.needed) + EDGE
        )
        self.set_id = reuse.set_id
        self.source = index.case_ref(reuse.giver) if reuse.giver else Ref(text="")
        self.source_note = "" if reuse.giver else reuse.from_state
        self.target = index.case_ref(reuse.waiter)
        self.predicted = wording.PACE_WORDS[way.pace if way else Pace.USUAL]
        self.slack = index.found.spare(reuse)
        self.chance = index.found.risk(reuse)
        self.overrun = overrun_words(reuse)
        self.acts = tuple(StepOnStrip(index, one, expected.get(one.act), scale) for one in reuse.deadlines)


def _expected(index: BoardIndex, reuse: Reuse, way: SetWay | None) -> dict[str, datetime | None]:
    """When each act is expected, by the words in which its deadline is named."""
    if way is None:
        return {}
    given = [a.use for a in index.uses_of.get(reuse.set_id, ()) if a.use.case == reuse.giver]
    moments: dict[str, datetime | None] = {start_of(step.step): step.begins for step in way.steps}
    for step in way.steps:
        moments |= {one.act: step.begins for one in reuse.deadlines if one.is_start_of(step.step)}
    moments |= {end_of(step.step): step.ends for step in way.steps}
    moments |= {Act.INTO_DECONTAMINATION: way.received, Act.ON_CART: way.ready}
    if reuse.deadline_of(Act.OFF_CART):
        moments[Act.OFF_CART] = index.plan.now
    if given:
        moments[Act.OUT_OF_ROOM] = given[0].leaves_room
    return moments
