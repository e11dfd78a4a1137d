"""Each set's way through the department drawn against its deadline, all to one scale of time."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from picklist.clock import shift
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.scale import Scale
from picklist.documents.views.view import View
from picklist.model.department import SetRun

EDGE = 15  # minutes of white at either end


class SetDay(View):
    """One set: stretches of (begins, length, ``work`` or ``wait``), and where it is due."""

    def __init__(self, scale: Scale, run: SetRun, due: datetime) -> None:
        self.set_id = run.set_id
        self.bars = _bars(scale, run)
        self.due = scale.share(due)


class SetDays(View):
    """The runs that are due over one scale; none gives an empty drawing."""

    def __init__(self, found: Lookup, runs: Sequence[SetRun]) -> None:
        due = [(run, run.due) for run in runs if run.due]
        begins = min((run.released for run, _ in due), default=found.plan.now)
        ends = max((max(run.ready, when) for run, when in due), default=found.plan.now)
        scale = Scale(begins=shift(begins, -EDGE), ends=shift(ends, EDGE))
        self.ticks = scale.ticks(found.clock) if due else ()
        self.rows = tuple(SetDay(scale, run, when) for run, when in due)


def _bars(scale: Scale, run: SetRun) -> tuple[tuple[float, float, str], ...]:
    """Waiting and working stretches of a run, in order; none of no length."""
    stretches = []
    for step in run.steps:
        stretches += [(step.arrives, step.begins, "wait"), (step.begins, step.ends, "work")]
    drawn = [(scale.share(begins), scale.share(ends), kind) for begins, ends, kind in stretches]
    return tuple((begins, round(ends - begins, 4), kind) for begins, ends, kind in drawn if ends > begins)
