"""What helps is found, is allowed, and makes nothing else worse. Days of our own, not published."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta
from typing import Any

import pytest

from picklist.clock import minutes_between, shift
from picklist.model.catalogue import StandIn
from picklist.model.conflicts import Conflict, ConflictKind, Edit, Remedy, RemedyKind
from picklist.model.routes import Station, WorkPeriod
from picklist.model.schedule import CaseStatus, Room, Side
from picklist.model.sets import SetState
from picklist.model.site import Site
from picklist.model.uses import Use
from picklist.sets.case_uses import make_uses
from picklist.sets.find_conflicts import FoundConflict
from picklist.sets.plan_sets import make_planned_day, plan_sets
from picklist.sets.remedies.find import MOST_SETS, choose_shown, what_is_missing, with_remedies
from picklist.sets.remedies.other_rooms import allowed_starts, why_not
from picklist.sets.remedies.planned_day import PlannedDay, apply_edits
from picklist.sets.remedies.search import Search
from picklist.sets.remedies.starts import STEP, Starts
from picklist.sets.remedies.trial import Trials
from picklist.sets.try_change import with_edits
from picklist.wording.edits import read_edit, write_edit
from tests.builders import DAY, at, case, copies, tray
from tests.patience import tries
from tests.sets.days import random_day
from tests.sets.test_conflicts import only, planned, rush_day, wants, wrist_day


def texts(conflict: Conflict) -> list[str]:
    return [remedy.text for remedy in conflict.remedies]


def helped(site: Site, now: str = "05:00") -> Conflict:
    return only(planned(site, now=now, remedies=True))


def test_the_earliest_start_of_the_third_wrist_is_1320_and_1350_leaves_the_margin() -> None:
    # 12:40 would be the answer without lead and haul.
    conflict = helped(wrist_day())
    assert texts(conflict)[1] == "Start case 3 in R3 at 13:20 instead of 11:15"
    assert "Start case 3 in R3 at 13:50 instead of 11:15" in texts(conflict)
    assert (conflict.remedies[1].minutes_moved, conflict.remedies[1].cases_touched) == (125, 1)
    assert "tight, 0 min to spare" in conflict.remedies[1].cost


def test_a_set_brought_from_elsewhere_says_by_when() -> None:
    # Case 3 needs it at 10:45; the margin of 30 minutes is kept. No minute of a case is moved, so it stands first.
    brought = helped(wrist_day()).remedies[0]
    assert brought.edits[0].kind is RemedyKind.BRING
    assert "ready for use by 10:15 (to be made ready here: in decontamination by 07:05)" in brought.text
    assert brought.until == at("10:15")


def test_nothing_that_may_not_move_is_moved_and_what_is_missing_is_said() -> None:
    fixed = tuple(replace(one, may_move=False) for one in wrist_day().cases)
    conflict = helped(wrist_day(cases=fixed))
    assert [remedy.edits[0].kind for remedy in conflict.remedies] == [RemedyKind.BRING, RemedyKind.ACCEPT]
    assert conflict.missing == "one more set of Wrist by 10:45"


def test_a_room_that_closes_ends_the_moves() -> None:
    rooms = {"R3": Room(id="R3", closes=time(15, 30)), "R4": Room(id="R4", closes=time(10, 30))}
    conflict = helped(wrist_day(rooms=rooms))
    assert texts(conflict) == [
        "Bring one more set of Wrist, ready for use by 10:15 (to be made ready here: in decontamination by 07:05)",
        "Start case 3 in R3 at 13:20 instead of 11:15",
        "Accept the gap: case 3 starts at 11:15 without Wrist and gets WRIST-01 12:50 at usual pace, 1 h 35 min after "
        "wheels-in",
    ]


def test_a_surgeon_is_not_put_in_two_rooms() -> None:
    busy = case("9", "13:15", 165, "R9", surgeon="S-3")
    site = wrist_day(cases=(*wrist_day().cases, busy))
    needs = [wants(number, "WRIST") for number in ("1", "2", "3")]
    moved = [r for r in only(planned(site, *needs, remedies=True)).remedies if r.edits[0].case == "3"]
    assert [remedy.edits[0].start for remedy in moved if remedy.edits[0].kind is RemedyKind.SHIFT] == [at("16:00")]


def test_a_case_under_way_is_not_moved() -> None:
    site = wrist_day()
    running = tuple(replace(one, status=CaseStatus.RUNNING) if one.number != "3" else one for one in site.cases)
    moved = {edit.case for remedy in helped(replace(site, cases=running)).remedies for edit in remedy.edits}
    assert moved == {"3"}


def test_a_rush_names_the_fewest_steps_and_minutes_and_asks_for_the_departments_word() -> None:
    conflict = helped(rush_day(90))
    first = conflict.remedies[0]
    assert [(edit.step, edit.minutes) for edit in first.edits] == [("assemble", 40)]
    assert "confirm with sterile processing" in first.cost


def test_hurrying_a_set_names_those_that_it_goes_ahead_of() -> None:
    site = rush_day(90)
    route = site.routes["R"]
    stationed = replace(route, steps=tuple(replace(step, station=step.name) for step in route.steps))
    cases = (*site.cases, case("3", "07:35", 120, "R5"), case("4", "15:00", 60, "R5"))
    site = replace(
        site,
        cases=cases,
        trays={**site.trays, "OTHER": tray("OTHER")},
        sets={**site.sets, **copies("OTHER", 1)},
        routes={"R": stationed},
        **manned("wash", "assemble", "cool"),
    )
    needs = [wants("1", "WRIST"), wants("2", "WRIST"), wants("3", "OTHER"), wants("4", "OTHER")]
    remedy = only(planned(site, *needs, remedies=True)).remedies[0]
    assert remedy.delays == ("OTHER-01",)


def test_a_tight_reuse_can_be_eased_by_a_tray_that_may_stand_in() -> None:
    site = wrist_day(
        cases=(case("1", "07:30", 120, "R3"), case("2", "13:30", 60, "R3")),
        trays={"WRIST": tray("WRIST", stand_ins=(StandIn(tray="HAND", preference=1),)), "HAND": tray("HAND")},
        sets={**copies("WRIST", 1), **copies("HAND", 1)},
    )
    conflict = only(planned(site, wants("1", "WRIST"), wants("2", "WRIST"), remedies=True))
    assert conflict.kind is ConflictKind.TIGHT
    assert {"Give case 1 Hand in place of Wrist", "Give case 2 Hand in place of Wrist"} <= set(texts(conflict)[:2])


def test_the_other_order_in_the_same_room_is_found() -> None:
    # Case 1's set is the only one; when the long other case goes between, it is back in time.
    site = wrist_day(
        cases=(
            case("1", "07:30", 60, "R3"),
            case("2", "09:00", 60, "R3"),
            case("3", "10:30", 180, "R3"),
        ),
        sets=copies("WRIST", 1),
        settings=replace(wrist_day().settings, rooms_close=time(13, 30)),
    )
    conflict = only(planned(site, wants("1", "WRIST"), wants("2", "WRIST"), remedies=True))
    swaps = [remedy for remedy in conflict.remedies if remedy.edits[0].kind is RemedyKind.SWAP]
    assert any("case 2 starts 12:30" in remedy.text for remedy in swaps)


@pytest.mark.parametrize(("surgeon", "offered"), [("S-9", True), ("S-1", False)])
def test_two_cases_of_a_tray_change_places_for_a_third_unless_a_surgeon_would_be_in_two_rooms(
    surgeon: str, offered: bool
) -> None:
    """Case 1 gives its set back 10:40, ready 13:50 where case 3 needs one 13:00; the short case 2 first: 11:50.

    Case 1 then lasts from 09:00 to 12:00. Its room runs past its closing at 11:00 as before, not more.
    """
    site = wrist_day(
        cases=(
            replace(case("1", "07:30", 180, "R3"), surgeon="S-1"),
            case("2", "11:00", 60, "R3"),
            case("3", "13:30", 60, "R4"),
            replace(case("9", "10:45", 60, "R9"), surgeon=surgeon),
        ),
        rooms={"R3": Room(id="R3", closes=time(11, 0))},
    )
    conflict = only(planned(site, *(wants(number, "WRIST") for number in "123"), remedies=True))
    assert (conflict.waiter, conflict.minutes) == ("3", 50)
    swaps = [one for one in conflict.remedies if one.edits[0].kind is RemedyKind.SWAP]
    assert [(one.edits[0].case, one.edits[0].other_case, one.overtime) for one in swaps] == [("1", "2", 0)] * offered


def test_two_changes_together_are_found_where_one_does_not_do() -> None:
    # Case 3 can start at 13:20 only when case 4 behind it gives way; behind case 4 the room closes.
    tied = wrist_day().cases[:2]
    site = wrist_day(
        cases=(
            *(replace(one, may_move=False) for one in tied),
            case("3", "11:15", 120, "R5"),
            case("4", "14:15", 60, "R5"),
        ),
        rooms={"R3": Room(id="R3", closes=time(10, 30)), "R4": Room(id="R4", closes=time(10, 30))}
        | {"R5": Room(id="R5", closes=time(17, 0))},
    )
    planned = make_planned_day(site, planned_uses(site, "1", "2", "3"), at("05:00"))
    search = Search(Trials(planned), conflicts_of(planned)[0])
    assert [verdict.edits[0].kind for verdict in search.singles()] == [RemedyKind.ACCEPT, RemedyKind.BRING]
    pairs = [{edit.case for edit in verdict.edits} for verdict in search.pairs().found()]
    assert {"3", "4"} in pairs


def manned(*names: str) -> dict[str, Any]:
    """Stations that never close."""
    periods = tuple(
        WorkPeriod(station=name, weekday=day, opens=time(0), closes=time(0)) for name in names for day in range(7)
    )
    return {"stations": {name: Station(id=name) for name in names}, "hours": periods}


def planned_uses(site: Site, *numbers: str) -> tuple[Use, ...]:
    return make_uses(site, [wants(number, "WRIST") for number in numbers], site.cases)


def small_evening(seed: int) -> PlannedDay:
    site, uses = random_day(seed, cases=9, rooms=4, trays=4, per_case=(1, 2), spare=1.1)
    return make_planned_day(site, uses, at("05:00"))


def conflicts_of(planned: PlannedDay) -> list[FoundConflict]:
    return [one for plan in planned.plans.values() for one in plan.conflicts_found]


def test_the_nearest_start_is_the_first_of_all_that_are_allowed() -> None:
    planned = small_evening(3)
    found = [(Starts(planned, one), room) for one in planned.cases.values() for room in planned.context.site.rooms]
    assert [starts.nearest(room) for starts, room in found] == [
        next(iter(starts.nearest_first((room,))), None) for starts, room in found
    ]


@pytest.mark.parametrize("seed", [0, 1, 5])
def test_no_single_move_swap_or_stand_in_that_helps_is_missed(seed: int) -> None:
    planned = small_evening(seed)
    for target in conflicts_of(planned)[:2]:
        found = [verdict.edits[0] for verdict in Search(Trials(planned), target).singles() if len(verdict.edits) == 1]
        for edit in every_single(planned):
            if helps_when_planned_anew(planned, target, edit):
                assert any(as_good(planned, one, edit) for one in found), edit


def as_good(planned: PlannedDay, found: Edit, edit: Edit) -> bool:
    """Whether what was found is the same change, or moves the same case the same way by no more."""
    if edit.kind in (RemedyKind.SWAP, RemedyKind.STAND_IN):
        return found == edit
    if (found.kind, found.case) != (edit.kind, edit.case) or found.start is None or edit.start is None:
        return False
    start = planned.cases[edit.case].start
    far, near = minutes_between(start, edit.start), minutes_between(start, found.start)
    # Of other rooms the nearest are kept, whichever way.
    return abs(near) <= abs(far) and (edit.kind is RemedyKind.ROOM or (near > 0) == (far > 0))


def every_single(planned: PlannedDay) -> list[Edit]:
    """Every start on the grid of every case, in every room, every swap, every stand-in."""
    edits = []
    rooms = sorted({one.room for one in planned.cases.values()})
    for one in planned.cases.values():
        for offset in range(0, 12 * 60, 3 * STEP):
            start = shift(at("07:00"), offset)
            for room in rooms:
                kind = RemedyKind.SHIFT if room == one.room else RemedyKind.ROOM
                if kind is RemedyKind.ROOM or start != one.start:
                    edits.append(Edit(kind=kind, case=one.number, room=room if room != one.room else "", start=start))
        edits += [
            Edit(kind=RemedyKind.SWAP, case=one.number, other_case=other.number)
            for other in planned.in_room(one)
            if one.number < other.number
        ]
        edits += [
            Edit(kind=RemedyKind.STAND_IN, case=one.number, tray=use.tray, stand_in=stand_in.tray)
            for use in planned.uses_of(one.number)
            for stand_in in planned.context.site.trays[use.tray].stand_ins
        ]
    return edits


def helps_when_planned_anew(planned: PlannedDay, target: FoundConflict, edit: Edit) -> bool:
    """Judged on a whole plan made from nothing, not by the search's own trials."""
    edited = apply_edits(planned, (edit,))
    if why_not(planned, edited):
        return False
    if planned.context.group_of[target.use.tray] not in edited.groups:
        return False
    before = {one.id: one for one in conflicts_of(planned)}
    after = {one.id: one for one in conflicts_of(with_edits(planned, edited))}
    left = after.pop(target.id, None)
    if left is not None and (left.kind is not ConflictKind.TIGHT or target.kind is ConflictKind.TIGHT):
        return False
    wanting = (ConflictKind.SHORT, ConflictKind.RUSH, ConflictKind.CONDITIONAL)
    if any(one.use.case in edited.touched and one.kind in wanting and not one.never for one in after.values()):
        return False
    return all(key in before and one.is_no_worse_than(before[key]) for key, one in after.items())


