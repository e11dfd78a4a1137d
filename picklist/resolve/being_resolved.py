"""A case while it is resolved: its working lines, and the problems found on the way."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, fields, replace

from picklist.model.cards import ConditionKind, Counted, ThingKind
from picklist.model.catalogue import Item
from picklist.model.needs import Pending, Reason, ReasonKind
from picklist.model.schedule import Case, Side
from picklist.model.site import Site
from picklist.problems import Problem, Severity, Where
from picklist.resolve.card_index import CardIndex


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkingLine:
    """A line of the list while it is worked on. ``procedure_pack``: it is the pack that the procedure itself names."""

    kind: ThingKind
    thing: str
    open: int
    hold: int
    side: Side | None = None
    counted: Counted = Counted.PER_CASE
    person: str = ""
    procedure_pack: bool = False
    notes: tuple[str, ...] = ()
    reasons: tuple[Reason, ...] = ()

    def with_amounts(self, opened: int, held: int, reason: Reason) -> WorkingLine:
        """The line with new quantities, and the reason for them."""
        return replace(self, open=opened, hold=held, reasons=(*self.reasons, reason))

    def joined(self, other: WorkingLine) -> WorkingLine:
        """Both lines as one: quantities add up, and the other's last reason gives the sum."""
        opened, held = self.open + other.open, self.hold + other.hold
        *before, last = other.reasons
        return replace(
            self,
            open=opened,
            hold=held,
            notes=each_once((*self.notes, *other.notes)),
            reasons=(*self.reasons, *before, replace(last, open=opened, hold=held)),
        )


def each_once(texts: Iterable[str]) -> tuple[str, ...]:
    """Every text that is not empty, once, in the order of its first appearance."""
    return tuple(dict.fromkeys(text for text in texts if text))


@dataclass(slots=True, kw_only=True)
class Findings:
    """What was found so far while a case, or a part of it, was resolved."""

    stopped: list[Problem] = field(default_factory=list)
    notices: list[Problem] = field(default_factory=list)
    pending: list[Pending] = field(default_factory=list)
    dropped: list[WorkingLine] = field(default_factory=list)
    unstated: dict[ConditionKind, list[Where]] = field(default_factory=dict)
    latex_not_stated: list[Item] = field(default_factory=list)
    approval_not_stated: list[Where] = field(default_factory=list)

    def take_over(self, other: Findings) -> None:
        """Add what was found while a part of the case was resolved apart from it."""
        self.stopped += other.stopped
        self.notices += other.notices
        self.pending += other.pending
        self.dropped += other.dropped
        self.approval_not_stated += other.approval_not_stated
        for kind, wheres in other.unstated.items():
            self.unstated.setdefault(kind, []).extend(wheres)

    def alone(self) -> Findings:
        """The findings without the case, its site and their index, so that whoever keeps them keeps no more."""
        return Findings(**{one.name: getattr(self, one.name) for one in fields(Findings)})


@dataclass(slots=True, kw_only=True)
class CaseBeingResolved(Findings):
    """One case, its site, and what was found so far while resolving it."""

    site: Site
    index: CardIndex
    case: Case

    def for_procedure(self, number: int) -> CaseBeingResolved:
        """The same, with the side of one of the case's procedures, by its place among them from 0."""
        if not self.case.sides:
            return self
        return replace(self, case=replace(self.case, side=self.case.side_of(number)))

    def stop(self, problem: Problem) -> None:
        """Stop the list of this case because of a problem."""
        self.stopped.append(replace(problem, severity=Severity.STOPS_CASE, cases=(self.case.number,)))

    def note(self, problem: Problem) -> None:
        """Name a problem that leaves the list standing."""
        self.notices.append(replace(problem, cases=(self.case.number,)))

    def drop(self, draft: WorkingLine, kind: ReasonKind, text: str, where: Where) -> None:
        """Record what is not on the list, and why."""
        reason = Reason(kind=kind, text=text, open=0, hold=0, where=where)
        self.dropped.append(draft.with_amounts(0, 0, reason))

    def want_stated(self, kind: ConditionKind, where: Where) -> None:
        """Remember that a line cannot be decided before the case states its side or size."""
        self.unstated.setdefault(kind, []).append(where)
