"""What a remedy says and what it costs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime

from picklist.clock import minutes_between
from picklist.model.conflicts import Edit, Remedy, RemedyKind
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.model.uses import Pace, ReadyTime, StepTime
from picklist.sets.allocate_group import Service, allocate_group
from picklist.sets.case_uses import case_times
from picklist.sets.find_conflicts import FoundConflict
from picklist.sets.gap import prove_gap
from picklist.sets.remedies.hurries import hurried_text, step_begins
from picklist.sets.remedies.other_rooms import closing, last_end
from picklist.sets.remedies.planned_day import Edited, PlannedDay, people_of
from picklist.sets.remedies.trial import TrialResult, Trials
from picklist.wording import at_pace, counted, listed, moment, span
from picklist.wording.remedies import complete_words, direct_words, late_words, reserve_gap_words

NO_NEW = "no new conflict"
_RANK = {kind: rank for rank, kind in enumerate(RemedyKind)}


def make_remedy(trials: Trials, verdict: TrialResult, target: FoundConflict) -> Remedy:
    """The remedy of edits that help, with its text and its cost."""
    planned, edited = trials.planned, verdict.edited
    moved = {
        number: abs(minutes_between(planned.cases[number].start, edited.cases[number].start))
        for number in edited.touched
        if number in edited.cases
    }
    remedy = Remedy(
        edits=verdict.edits,
        text="; ".join(_text(trials, verdict, edit) for edit in verdict.edits),
        cost="",
        minutes_moved=sum(moved.values()),
        cases_touched=len(edited.touched),
        overtime=_overtime(planned, verdict),
        delays=delayed_sets(planned, verdict.edits),
        removes=verdict.removes,
        until=possible_until(planned, verdict, target.use.needed),
        people=_people(planned, verdict),
        without=sum(minutes_without(trials, edited, edit) for edit in verdict.edits),
    )
    before = {one.id: one for conflicts_found in trials.before.values() for one in conflicts_found.values()}
    others = [before[key] for key in verdict.removes if key != target.id]
    also = [_named(planned, one) for one in sorted(others, key=lambda one: (one.use.needed, one.id))]
    return replace(
        remedy, cost="; ".join([*_costs(remedy, verdict), *([f"also removes {listed(also)}"] if also else [])])
    )


def _named(planned: PlannedDay, one: FoundConflict) -> str:
    """A conflict in a few words: ``Wrist for case 3 (short)``."""
    return f"{planned.context.site.tray_name(one.use.tray)} for case {one.use.case} ({one.kind})"


def when(site: Site, instant: datetime, beside: datetime) -> str:
    """Hour and minute, with the day where it is not the day of ``beside``."""
    clock = site.settings.site_clock
    return moment(clock, instant, clock.day(beside))


def disturbance(remedy: Remedy) -> tuple[object, ...]:
    """By what remedies are ordered: minutes moved, without the tray and overtime, then people and cases touched.

    Sets of the house that only have to be completed or found come first.
    """
    elsewhere = any(edit.kind is not RemedyKind.COMPLETE for edit in remedy.edits)
    minutes_lost = remedy.minutes_moved + remedy.without + max(0, remedy.overtime)
    rank = max(_RANK[edit.kind] for edit in remedy.edits)
    toll = remedy.people, remedy.cases_touched, len(remedy.edits)
    return elsewhere, minutes_lost, *toll, -len(remedy.removes), rank, remedy.text


BESIDE_THE_CASES = {  # who makes ready, carries, lends and drives, or would want what is kept ready
    RemedyKind.COMPLETE: 1,
    RemedyKind.DIRECT: 1,
    RemedyKind.FASTER: 1,
    RemedyKind.BRING: 2,
    RemedyKind.ACCEPT: 2,
}


def _people(planned: PlannedDay, verdict: TrialResult) -> int:
    """How many people a change touches: those of the cases, at least one each, and who else has to act."""
    cases = [planned.cases[number] for number in verdict.edited.touched if number in planned.cases]
    named = {name for case in cases for name in people_of(case)}
    nameless = sum(not people_of(case) for case in cases)
    kinds = {edit.kind for edit in verdict.edits}
    return len(named) + nameless + sum(BESIDE_THE_CASES.get(kind, 0) for kind in kinds)


def possible_until(planned: PlannedDay, verdict: TrialResult, needed: datetime) -> datetime:
    """The last moment at which a change is possible: before anything that it changes has started.

    A case may change until its cart is due, where it was and where it goes; a step may be hurried until it begins.
    """
    settings = planned.context.site.settings
    moments = [needed]
    for number in verdict.edited.touched:
        placed = [cases[number] for cases in (planned.cases, verdict.edited.cases) if number in cases]
        moments += [case_times(settings, case).needed for case in placed]
    for edit in verdict.edits:
        if edit.kind in (RemedyKind.BRING, RemedyKind.COMPLETE) and edit.start is not None:
            moments.append(edit.start)
        if edit.kind is RemedyKind.FASTER and (begins := step_begins(planned, edit)) is not None:
            moments.append(begins)
    return min(moments)


def delayed_sets(planned: PlannedDay, edits: tuple[Edit, ...]) -> tuple[str, ...]:
    """The sets that are at a hurried step's station while it is hurried: those that it goes ahead of."""
    found: list[str] = []
    for edit in edits:
        if edit.kind is RemedyKind.FASTER:
            for use in planned.uses_of(edit.case, edit.tray):
                found += _beside(planned, planned.service(use), edit.step)
    return tuple(dict.fromkeys(found))