@pytest.mark.parametrize("seed", range(tries(4, 2)))
def test_the_allowed_spans_are_what_the_rules_allow(seed: int) -> None:
    planned = small_evening(seed)
    rooms = sorted({one.room for one in planned.cases.values()})
    for one in planned.cases.values():
        for room in rooms:
            spans = allowed_starts(planned, one, room)
            for offset in range(0, 13 * 60, 25):
                start = shift(at("06:30"), offset)
                if (start, room) == (one.start, one.room):
                    continue
                edited = apply_edits(planned, (Edit(kind=RemedyKind.ROOM, case=one.number, room=room, start=start),))
                inside = any(first <= start <= last for first, last in spans)
                assert inside == (not why_not(planned, edited)), (one.number, room, start)


def test_one_more_set_that_only_moves_the_trouble_is_said_with_that_trouble() -> None:
    site = wrist_day(cases=tuple(replace(one, may_move=False) for one in wrist_day().cases))
    planned = make_planned_day(site, planned_uses(site, "1", "2", "3"), at("05:00"))
    trials, (target,) = Trials(planned), conflicts_of(planned)
    assert what_is_missing(trials, target) == "one more set of Wrist by 10:45"
    # As if more sets left case 2 with little to spare, which it has not now: no remedy, and the page says why.
    tight = FoundConflict(kind=ConflictKind.TIGHT, use=planned.uses_of("2")[0], minutes=5)
    bring = Edit(kind=RemedyKind.BRING, case="3", tray="WRIST", start=target.use.needed)
    for number in range(1, MOST_SETS + 1):
        scenario = trials.tried((bring,) * number).edited.scenario
        trials.outcomes.seen[trials.outcomes.key(scenario, trials.home(target))] = (tight,)
    harm = "Wrist for case 2 is tight (5 min to spare)"
    assert what_is_missing(trials, target) == f"one more set of Wrist by 10:45; but then {harm}"


