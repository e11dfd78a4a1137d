"""First things first: the lists of a revision are handed out as soon as they are true, and what takes long comes after.

A revision is kept when its lists are put into their folder, with a plan that says that it is being completed. The other
papers follow in the same folder when they are set, and with its remedies and chances the plan is complete. Each step is
one transaction of the state that ends with the folder put in place as a whole. A build that is cut short leaves a
revision that is never completed; the next build makes the next one, and its lists count as new with that one too.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import Self

from picklist.documents.plan_json import plan_to_json
from picklist.documents.set_ahead import SetAhead
from picklist.documents.write_plan import (
    Extent,
    ListPapers,
    MadeOnce,
    PrintOrder,
    PrintResult,
    papers_to_set,
    write_plan,
)
from picklist.evening.changes import PlanChange
from picklist.evening.keep_facts import told_so_far
from picklist.evening.keep_plans import complete_plan
from picklist.evening.revise import Revision, finish_revision, what_changes
from picklist.model.plan import Plan
from picklist.model.site import Site
from picklist.store.state import StateFile
from picklist.store.state_errors import ToldMeanwhileError
from picklist.tasks.forms_in_place import FormsTaken, joined, take_forms
from picklist.tasks.progress import Report

WORTH_IT = 4  # conflicts whose remedies are sought; the search for fewer is over before a folder is written once more
FEW = 24  # lists that are set before the search for remedies begins; more are set beside it
PRINTING = "Printing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Handed:
    """What was handed out: the plan as it is by now, what it changes, the papers, and what forms among them said."""

    plan: Plan
    change: PlanChange
    written: PrintResult
    taken: FormsTaken


@dataclass(frozen=True, slots=True, kw_only=True)
class Errand:
    """Whose papers go where: the site with its state, where the build starts, and the folder.

    ``order`` says how a plan is printed, by what is known at that moment; ``handed_out`` is told when its lists
    are there and the rest is still to come.
    """

    state: StateFile
    start: Revision
    site: Site
    now: datetime
    out: Path
    order: Callable[[Plan, PlanChange, Extent], PrintOrder]
    handed_out: Callable[[Handed], None]
    report: Report


class HandOut:
    """Hands out the papers of one revision, in steps where that pays; afterwards nothing of it goes on."""

    def __init__(self, errand: Errand) -> None:
        self._errand = errand
        self._sets = ExitStack()
        self._ahead: list[SetAhead] = []
        self._draft: Plan | None = None  # the plan that is being completed; None where all is handed out at once
        self._change: PlanChange | None = None
        self._made = MadeOnce()
        self._lists: ListPapers | None = None
        self._steps: list[Extent] = []
        self._written: list[PrintResult] = []
        self._taken: list[FormsTaken] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._sets.close()

    def carts_known(self, plan: Plan) -> None:
        """Begin with the lists of a plan of which only remedies and chances are missing. Raises StateError."""
        if len(plan.conflicts) < WORTH_IT:
            self._set_ahead(plan, Extent.LISTS)
            return
        self._draft = replace(plan, being_completed=True)
        self._steps = [Extent.LISTS, Extent.SHEETS]
        few = self._set_ahead(self._draft, Extent.LISTS) <= FEW
        self.look(wait=few)

    def look(self, *, wait: bool = False) -> None:
        """Hand out what is set by now, or once it is set. Raises StateError."""
        while self._draft and self._steps and (wait or self._ahead[-1].is_done):
            wait, extent = False, self._steps.pop(0)
            handed = self._hand_out(self._draft, extent)
            if extent is Extent.LISTS:
                self._errand.handed_out(handed)
            if self._steps:
                self._set_ahead(self._draft, self._steps[0])

    def complete(self, plan: Plan) -> Handed:
        """Hand out all that is not handed out yet. Raises StateError."""
        self._steps = []
        return self._hand_out(plan, Extent.ALL)

    def _set_ahead(self, plan: Plan, extent: Extent) -> int:
        """Begin to set what is not set yet of a plan; how many sheets that is."""
        order, out = self._order(plan, extent), self._errand.out
        self._lists, sheets = papers_to_set(plan, out, order)
        ahead = self._sets.enter_context(SetAhead())
        ahead.start(sheets)
        self._ahead.append(ahead)
        return len(sheets)

    def _order(self, plan: Plan, extent: Extent) -> PrintOrder:
        order = self._errand.order(plan, self._change_of(plan), extent)
        return replace(order, ahead=tuple(self._ahead), lists=self._lists, made=self._made)

    def _change_of(self, plan: Plan) -> PlanChange:
        """What the revision changes: the same for the draft and for the plan, which differ in remedies and chances."""
        if self._change is None:
            self._change = what_changes(self._errand.start, plan, self._errand.site.items, self._errand.site.lots)
        return self._change

    def _json_of(self, plan: Plan) -> bytes:
        """Its plan.json, made once for all steps in which it is handed out."""
        return self._made.get("draft" if plan.being_completed else "plan.json", partial(plan_to_json, plan))

    def _hand_out(self, plan: Plan, extent: Extent) -> Handed:
        """Put papers in place and keep their plan: as a new revision the first time, then in the place of its draft."""
        errand, change, plan_json = self._errand, self._change_of(plan), self._json_of(plan)
        first = not self._written
        if not first:
            self._taken.append(take_forms(errand.state, errand.site, errand.out, errand.now))

        def publish() -> None:
            if first and told_so_far(errand.state) != errand.start.told:
                raise ToldMeanwhileError(errand.state.path, "carts were reported during planning; nothing was changed")
            errand.report(PRINTING)
            order = replace(self._order(plan, extent), plan_json=plan_json)
            self._written.append(write_plan(plan, errand.out, order, self._tell))

        if first:
            finish_revision(errand.state, plan, plan_json, change, publish)
        else:
            complete_plan(errand.state, plan, plan_json if extent is Extent.ALL else None, publish)
        return Handed(plan=plan, change=change, written=_together(self._written), taken=joined(self._taken))

    def _tell(self, file: str, done: int, of: int) -> None:
        self._errand.report(PRINTING, done, of, file)


def _together(steps: Sequence[PrintResult]) -> PrintResult:
    """What the steps of one hand-out come to: a list that the first one drew is not one that was kept from before."""
    drawn = tuple(dict.fromkeys(case for one in steps for case in one.drawn))
    kept = tuple(case for case in steps[-1].kept if case not in drawn)
    notices = tuple(dict.fromkeys(said for one in steps for said in one.notices))
    return replace(steps[-1], drawn=drawn, kept=kept, notices=notices)
