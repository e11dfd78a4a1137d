"""A set's way through the department: as the forward run predicts it, else as its route was walked."""

from __future__ import annotations

from datetime import datetime

from picklist.documents.board.index import BoardIndex
from picklist.model.department import SetRun, StepRun, headline
from picklist.model.uses import Pace, Reuse, StepTime


class SetWay:
    """From release to ready; ``received``: in decontamination.

    ``due`` and ``deadlines`` come from the use that waits. ``ready`` is the time that every paper says, at ``pace``;
    ``queue_ready`` that of the department's run, None without one. ``usual``: when a conflict's proof has it ready.
    """

    def __init__(self, own: SetRun | Reuse, reuse: Reuse | None, usual: datetime | None = None) -> None:
        run = own if isinstance(own, SetRun) else None
        ready = headline(reuse, run)
        self.released = own.released
        self.received = own.received
        self.ready = ready.at
        self.pace = ready.pace
        if reuse is None and usual is not None and usual >= ready.at:
            self.ready, self.pace = usual, Pace.USUAL
        self.queue_ready = run.ready if run else None
        self.unopened_ready = reuse.if_unopened_ready if reuse else None
        self.deadlines = reuse.deadlines if reuse else ()
        steps: list[StepRun | StepTime]
        if isinstance(own, SetRun):
            self.giver, self.waiter, self.due = own.from_case, own.for_case, own.due
            steps = [*own.steps]
        else:
            self.giver, self.waiter, self.due = own.giver, own.waiter, own.needed
            steps = [*own.walk.steps]
        self.steps = tuple(sorted(steps, key=lambda one: one.begins))


def way_of(index: BoardIndex, set_id: str, giver: str) -> SetWay | None:
    """The way of a set after a case (empty: from its state now); None when it has none on the board."""
    run = index.runs.get((set_id, giver))
    reuse = next((one for one in index.plan.reuses if one.set_id == set_id and one.giver == giver), None)
    own = run or reuse
    way = SetWay(own, reuse, index.usual_ready.get((set_id, giver))) if own else None
    return way if way and index.axis.shows(way.released, way.ready) else None


def walked(reuse: Reuse) -> SetWay:
    """A set's way at usual pace, from which its deadlines are counted."""
    return SetWay(reuse, reuse)