def _beside(planned: PlannedDay, hurried: Service | None, step: str) -> list[str]:
    if hurried is None or hurried.reuse is None:
        return []
    mine = [time for time in hurried.reuse.walk.steps if time.step == step and time.station]
    others = [service for plan in planned.plans.values() for service in plan.services if service.reuse]
    return sorted(
        {
            other.one.id
            for other in others
            for time in (other.reuse.walk.steps if other.reuse else ())
            if other.one.id != hurried.one.id and any(_at_once(time, one) for one in mine)
        }
    )


def _at_once(one: StepTime, other: StepTime) -> bool:
    return one.station == other.station and one.begins < other.ends and other.begins < one.ends


def _overtime(planned: PlannedDay, verdict: TrialResult) -> int:
    """Minutes that rooms run past closing, more than they did (fewer when negative)."""
    total = 0
    before, after = planned.cases, verdict.edited.cases
    rooms = {}
    for number in verdict.edited.touched:
        for case in (before[number], after.get(number, before[number])):
            rooms[case.room, case.day] = case
    for case in rooms.values():
        total += _past_closing(planned, after, case) - _past_closing(planned, before, case)
    return total


def _past_closing(planned: PlannedDay, cases: Mapping[str, Case], case: Case) -> int:
    ends = last_end(planned, cases, case)
    return 0 if ends is None else max(0, minutes_between(closing(planned, case), ends))


def _text(trials: Trials, verdict: TrialResult, edit: Edit) -> str:
    match edit.kind:
        case RemedyKind.DIRECT:
            return _direct_text(trials, verdict, edit)
        case RemedyKind.ACCEPT:
            return _accept_text(trials, verdict, edit)
    return _TEXT[edit.kind](trials.planned, verdict, edit)


def _move_text(planned: PlannedDay, verdict: TrialResult, edit: Edit) -> str:
    site = planned.context.site
    before, after = planned.cases[edit.case], verdict.edited.cases[edit.case]
    start, was = when(site, after.start, before.start), when(site, before.start, before.start)
    if after.room == before.room:
        return f"Start case {edit.case} in {after.room} at {start} instead of {was}"
    at = f"at {start} as planned" if after.start == before.start else f"at {start} instead of {was}"
    return f"Move case {edit.case} from {before.room} to {after.room}, {at}"


def _swap_text(planned: PlannedDay, verdict: TrialResult, edit: Edit) -> str:
    site, cases = planned.context.site, verdict.edited.cases
    in_room = replace(planned, cases=cases).in_room(cases[edit.case])
    moved = [case for case in in_room if case.start != planned.cases[case.number].start]
    starts = listed([f"case {case.number} starts {when(site, case.start, case.start)}" for case in moved])
    return f"Exchange cases {edit.case} and {edit.other_case} in {cases[edit.case].room}: {starts}"


def _stand_in_text(planned: PlannedDay, _: TrialResult, edit: Edit) -> str:
    site = planned.context.site
    return f"Give case {edit.case} {site.tray_name(edit.stand_in)} in place of {site.tray_name(edit.tray)}"


def _faster_text(planned: PlannedDay, verdict: TrialResult, edit: Edit) -> str:
    return hurried_text(planned, edit, verdict.choices)


def _complete_text(planned: PlannedDay, _: TrialResult, edit: Edit) -> str:
    site = planned.context.site
    one, by = site.sets[edit.set_id], edit.start or planned.context.now
    return complete_words(
        set_id=one.id,
        tray=site.tray_name(one.tray),
        state=one.state,
        missing=one.missing,
        case=edit.case,
        by=when(site, by, by),
    )


def minutes_without(trials: Trials, edited: Edited, edit: Edit) -> int:
    """The minutes by which a set comes after the cart was due, where that is accepted; the latest set of several."""
    if edit.kind not in (RemedyKind.DIRECT, RemedyKind.ACCEPT) or edit.start is None:
        return 0
    due = {use.key: use.needed for use in trials.planned.uses_of(edit.case, edit.tray)}
    one, comes = _latest_given(trials, edited, edit)
    return max(0, minutes_between(due[one.use.key], comes.at))


def _latest_given(trials: Trials, edited: Edited, edit: Edit) -> tuple[Service, ReadyTime]:
    """What a case is then given last of a tray, and when, in the department's queue where that is later."""
    context = trials.planned.context
    given = allocate_group(context, edited.scenario, context.group_of[edit.tray]).of_case(edit.case, edit.tray)
    times = [(one, _comes(trials, edited, one)) for one in given]
    return max(times, key=lambda pair: pair[1].at)


