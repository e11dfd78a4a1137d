"""The short summary at the end of a build, as lines and as facts for scripts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from picklist.clock import SiteClock
from picklist.grouping import grouped
from picklist.model.conflicts import Conflict, ConflictKind
from picklist.model.plan import Plan
from picklist.problems import Problem, must_be_fixed
from picklist.wording import counted
from picklist.wording.say_conflicts import statement

if TYPE_CHECKING:
    from picklist.tasks.build import Built


def build_lines(built: Built) -> list[str]:
    """What a person wants to know when the build ends."""
    plan, written = built.plan, built.written
    if plan is None or written is None:
        return ["Nothing was written: fix the problems above first."]
    clock = plan.settings.site_clock
    stopped = _stopped(plan)
    lines = [
        f"{plan.settings.site}, {clock.day_text(plan.day)}: {counted(_carts(plan), 'cart')}, "
        f"revision {plan.revision}, in {written.folder}"
    ]
    lines += _change_lines(built)
    if stopped:
        lines.append(f"ON HOLD: fix the data to print these lists: {', '.join(stopped)}")
    for kind, conflicts in _by_kind(plan).items():
        lines.append(f"{kind.value}: {_counted(plan, conflicts)}")
    lines += _other_days(plan)
    if plan.shortages:
        lines.append(f"short in stock: {', '.join(f'{s.name} ({s.item})' for s in plan.shortages)}")
    lines += list(written.notices)
    if must_be_fixed(built.problems):
        lines.append("Some problems above need fixing; everything else is printed.")
    return lines


def handed_out_line(built: Built) -> str:
    """Which lists are there while remedies and risks are still being sought; empty where there is no plan."""
    plan, change, written = built.plan, built.change, built.written
    if plan is None or change is None or written is None:
        return ""
    new = f"changed lists: {', '.join(built.new_lists) or 'none'}"
    lists = new if plan.replaces else counted(len(built.new_lists), "pick list")
    return (
        f"Handed out: revision {plan.revision}, {lists}, in {written.folder}. "
        "The other papers follow, then remedies and risks."
    )


def _change_lines(built: Built) -> list[str]:
    """What a later revision changes, and what must be asked before carts are touched."""
    plan, change = built.plan, built.change
    if plan is None or change is None or plan.replaces is None:
        return []
    gone, unread = change.cancelled, change.unread
    lines = [f"replaces revision {plan.replaces}: {', '.join(change.to_print()) or 'no list'} printed again"]
    if built.still_new:
        cut_short = ", ".join(built.still_new)
        lines.append(
            f"an earlier build was stopped after it handed out lists; they are new with this one too: {cut_short}"
        )
    lines += [f"cancelled, to put back: {', '.join(gone)}"] if gone else []
    where = "not found on the schedule, of which a part cannot be read; put nothing back"
    lines += [f"{where}: {', '.join(unread)}"] if unread else []
    for question in change.questions:
        olds = " or ".join(candidate.old_case for candidate in question.candidates)
        lines.append(
            f"ASK: is case {question.new_case} the former {olds}? Answer with --same NEW=OLD, or NEW= for none"
        )
    return lines


def build_facts(built: Built) -> dict[str, Any]:
    """The same as plain facts; instants are UTC in ISO 8601."""
    plan, written = built.plan, built.written
    facts: dict[str, Any] = {"problems": [problem_facts(p) for p in built.problems]}
    if plan is None or written is None:
        return facts
    clock = plan.settings.site_clock
    return facts | {
        "day": plan.day.isoformat(),
        "revision": plan.revision,
        "folder": str(written.folder),
        "files": list(written.files),
        "carts": _carts(plan),
        "printed_again": list(built.new_lists) if plan.replaces else [],
        "questions": [question.new_case for question in built.change.questions] if built.change else [],
        "stopped": _stopped(plan),
        "notices": list(written.notices),
        "conflicts": [_conflict_facts(c, clock) for conflicts in _by_kind(plan).values() for c in conflicts],
        "shortages": [{"item": s.item, "name": s.name, "wanted": s.wanted} for s in plan.shortages],
    }


def problem_facts(problem: Problem) -> dict[str, Any]:
    """One problem as plain facts."""
    where = problem.where
    return {
        "kind": problem.kind,
        "severity": problem.severity.value,
        "file": where.file,
        "sheet": where.sheet,
        "row": where.row,
        "column": where.column,
        "cell": where.cell,
        "message": problem.message,
        "value": problem.value,
        "expected": problem.expected,
        "nearest": list(problem.nearest),
        "cases": list(problem.cases),
    }


def _carts(plan: Plan) -> int:
    """How many carts can be built; those on hold are named apart."""
    return sum(not cart.stopped for cart in plan.carts)


def _stopped(plan: Plan) -> list[str]:
    carts = [cart.case.number for cart in plan.carts if cart.stopped]
    return [*carts, *(number for problem in plan.unplaced for number in problem.cases)]


def _by_kind(plan: Plan) -> dict[ConflictKind, list[Conflict]]:
    """The conflicts that touch a case of the day, by kind in the order of the kinds."""
    numbers = {cart.case.number for cart in plan.carts}
    found = grouped((conflict.kind, conflict) for conflict in plan.conflicts if numbers.intersection(conflict.cases))
    return {kind: found[kind] for kind in ConflictKind if kind in found}


def _other_days(plan: Plan) -> list[str]:
    """One line for the conflicts of the horizon that touch no case of the day."""
    shown = {one.id for conflicts in _by_kind(plan).values() for one in conflicts}
    rest = [one for one in plan.conflicts if one.id not in shown]
    return [f"conflicts on other days: {_counted(plan, rest)}"] if rest else []


def _counted(plan: Plan, conflicts: list[Conflict]) -> str:
    """How many conflicts, of which cases, and until when the first of them that still can be decided must be."""
    first = min((one.decide_by for one in conflicts if one.decide_by and one.decide_by >= plan.now), default=None)
    by = f", first decision by {plan.settings.site_clock.stamp(first)}" if first else ""
    return f"{len(conflicts)} (case {', '.join(dict.fromkeys(one.waiter for one in conflicts))}){by}"


def _conflict_facts(conflict: Conflict, clock: SiteClock) -> dict[str, Any]:
    return {
        "id": conflict.id,
        "kind": conflict.kind.value,
        "tray": conflict.tray,
        "waiter": conflict.waiter,
        "givers": list(conflict.givers),
        "minutes": conflict.minutes,
        "decide_by": conflict.decide_by.isoformat() if conflict.decide_by else None,
        "statement": statement(conflict, clock),
        "remedies": [remedy.text for remedy in conflict.remedies],
    }
