"""The remedy that edits make: its words, its cost, and until when it is possible."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from picklist.clock import minutes_between
from picklist.model.conflicts import Edit, Remedy, RemedyKind
from picklist.model.schedule import Case
from picklist.model.uses import Pace, ReadyTime, StepTime, Use
from picklist.sets.allocate_group import Service, allocate_group
from picklist.sets.case_uses import case_times
from picklist.sets.find_conflicts import FoundConflict
from picklist.sets.gap import prove_gap
from picklist.sets.remedies.hurries import hurried_sets, step_begins, steps_to_hurry
from picklist.sets.remedies.other_rooms import closing, last_end
from picklist.sets.remedies.planned_day import Edited, PlannedDay, brought_for, last_moment, people_of, size_wanted
from picklist.sets.remedies.trial import TrialResult, Trials
from picklist.wording import at_pace, beside, moment
from picklist.wording import say_remedies as words

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
        until=possible_until(planned, verdict, target.use),
        people=_people(planned, verdict),
        without=sum(minutes_without(trials, edited, edit) for edit in verdict.edits),
    )
    before = {one.id: one for conflicts_found in trials.before.values() for one in conflicts_found.values()}
    others = [before[key] for key in verdict.removes if key != target.id]
    also = [_named(planned, one) for one in sorted(others, key=lambda one: (one.use.needed, one.id))]
    return replace(remedy, cost=words.cost_words(remedy, verdict.tight, also))


def _named(planned: PlannedDay, one: FoundConflict) -> str:
    return words.conflict_words(planned.context.site.tray_name(one.use.tray), one.use.case, one.kind)


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


def possible_until(planned: PlannedDay, verdict: TrialResult, use: Use) -> datetime:
    """The last moment at which a change is possible for a use: before anything that it changes has started.

    A case may change until its cart is due, where it was and where it goes; a step may be hurried until it begins,
    and a set collected at once as its case ends.
    """
    settings = planned.context.site.settings
    moments = [last_moment(planned, use.needed, use.starts)]
    for number in verdict.edited.touched:
        placed = [cases[number] for cases in (planned.cases, verdict.edited.cases) if number in cases]
        times = [case_times(settings, case) for case in placed]
        moments += [last_moment(planned, one.needed, one.starts) for one in times]
    for edit in verdict.edits:
        if edit.kind in (RemedyKind.BRING, RemedyKind.COMPLETE) and edit.start is not None:
            moments.append(edit.start)
        if edit.kind is RemedyKind.FASTER and (begins := step_begins(planned, edit)) is not None:
            moments.append(begins)
        if edit.kind is RemedyKind.DIRECT and settings.room_release:
            givers = {planned.giver_of(one) for one in planned.uses_of(edit.case, edit.tray)}
            moments += [one.ends for one in planned.scenario.uses if one.key in givers]
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
    after = planned.with_cases(verdict.edited.cases)
    rooms = {}
    for number in verdict.edited.touched:
        for case in (planned.cases[number], after.cases.get(number, planned.cases[number])):
            rooms[case.room, case.day] = case
    for case in rooms.values():
        total += _past_closing(after, case) - _past_closing(planned, case)
    return total


def _past_closing(planned: PlannedDay, case: Case) -> int:
    ends = last_end(planned, case)
    return 0 if ends is None else max(0, minutes_between(closing(planned, case), ends))


def _text(trials: Trials, verdict: TrialResult, edit: Edit) -> str:
    planned, site, clock = trials.planned, trials.planned.context.site, trials.planned.context.site.settings.site_clock
    match edit.kind:
        case RemedyKind.DIRECT:
            return _direct_text(trials, verdict, edit)
        case RemedyKind.ACCEPT:
            return _accept_text(trials, verdict, edit)
        case RemedyKind.COMPLETE:
            one, by = site.sets[edit.set_id], edit.start or planned.context.now
            return words.complete_words(one, site.tray_name(one.tray), edit.case, said_by(planned, by))
        case RemedyKind.STAND_IN:
            return words.stand_in_words(edit.case, site.tray_name(edit.stand_in), site.tray_name(edit.tray))
        case RemedyKind.WITHOUT:
            return words.without_words(edit.case, site.tray_name(edit.tray))
        case RemedyKind.FASTER:
            sets = [service.one.id for service in hurried_sets(planned, edit)]
            return words.hurry_words(edit.case, sets, steps_to_hurry(planned, verdict.choices or (edit,)))
        case RemedyKind.SHIFT | RemedyKind.ROOM:
            case = planned.cases[edit.case]
            day = planned.context.day_beside(case.start)
            return words.move_words(case, verdict.edited.cases[edit.case], clock, day)
        case RemedyKind.SWAP:
            after = planned.with_cases(verdict.edited.cases)
            in_room = after.in_room(after.cases[edit.case])
            moved = [case for case in in_room if case.start != planned.cases[case.number].start]
            return words.swap_words(edit, moved, clock, planned.context.day_beside(moved[0].start))
        case RemedyKind.BRING:
            return _bring_text(planned, edit)
        case RemedyKind.CANCEL:
            return words.cancel_words(edit.case)


def said_by(planned: PlannedDay, instant: datetime) -> str:
    """A moment with its day where that is not the day of the sheets."""
    return moment(planned.context.site.settings.site_clock, instant, planned.context.day_beside(instant))


def _bring_text(planned: PlannedDay, edit: Edit) -> str:
    site, now = planned.context.site, planned.context.now
    by = edit.start or now
    use = brought_for(planned, planned.scenario, edit)
    which = words.which_set(use.side, size_wanted(planned, use)) if use else words.which_set(edit.side, "")
    timed_route = planned.context.turnaround.timed_route(edit.tray)
    received = timed_route.release(by) if timed_route else None
    made_here = received if received is not None and received >= now else None
    return words.bring_words(
        site.tray_name(edit.tray), which, by, made_here, site.settings.site_clock, planned.context.day_beside(by)
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
    clock = site.settings.site_clock
    service, comes = _latest_given(trials, edited, edit)
    use, after = service.use, service.after
    return words.direct_words(
        set_id=service.one.id,
        case=edit.case,
        room=edited.cases[edit.case].room,
        ready=at_pace(beside(clock, comes.at, use.starts), comes.pace),
        spare=minutes_between(comes.at, use.starts),
        collected=after.case if after and site.settings.room_release else "",
    )


def _accept_text(trials: Trials, verdict: TrialResult, edit: Edit) -> str:
    if edit.start is None:
        return _reserve_text(trials.planned, edit)
    site, clock = trials.planned.context.site, trials.planned.context.site.settings.site_clock
    service, comes = _latest_given(trials, verdict.edited, edit)
    starts = service.use.starts
    return words.late_words(
        set_id=service.one.id,
        tray=site.tray_name(edit.tray),
        case=edit.case,
        start=said_by(trials.planned, starts),
        ready=at_pace(beside(clock, comes.at, starts), comes.pace),
        without=minutes_between(starts, comes.at),
    )


def _reserve_text(planned: PlannedDay, edit: Edit) -> str:
    site, context, clock = planned.context.site, planned.context, planned.context.site.settings.site_clock
    plan = planned.plans[context.group_of[edit.tray]]
    service = max(plan.of_case(edit.case, edit.tray), key=lambda one: one.under)
    gap = prove_gap(context, plan, service.use, service.one.tray)
    return words.reserve_gap_words(
        tray=site.tray_name(service.one.tray),
        begins=said_by(planned, service.use.needed),
        ends=beside(clock, gap.ends, service.use.needed) if gap.ends else "",
        left=len(gap.proof.ready),
        keep=site.trays[service.one.tray].keep_ready,
    )