def test_where_the_work_allowed_is_used_up_the_page_says_so() -> None:
    planned = make_planned_day(wrist_day(), planned_uses(wrist_day(), "1", "2", "3"), at("05:00"))
    trials, (target,) = Trials(planned), conflicts_of(planned)
    trials.share = 0
    found = Search(trials, target).singles()
    assert [verdict.edits[0].kind for verdict in found] == [RemedyKind.ACCEPT, RemedyKind.BRING]
    assert trials.cut_short == {target.id}
    conflict = with_remedies(trials, helped(wrist_day()), target)
    assert conflict.searched.startswith("Not all changes were tried")


def test_a_list_cut_short_says_how_much_more_would_help_and_keeps_each_kind() -> None:
    free = {f"OR {n}": Room(id=f"OR {n}") for n in range(1, 9)}
    crowd = tuple(case(f"{n}", "07:30", 120, f"OR {n}") for n in range(1, 6))
    site = wrist_day(cases=(*crowd, case("9", "11:15", 60, "OR 8")), sets=copies("WRIST", 5), rooms=free)
    needs = [wants(one.number, "WRIST") for one in site.cases]
    conflict = only(planned(site, *needs, remedies=True))
    assert len(conflict.remedies) == 6
    assert conflict.remedies[0].edits[0].kind is RemedyKind.BRING
    assert "more changes would remove it; those listed disturb less." in conflict.searched