def _comes(trials: Trials, edited: Edited, one: Service) -> ReadyTime:
    usual = one.reuse.ready if one.reuse else one.expected or one.use.needed
    queue = trials.whole.ready(edited, one.one.id, one.use) if trials.whole else None
    later = queue is not None and queue > usual
    at, pace = (queue, Pace.QUEUE) if queue is not None and later else (usual, Pace.USUAL)
    return ReadyTime(at=at, pace=pace, slack=minutes_between(at, one.use.needed))


def _direct_text(trials: Trials, verdict: TrialResult, edit: Edit) -> str:
    site, edited = trials.planned.context.site, verdict.edited
    service, comes = _latest_given(trials, edited, edit)
    use, after = service.use, service.after
    return direct_words(
        set_id=service.one.id,
        case=edit.case,
        room=edited.cases[edit.case].room,
        ready=at_pace(when(site, comes.at, use.starts), comes.pace),
        spare=minutes_between(comes.at, use.starts),
        collected=after.case if after and site.settings.room_release else "",
    )


def _accept_text(trials: Trials, verdict: TrialResult, edit: Edit) -> str:
    if edit.start is None:
        return _reserve_text(trials.planned, edit)
    site = trials.planned.context.site
    service, comes = _latest_given(trials, verdict.edited, edit)
    starts = service.use.starts
    return late_words(
        set_id=service.one.id,
        tray=site.tray_name(edit.tray),
        case=edit.case,
        start=when(site, starts, starts),
        ready=at_pace(when(site, comes.at, starts), comes.pace),
        without=minutes_between(starts, comes.at),
    )


def _reserve_text(planned: PlannedDay, edit: Edit) -> str:
    site, context = planned.context.site, planned.context
    plan = planned.plans[context.group_of[edit.tray]]
    service = max(plan.of_case(edit.case, edit.tray), key=lambda one: one.under)
    gap = prove_gap(context, plan, service.use, service.one.tray)
    return reserve_gap_words(
        tray=site.tray_name(service.one.tray),
        begins=when(site, service.use.needed, service.use.needed),
        ends=when(site, gap.ends, service.use.needed) if gap.ends else "",
        left=len(gap.proof.ready),
        keep=site.trays[service.one.tray].keep_ready,
    )


def _without_text(planned: PlannedDay, _: TrialResult, edit: Edit) -> str:
    name = planned.context.site.tray_name(edit.tray)
    return f"Do without {name} on hold for case {edit.case}, if its surgeon agrees"


def _bring_text(planned: PlannedDay, _: TrialResult, edit: Edit) -> str:
    site, now = planned.context.site, planned.context.now
    by = edit.start or now
    sides = {f" ({use.side})" for use in planned.uses_of(edit.case, edit.tray) if use.side} if edit.case else set()
    name = f"{site.tray_name(edit.tray)}{''.join(sorted(sides))}"
    text = f"Bring one more set of {name}, ready for use by {when(site, by, by)}"
    timed_route = planned.context.turnaround.timed_route(edit.tray)
    received = timed_route.release(by) if timed_route else None
    if received is None or received < now:
        return f"{text} (too late to be made ready here)"
    return f"{text} (to be made ready here: in decontamination by {when(site, received, by)})"


def _cancel_text(_: PlannedDay, __: TrialResult, edit: Edit) -> str:
    return f"Cancel case {edit.case}"


_TEXT: dict[RemedyKind, Callable[[PlannedDay, TrialResult, Edit], str]] = {
    RemedyKind.COMPLETE: _complete_text,
    RemedyKind.STAND_IN: _stand_in_text,
    RemedyKind.WITHOUT: _without_text,
    RemedyKind.FASTER: _faster_text,
    RemedyKind.SHIFT: _move_text,
    RemedyKind.SWAP: _swap_text,
    RemedyKind.ROOM: _move_text,
    RemedyKind.BRING: _bring_text,
    RemedyKind.CANCEL: _cancel_text,
}


def _costs(remedy: Remedy, verdict: TrialResult) -> list[str]:
    groups = [f"{counted(remedy.cases_touched, 'case')} changed" if remedy.cases_touched else "no case changed"]
    if remedy.minutes_moved:
        groups.append(f"{span(remedy.minutes_moved)} moved")
    if remedy.overtime:
        word = "more" if remedy.overtime > 0 else "less"
        groups.append(f"{span(abs(remedy.overtime))} {word} past closing")
    if any(edit.kind is RemedyKind.FASTER for edit in remedy.edits):
        groups.append("confirm with sterile processing")
        if remedy.delays:
            groups.append(f"goes ahead of {listed(remedy.delays)} at the same station")
    groups.append(NO_NEW)
    accepted = {RemedyKind.DIRECT, RemedyKind.ACCEPT}  # they say themselves what is left
    if verdict.tight is not None and not any(edit.kind in accepted for edit in remedy.edits):
        groups.append(f"tight, {span(verdict.tight)} to spare")
    return groups
