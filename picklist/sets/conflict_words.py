"""What a conflict says, in sentences that a coordinator can read out."""

from __future__ import annotations

from datetime import datetime

from picklist.model.conflicts import Proof, Saving
from picklist.model.uses import Act, Pace, Reuse, Use
from picklist.sets.allocate_group import GroupPlan
from picklist.sets.allocation.terms import Level
from picklist.sets.followers import shifted
from picklist.sets.planning_context import PlanningContext
from picklist.sets.proof import Soonest, goes_before, kept_for_later
from picklist.sets.set_words import count, hurried_time, minutes, needs_by, tray_name, usual_time, when
from picklist.wording import PACE_WORDS, listed


def short_words(context: PlanningContext, plan: GroupPlan, use: Use, soonest: Soonest | None, proof: Proof) -> str:
    """No set makes it, not even by least minutes."""
    given, before = plan.of_case(use.case, use.tray), goes_before(plan, use)
    opening = f"{needs_by(context.site, use)}{_of_several(plan, use)}"
    further = "further " if given or before else ""
    if soonest is None:
        reasons = [f"{one.set_id}: {one.why}" for one in proof.sets]
        why = f" {'; '.join(reasons)}." if reasons else ""
        words = "is free" if kept_for_later(context, plan, use) else "can be used"
        return f"{opening} No {further}set of it {words} for this case.{why}{_who_decides(context, plan, use, proof)}"
    site, reuse = context.site, soonest.reuse
    named = f"{soonest.one.id}{_of_tray(context, use, reuse)}"
    after = f" after {listed(before)}" if before else ""
    text = (
        f"{opening} {_none_ready(context, plan, use, further)} The soonest{after} is {named}, "
        f"ready {usual_time(site, reuse, use)}: {minutes(-reuse.slack)} short"
    )
    if -reuse.least_slack < -reuse.slack and reuse.least_slack < 0:
        text += f", {PACE_WORDS[Pace.LEAST]} still {-reuse.least_slack}"
    text = f"{text}.{_unopened(context, use, reuse)}{_kept_for_next(context, plan, use, soonest)}"
    return f"{text}{_latest(context, soonest, use)}{_who_decides(context, plan, use, proof)}"


def _none_ready(context: PlanningContext, plan: GroupPlan, use: Use, further: str) -> str:
    """That no set is ready by the need; where one is, for whom it is kept."""
    kept = kept_for_later(context, plan, use)
    if not kept:
        return f"No {further}set is ready by then."
    sets = listed(f"{one.id} is ready by then, but kept for case {later.case}" for one, later in kept)
    return f"No {further}set is free: {sets}."


def _unopened(context: PlanningContext, use: Use, reuse: Reuse) -> str:
    """When a set that comes too late even so would be free if its giver left it unopened."""
    if reuse.if_unopened_ready is None or (reuse.if_unopened_slack or 0) >= 0:
        return ""
    free = when(context.site, reuse.if_unopened_ready, use.needed)
    return (
        f" Case {reuse.giver} has it on hold; if it stays unopened it is free {free}, "
        f"{minutes(-(reuse.if_unopened_slack or 0))} short."
    )


def _kept_for_next(context: PlanningContext, plan: GroupPlan, use: Use, soonest: Soonest) -> str:
    """That the soonest set is kept for another case, where that could not have it back if this one waited for it."""
    one, after = soonest.one, soonest.after.key if soonest.after else ""
    following = [each.use for each in plan.on_set(one.id) if (each.after.key if each.after else "") == after]
    if not following:
        return ""
    waiting, nearest = shifted(use, -soonest.reuse.slack), following[0]
    home = plan.states[one.id].home
    back = context.turnaround.free_after(waiting, one.tray, Pace.USUAL, home, nearest.building)
    if back is not None and back <= nearest.needed:
        return ""
    by = when(context.site, nearest.needed, use.needed)
    return f" It is kept for case {nearest.case}, which needs it by {by} and could not have it back in time."


def _of_several(plan: GroupPlan, use: Use) -> str:
    """How many sets of the tray the case wants, and which it gets, where it wants more than one."""
    given, lacking = plan.of_case(use.case, use.tray), plan.lacking(use.case, use.tray)
    if len(given) + len(lacking) == 1:
        return ""
    got = listed(one.one.id for one in given) or "none"
    return f" It wants {count(len(given) + len(lacking), 'set')} and gets {got}."


_DECIDED = {
    Level.OPEN: "Priority decided: this way the trays to be opened that get a set have the greatest priority in all.",
    Level.HELD: "Priority decided: this way the trays on hold that get a set have the greatest priority in all.",
    Level.CERTAIN: "Certainty decided: this way fewer cases depend on a rush or on a tray that stays unopened.",
    Level.BUILT: "Built carts decided: this way fewer sets are taken off them.",
    Level.EXACT: "Exact matches decided: this way fewer trays stand in for others.",
    Level.LATE: "Lateness decided: this way the cases without a set wait least in all.",
}