def test_a_set_that_is_recorded_incomplete_and_would_do_is_named_first() -> None:
    sets = {key: replace(one) for key, one in copies("WRIST", 3).items()}
    sets["WRIST-03"] = replace(sets["WRIST-03"], state=SetState.INCOMPLETE)
    first = helped(wrist_day(sets=sets)).remedies[0]
    assert first.text == "Complete WRIST-03 (Wrist), recorded as incomplete: ready for case 3 by 10:15"
    assert first.until == at("10:15")


def test_a_set_to_be_completed_says_what_is_missing_from_it() -> None:
    sets = {**copies("WRIST", 3)}
    sets["WRIST-03"] = replace(sets["WRIST-03"], state=SetState.INCOMPLETE, missing="one drill guide")
    conflict = helped(wrist_day(sets=sets))
    assert "recorded as incomplete (missing: one drill guide): ready for case 3" in conflict.remedies[0].text
    assert conflict.proof is not None
    assert [one.bound.text for one in conflict.proof.sets if one.set_id == "WRIST-03" and one.bound] == [
        "incomplete, one drill guide missing"
    ]


def test_a_set_that_is_ready_before_wheels_in_may_go_straight_to_the_room() -> None:
    # Case 1 ends 09:30, received 09:40, ready 13:10; case 2 starts 13:20, its cart is due 12:50: 20 minutes late.
    cases = (case("1", "07:30", 120), case("2", "13:20", 60, "R4"))
    conflict = helped(replace(rush_day(90), cases=cases))
    direct = next(one for one in conflict.remedies if one.edits[0].kind is RemedyKind.DIRECT)
    assert direct.text == (
        "Take WRIST-01 straight to R4 for case 2, not onto its cart: there 13:10 at usual pace, 10 min before wheels-in"
    )
    assert (direct.minutes_moved, direct.without, direct.until) == (0, 20, at("12:50"))
    assert not any(one.edits[0].kind is RemedyKind.ACCEPT for one in conflict.remedies)


