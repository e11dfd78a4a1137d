"""What a plan says as lines that a person can read and compare: kinds, numbers and times, no sentences."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from picklist.clock import SiteClock
from picklist.model.conflicts import Conflict, Edit, Remedy
from picklist.model.department import DepartmentRun
from picklist.model.plan import Cart, Plan, SundryLine, TrayLine
from picklist.model.uses import Reuse
from picklist.problems import Problem


def plan_lines(plan: Plan) -> list[str]:
    """The facts of a plan, one a line: carts, sets, reuses, conflicts, department, shortages, problems."""
    clock = plan.settings.site_clock
    return [
        f"PLAN {plan.day} as of {_when(plan.now, clock)} revision {plan.revision}",
        *(line for cart in plan.carts for line in _cart(cart, clock)),
        "",
        *_sets(plan, clock),
        "",
        *(line for reuse in plan.reuses for line in _reuse(reuse, clock)),
        "",
        *(line for cluster in plan.clusters for one in cluster.conflicts for line in _conflict(one, clock)),
        "",
        *(_department(plan.department, clock) if plan.department else ()),
        "",
        *_shortages(plan),
        *(f"UNCOUNTED {number}" for number in plan.uncounted),
        *(problem_line(problem) for problem in plan.problems),
    ]


def problem_line(problem: Problem) -> str:
    """Severity, place, cases and kind; the sentence stands in the output of ``check``."""
    return f"PROBLEM {problem.severity.value} | {problem.where} | {' '.join(problem.cases)} | {problem.kind}"


def _cart(cart: Cart, clock: SiteClock) -> Iterator[str]:
    case = cart.case
    side = cart.side.value if cart.side else "-"
    yield ""
    yield (
        f"CART {case.number} {case.room} {_when(case.start, clock)} {case.minutes} min "
        f"side {side} complete by {_when(cart.complete_by, clock)} {case.status.value}"
    )
    yield from (f"  stopped {problem_line(problem)}" for problem in cart.stopped)
    yield from (_tray(line, clock) for line in cart.trays)
    groups = (("pack", cart.packs), ("sundry", cart.sundries), ("peel pack", cart.peel_packs), ("person", cart.people))
    yield from (_sundry(word, line) for word, lines in groups for line in lines)
    others = (("check in room", cart.room_checks), ("implant", cart.implants), ("reference", cart.reference_only))
    yield from (f"  {word} {need.thing} {need.open}/{need.hold}" for word, needs in others for need in needs)
    yield from (f"  dropped {need.thing}: {need.reasons[-1].kind.value}" for need in cart.needs.dropped)


def _tray(line: TrayLine, clock: SiteClock) -> str:
    back = line.give_back
    give = f" give back for {back.for_case} by {_when(back.leave_room_by, clock)}" if back else ""
    stand_in = f" stands in for {line.stand_in_for}" if line.stand_in_for else ""
    expected = f" expected {_when(line.expected, clock)}" if line.expected else ""
    hold = " on hold" if line.on_hold else ""
    marks = f" [{' '.join(line.conflicts)}]" if line.conflicts else ""
    return f"  tray {line.need.thing}#{line.copy} {line.set_id or 'NO SET'}{hold}{stand_in}{expected}{give}{marks}"


def _sundry(word: str, line: SundryLine) -> str:
    lots = ", ".join(f"{p.open}/{p.hold} of {p.lot} at {p.place} until {p.expiry}" for p in line.picks)
    person = f" for {line.need.person}" if line.need.person else ""
    short = f" SHORT {line.short_open}/{line.short_hold}" if line.short_open or line.short_hold else ""
    return f"  {word} {line.need.thing}{person} {line.need.open}/{line.need.hold}: {lots}{short}"


def _sets(plan: Plan, clock: SiteClock) -> Iterator[str]:
    for one in sorted(plan.assignments, key=lambda one: (one.use.needed, one.use.key)):
        stand_in = " stand-in" if one.stand_in else ""
        expected = _when(one.expected, clock) if one.expected else "on the shelf"
        late = f" late {one.late}" if one.late else ""
        needed = _when(one.use.needed, clock)
        yield f"USE {one.use.key} needed {needed}: {one.set_id or 'none'}{stand_in} {expected} slack {one.slack}{late}"


def _reuse(reuse: Reuse, clock: SiteClock) -> Iterator[str]:
    yield (
        f"REUSE {reuse.set_id} {reuse.giver or 'now'} -> {reuse.waiter_use} received {_when(reuse.released, clock)} "
        f"ready {_when(reuse.ready, clock)} (least {_when(reuse.least_ready, clock)}) "
        f"slack {reuse.slack} ({reuse.least_slack}) break-even {reuse.break_even}"
    )
    steps = ", ".join(
        f"{one.act} {_when(one.latest, clock)} ({_when(one.last_resort, clock)})" for one in reuse.deadlines
    )
    yield f"  latest: {steps}"


def _conflict(one: Conflict, clock: SiteClock) -> Iterator[str]:
    chance = "-" if one.chance_of_failing is None else f"{one.chance_of_failing:.3f}"
    decide = _when(one.decide_by, clock) if one.decide_by else "-"
    yield (
        f"CONFLICT {one.id} {one.kind.value} {one.tray} {one.waiter} after {' '.join(one.givers) or '-'} "
        f"{one.set_id or '-'} {one.minutes} min decide by {decide} chance {chance}"
    )
    if one.proof:
        bound = ", ".join(
            f"{b.set_id} {b.case or '-'} {_when(b.until, clock) if b.until else '-'}" for b in one.proof.sets
        )
        yield f"  proof at {_when(one.proof.instant, clock)}: {' '.join(one.proof.overlapping)} | {bound}"
    yield from (_remedy(remedy, clock) for remedy in one.remedies)


def _remedy(remedy: Remedy, clock: SiteClock) -> str:
    edits = " + ".join(_edit(edit, clock) for edit in remedy.edits)
    return (
        f"  remedy {edits} | moved {remedy.minutes_moved}, cases {remedy.cases_touched}, "
        f"overtime {remedy.overtime}, removes {' '.join(remedy.removes)}"
    )


def _edit(edit: Edit, clock: SiteClock) -> str:
    words = [edit.kind.name.lower(), edit.case, edit.other_case, edit.tray, edit.stand_in, edit.room, edit.step]
    start = [_when(edit.start, clock)] if edit.start else []
    minutes = [f"{edit.minutes} min"] if edit.minutes else []
    return " ".join([*(word for word in words if word), *start, *minutes])


def _department(run: DepartmentRun, clock: SiteClock) -> Iterator[str]:
    yield f"DEPARTMENT greatest lateness {run.greatest_lateness}"
    for load in run.loads:
        yield f"LOAD {load.id} {_when(load.begins, clock)} - {_when(load.ends, clock)}: {' '.join(load.sets)}"
    for way in run.runs:
        steps = ", ".join(f"{one.step} {_when(one.begins, clock)}" for one in way.steps)
        yield f"RUN {way.set_id} from {way.from_case or 'now'} ready {_when(way.ready, clock)} late {way.late}: {steps}"


def _shortages(plan: Plan) -> Iterator[str]:
    for one in plan.shortages:
        lacking = ", ".join(f"{case.case} {case.open}/{case.hold}" for case in one.lacking)
        stand_ins = ", ".join(f"{item} {quantity}" for item, quantity in one.stand_ins)
        yield f"SHORTAGE {one.item} wanted {one.wanted} of {one.on_hand}: {lacking} | stand-ins {stand_ins or 'none'}"


def _when(instant: datetime, clock: SiteClock) -> str:
    return f"{clock.day(instant):%d}/{clock.hhmm(instant)}"