def _who_decides(context: PlanningContext, plan: GroupPlan, use: Use, proof: Proof) -> str:
    """What decided that this use goes without; that a person decides where another case has the same priority."""
    cases = context.turnaround.cases
    equal = [one for one in proof.overlapping if one != use.case and one in cases and cases[one].priority == use.weight]
    same = f" {'Case' if len(equal) == 1 else 'Cases'} {listed(equal)} {'has' if len(equal) == 1 else 'have'} the same "
    level = plan.decided_against(use)
    if level is None:
        return ""
    decided = _DECIDED.get(level, f"All else is equal: the {context.site.settings.tie_break.value} keeps its set.")
    if level is Level.OPEN and use.on_hold:
        decided = "Trays to be opened go before trays on hold."
    return f"{same}priority. {decided} A person decides." if equal else f" {decided}"


def rush_words(context: PlanningContext, use: Use, reuse: Reuse, savings: tuple[Saving, ...]) -> str:
    """Usual minutes are too long, least minutes are enough."""
    site = context.site
    where = listed([f"{one.step} ({one.minutes})" for one in savings])
    return (
        f"{needs_by(site, use)} {_whence(context, reuse)} and is ready "
        f"{usual_time(site, reuse, use)}: {minutes(-reuse.slack)} must be saved. "
        f"It is ready {hurried_time(site, reuse, use)}. Minutes can be saved at: {where}. "
        "This needs the department's word."
    )


def tight_words(context: PlanningContext, use: Use, reuse: Reuse, savings: tuple[Saving, ...]) -> str:
    """It makes it, with less than the margin to spare."""
    site = context.site
    margin = site.settings.margin
    spare = f"{minutes(reuse.slack)} to spare, the margin is {margin}"
    saved = (
        f" Minutes could be saved at: {listed([f'{one.step} ({one.minutes})' for one in savings])}." if savings else ""
    )
    return (
        f"{needs_by(site, use)} {_whence(context, reuse)} and is ready {usual_time(site, reuse, use)}: "
        f"{spare}.{_break_even(reuse)}{saved}"
    )


def conditional_words(context: PlanningContext, use: Use, reuse: Reuse, savings: tuple[Saving, ...]) -> str:
    """It makes it only if the giver leaves its held tray unopened."""
    site = context.site
    free = when(site, reuse.if_unopened_ready, use.needed) if reuse.if_unopened_ready else "in time"
    opened = f"{minutes(-reuse.slack)} short"
    if reuse.least_slack >= 0:
        where = listed([f"{one.step} ({one.minutes})" for one in savings])
        opened = f"{minutes(-reuse.slack)} to be saved at {where}, with the department's word"
    return (
        f"{needs_by(site, use)} {reuse.set_id} is on hold in case {reuse.giver}. If it stays unopened it is free "
        f"{free}, {minutes(reuse.if_unopened_slack or 0)} to spare. If it is opened it is ready "
        f"{usual_time(site, reuse, use)}: {opened}."
    )


def reserve_words(context: PlanningContext, use: Use, tray: str, left: int, ends: datetime | None) -> str:
    """It is served, but leaves fewer sets than are to be kept ready."""
    site = context.site
    keep = site.trays[tray].keep_ready
    until = f"until {when(site, ends, use.needed)}" if ends else "for as long as the schedule says"
    return (
        f"{needs_by(site, use)} Taking it then leaves {left or 'none'} of {tray_name(site, tray)} ready {until}; "
        f"{keep} {'is' if keep == 1 else 'are'} to be kept ready for emergencies."
    )


def _of_tray(context: PlanningContext, use: Use, reuse: Reuse) -> str:
    return "" if reuse.tray == use.tray else f" ({tray_name(context.site, reuse.tray)}, which may stand in)"


def _whence(context: PlanningContext, reuse: Reuse) -> str:
    if not reuse.giver:
        return f"{reuse.set_id} is {reuse.from_state}"
    case = context.turnaround.cases.get(reuse.giver)
    room = f" in {case.room}" if case else ""
    return f"{reuse.set_id} comes from case {reuse.giver}{room}"


def _latest(context: PlanningContext, soonest: Soonest, use: Use) -> str:
    """The latest receipt that would do, against when its case begins."""
    act = soonest.reuse.deadline_of(Act.INTO_DECONTAMINATION) or soonest.reuse.deadline_of(Act.OUT_OF_ROOM)
    if act is None or soonest.after is None:
        return ""
    site, giver = context.site, soonest.after
    starts = when(site, giver.starts, use.needed)
    latest = when(site, act.latest, use.needed)
    what = "leave the room" if act.act == Act.OUT_OF_ROOM else "reach decontamination"
    return f" For that it would have to {what} by {latest}; its case {giver.case} starts {starts}."


def _break_even(reuse: Reuse) -> str:
    if reuse.break_even is None or not reuse.giver:
        return ""
    percent = f" ({reuse.break_even_percent} %)" if reuse.break_even_percent is not None else ""
    return f" Case {reuse.giver} may overrun by {minutes(reuse.break_even)}{percent}."