def test_a_set_that_goes_straight_to_the_room_is_collected_as_its_case_ends() -> None:
    # 15 minutes until a set leaves the room: ready 13:25, after wheels-in at 13:20; collected at once it is 13:10.
    site = replace(rush_day(90), cases=(case("1", "07:30", 120), case("2", "13:20", 60, "R4")))
    conflict = helped(replace(site, settings=replace(site.settings, room_release=15)))
    direct = next(one for one in conflict.remedies if one.edits[0].kind is RemedyKind.DIRECT)
    assert direct.text.startswith("Collect WRIST-01 as soon as case 1 ends and take it straight to R4 for case 2")
    assert direct.until == at("09:30")  # when case 1 ends


def test_a_gap_that_is_accepted_says_from_when_until_when_and_what_is_left() -> None:
    # One of two is kept ready. Both are out from 07:30; the set of case 1 is ready 11:50.
    site = wrist_day(
        cases=(case("1", "07:30", 60, "R3"), case("2", "08:00", 60, "R4")),
        trays={"WRIST": tray("WRIST", keep_ready=1)},
    )
    conflict = only(planned(site, wants("1", "WRIST"), wants("2", "WRIST"), remedies=True))
    gap = next(one for one in conflict.remedies if one.edits[0].kind is RemedyKind.ACCEPT)
    assert (
        gap.text == "Accept the gap: from 07:30 until 11:50 no set of Wrist is ready for an emergency; 1 should be kept"
    )
    assert (gap.minutes_moved, gap.cases_touched, gap.until) == (0, 0, at("07:30"))


def test_a_gap_is_not_accepted_where_it_takes_the_set_from_the_next_case() -> None:
    # Case 2 could have it late, but then case 3 could not have it at all.
    site = rush_day(150)
    cases = (*site.cases, replace(case("3", "14:35", 60, "R5"), priority=3))
    needs = [wants("1", "WRIST"), wants("2", "WRIST"), wants("3", "WRIST")]
    plan = planned(replace(site, cases=cases), *needs, remedies=True)
    short = next(one for one in plan.conflicts if one.kind is ConflictKind.SHORT)
    assert RemedyKind.ACCEPT not in {one.edits[0].kind for one in short.remedies}


def test_a_case_may_do_without_the_tray_that_it_has_on_hold() -> None:
    site = wrist_day(cases=(case("1", "07:30", 150), case("2", "10:40", 60, "R4")), sets=copies("WRIST", 1))
    conflict = only(planned(site, wants("1", "WRIST", 0, 1), wants("2", "WRIST", 0, 1), remedies=True))
    without = [one for one in conflict.remedies if one.edits[0].kind is RemedyKind.WITHOUT]
    assert {one.edits[0].case for one in without} == {"1", "2"}
    assert "Do without Wrist on hold for case 1, if its surgeon agrees" in texts(conflict)
    assert [one.until for one in without if one.edits[0].case == "1"] == [at("07:00")]


def test_remedies_are_ordered_by_minutes_moved_then_people_and_moving_a_case_by_hours_is_last() -> None:
    for seed in range(3):
        site, uses = random_day(seed, cases=9, rooms=4, trays=4, per_case=(1, 2), spare=1.1)
        for conflict in plan_sets(site, uses, at("05:00")).conflicts:
            toll = [(one.minutes_moved + one.without + max(0, one.overtime), one.people) for one in conflict.remedies]
            assert toll == sorted(toll), texts(conflict)


def test_of_left_and_right_the_one_that_is_lacking_is_brought() -> None:
    left = replace(copies("WRIST", 1)["WRIST-01"], side=Side.LEFT)
    sided = {"WRIST": tray("WRIST", sided=True)}
    site = wrist_day(cases=(case("1", "07:30", 120),), trays=sided, sets={left.id: left})
    (need,) = wants("1", "WRIST").needs
    both = tuple(replace(need, side=side) for side in (Side.LEFT, Side.RIGHT))
    conflict = only(planned(site, replace(wants("1", "WRIST"), needs=both), remedies=True))
    assert (conflict.side, conflict.missing) == (Side.RIGHT, "one more set of Wrist, right by 07:00")
    assert texts(conflict) == [
        "Bring one more set of Wrist (right), ready for use by 06:30 (too late to be made ready here)"
    ]


def test_of_a_gap_in_the_reserve_that_a_case_under_way_made_no_set_is_wanted_by_a_time_that_is_past() -> None:
    """Both of two are out from 07:30, one is to be kept ready; case 2, that took the last one, started 08:00."""
    site = wrist_day(
        cases=(case("1", "07:30", 60, "R3"), case("2", "08:00", 60, "R4")), trays={"WRIST": tray("WRIST", keep_ready=1)}
    )
    before, after = helped(site, "07:40"), helped(site, "08:10")
    assert (before.kind, bool(before.remedies)) == (ConflictKind.RESERVE, True)
    assert (after.kind, after.remedies, after.missing) == (ConflictKind.RESERVE, (), "")


def test_a_set_on_loan_that_is_completed_serves_no_case_after_it_has_gone_back() -> None:
    """Completed for case 1, which gives it back at 08:40; it goes back at 10:00, long before case 2."""
    one = replace(copies("WRIST", 1)["WRIST-01"], state=SetState.INCOMPLETE, return_by=at("10:00"))
    site = wrist_day(cases=(case("1", "07:30", 60, "R3"), case("2", "15:00", 60, "R4")), sets={one.id: one})
    first, second = planned(site, remedies=True).conflicts
    done = next(remedy for remedy in first.remedies if remedy.edits[0].kind is RemedyKind.COMPLETE)
    assert (done.removes, second.id) == (("1/WRIST",), "2/WRIST")


def test_where_both_sides_are_lacking_each_is_brought_for_itself() -> None:
    sized = replace(copies("WRIST", 1)["WRIST-01"], side=Side.LEFT, size="adult")
    site = wrist_day(
        cases=(case("1", "07:30", 120),), trays={"WRIST": tray("WRIST", sided=True)}, sets={sized.id: sized}
    )
    (need,) = wants("1", "WRIST").needs
    both = tuple(replace(need, side=side, size="child") for side in (Side.LEFT, Side.RIGHT))
    found = planned(site, replace(wants("1", "WRIST"), needs=both), remedies=True).conflicts
    assert {one.side: (texts(one), one.missing) for one in found} == {
        side: (
            [
                f"Bring one more set of Wrist ({side}, size child), ready for use by 06:30 "
                "(too late to be made ready here)"
            ],
            f"one more set of Wrist, {side}, size child by 07:00",
        )
        for side in (Side.LEFT, Side.RIGHT)
    }
    edits = [remedy.edits[0] for one in found for remedy in one.remedies]
    asked = [write_edit(edit, site.settings.site_clock, DAY) for edit in edits]
    assert sorted(asked) == ["extra WRIST left by 06:30 for 1", "extra WRIST right by 06:30 for 1"]
    assert [read_edit(site, words, DAY)[0] for words in asked] == edits


def test_a_cart_that_is_due_already_still_has_remedies_until_its_case_starts() -> None:
    """Case 1 starts 07:30, so that its cart was due at 07:00; at 07:10 its only set is recorded as incomplete."""
    one = replace(copies("WRIST", 1)["WRIST-01"], state=SetState.INCOMPLETE, missing="a ruler")
    site = wrist_day(cases=(case("1", "07:30", 120),), sets={one.id: one})
    conflict = helped(site, "07:10")
    assert [(remedy.edits[0].kind, remedy.until) for remedy in conflict.remedies] == [
        (RemedyKind.COMPLETE, at("07:30")),
        (RemedyKind.BRING, at("07:30")),
    ]
    assert conflict.remedies[0].text.endswith("ready for case 1 by 07:30")
    assert conflict.decide_by == at("07:30")
    assert helped(replace(site, sets={}), "07:10").missing == "one more set of Wrist by 07:30"
    # A dirty one is ready at 10:20: the case may still go to 10:50, as long as it has not started.
    dirty = helped(replace(site, sets={one.id: replace(one, state=SetState.DIRTY)}), "07:10")
    moved = {remedy.edits[0].start: remedy.until for remedy in dirty.remedies if remedy.cases_touched}
    assert moved == {at("10:50"): at("07:30"), at("11:20"): at("07:30")}


def test_a_set_on_loan_that_goes_back_before_the_case_ends_is_not_to_be_completed_for_it() -> None:
    # Received from case 1 at 09:40.
    for goes_back, helps in (("09:40", True), ("09:39", False)):
        one = replace(
            copies("WRIST", 1)["WRIST-01"], state=SetState.INCOMPLETE, missing="a ruler", return_by=at(goes_back)
        )
        site = wrist_day(cases=(case("1", "07:30", 120),), sets={one.id: one})
        kinds = {remedy.edits[0].kind for remedy in helped(site).remedies}
        assert (RemedyKind.COMPLETE in kinds) is helps


@pytest.mark.parametrize(("room", "free"), [("R3", []), ("R4", ["00:00", "00:15", "00:30"])])
def test_a_case_after_midnight_is_not_moved_into_one_of_the_day_before_that_lasts_until_then(
    room: str, free: list[str]
) -> None:
    """A room that never closes: case 1 lasts from 23:00 until 00:45, case 2 starts 01:30; turnover 30 minutes."""
    night = replace(case("2", "01:30", 60, room), day=DAY + timedelta(days=1), start=at("01:30", 1))
    always = {name: Room(id=name, opens=time(0), closes=time(0)) for name in ("R3", "R4")}
    site = wrist_day(cases=(case("1", "23:00", 105, "R3"), night), rooms=always)
    day = make_planned_day(site, planned_uses(site, "1", "2"), at("18:00"))
    spans = [(first, last) for first, last in allowed_starts(day, night, room) if first < night.start]
    for wall in ("00:00", "00:15", "00:30"):
        moved = Edit(kind=RemedyKind.SHIFT, case="2", start=at(wall, 1))
        taken = why_not(day, apply_edits(day, (moved,)))
        assert (taken is None) is (wall in free)
        assert any(first <= at(wall, 1) <= last for first, last in spans) is (wall in free)


def test_those_shown_disturb_least_in_whatever_order_they_were_found() -> None:
    found = [
        Remedy(
            edits=(Edit(kind=RemedyKind.SHIFT, case="1", start=at("12:00")),),
            text=f"{minutes} minutes",
            cost="",
            minutes_moved=minutes,
            cases_touched=1,
            overtime=0,
        )
        for minutes in range(90, 0, -10)
    ]
    assert [one.minutes_moved for one in choose_shown(found)] == [10, 20, 30, 40, 50, 60]


def test_a_room_that_closes_after_midnight_is_open_until_then() -> None:
    # The set of case 1 is received 19:40 and ready 22:50; case 2 needs it 30 minutes before its start and ends 00:20.
    rooms = {"R4": Room(id="R4", closes=time(1, 0))}
    site = wrist_day(
        cases=(case("1", "17:30", 120, "R3"), case("2", "20:00", 60, "R4")), sets=copies("WRIST", 1), rooms=rooms
    )
    overtime = {one.text: one.overtime for one in helped(site).remedies}
    assert overtime["Start case 2 in R4 at 23:20 instead of 20:00"] == 0
