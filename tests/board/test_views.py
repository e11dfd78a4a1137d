"""What the board shows, as data: the scale of time, rooms, sets, conflicts, stations."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from picklist.clock import shift
from picklist.documents.board.axis import axis_of, lanes, ticks_of
from picklist.documents.board.deadline_strip import DeadlineStrip
from picklist.documents.board.decision_list import conflict_entries, conflict_leaves
from picklist.documents.board.detail_panels import case_leaves, tray_leaves
from picklist.documents.board.index import BoardIndex
from picklist.documents.board.rooms import passes, room_rows
from picklist.documents.board.set_rows import SetBars, tray_groups
from picklist.documents.board.stations import QUARTER, station_plots
from picklist.documents.board.view import BoardView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.reuse_blocks import ReuseBlock
from picklist.model.conflicts import ConflictKind
from picklist.model.department import DepartmentRun, ReuseChance, StationHour
from picklist.model.plan import Plan
from picklist.model.schedule import Side
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.uses import Act, start_of
from picklist.settings import Settings
from picklist.wording.say_conflicts import overrun_words
from tests.board.days import sample_day
from tests.documents.carts import DAY, local, plain_case
from tests.documents.findings import rich_plan


def with_set(plan: Plan, set_id: str, **changes: object) -> Plan:
    kept = tuple(one for one in plan.sets if one.id != set_id)
    return replace(plan, sets=(*kept, InstrumentSet(id=set_id, tray="T-HIP", **changes)))  # type: ignore[arg-type]


def test_that_the_scale_runs_from_now_in_the_evening_to_past_the_last_case() -> None:
    plan = rich_plan()
    axis = axis_of(Lookup(plan))
    assert axis.begins == local("20:00", -1)  # planned at 20:15
    assert axis.day_from == min(cart.complete_by for cart in plan.carts).replace(minute=0) - timedelta(hours=1)
    assert axis.at(axis.begins) == 0
    assert axis.at(axis.ends) == 100
    assert axis.at(shift(axis.begins, 60)) == pytest.approx(100 / axis.hours, abs=0.01)


def test_that_a_plan_made_days_before_shows_no_more_than_the_evening_before() -> None:
    axis = axis_of(Lookup(rich_plan(now=local("09:00", -3))))
    assert axis.begins == local("18:00", -1)


def test_that_a_plan_made_during_the_day_still_shows_the_whole_day() -> None:
    plan = rich_plan(now=local("15:00"))
    assert axis_of(Lookup(plan)).begins <= min(cart.complete_by for cart in plan.carts)


def test_that_the_night_of_the_change_of_clocks_has_its_hour_twice() -> None:
    """In New York the clock goes back at 02:00 on 1 November 2026 (IANA zone data)."""
    settings = Settings(site="Example Hospital", time_zone="America/New_York")
    now = datetime(2026, 10, 31, 23, 0, tzinfo=UTC)
    plan = rich_plan(carts=(), day=date(2026, 11, 1), now=now, settings=settings, clusters=())
    ticks = [tick.text for tick in ticks_of(axis_of(Lookup(plan)))]
    assert [tick for tick in ticks if tick.startswith("01:00")] == ["01:00 EDT", "01:00 EST"]
    assert ticks.count("02:00") == 1


@given(st.lists(st.tuples(st.integers(0, 300), st.integers(1, 90)), max_size=30))
def test_that_lanes_are_as_many_as_ever_overlap_and_hold_no_overlap(pairs: list[tuple[int, int]]) -> None:
    """Least lanes = greatest overlap (Kleinberg and Tardos, Algorithm Design, 4.1)."""
    stretches = sorted((shift(local("07:00"), start), shift(local("07:00"), start + span)) for start, span in pairs)
    taken = lanes(stretches)
    depth = max((sum(1 for b, e in stretches if b <= at < e) for at, _ in stretches), default=0)
    assert len(set(taken)) == depth
    for (begins, _), lane in zip(stretches, taken, strict=True):
        others = [s for s, other in zip(stretches, taken, strict=True) if other == lane and s[0] <= begins < s[1]]
        assert len(others) == 1


def test_that_a_case_stands_in_its_room_as_wide_as_it_is_long() -> None:
    plan = rich_plan()
    index = BoardIndex(plan)
    rows = room_rows(index)
    bars = {bar.number: bar for row in rows for bar in row.bars}
    for cart in plan.carts:
        bar = bars[cart.case.number]
        assert bar.width == pytest.approx(cart.case.minutes / 60 / index.axis.hours * 100, abs=0.02)
        assert cart.surgeon_name in bar.label
        assert cart.surgeon_name in bar.find
    assert [row.room for row in rows] == ["OR 1", "OR 2", "OR 3", "OR 4", "OR 5"][: len(rows)] or rows


def test_that_rooms_stand_as_people_read_them() -> None:
    rooms = [row.room for row in room_rows(BoardIndex(sample_day()))]
    assert rooms == [f"OR {number}" for number in range(1, 11)]


def test_that_two_cases_at_once_in_one_room_get_a_lane_each() -> None:
    plan = rich_plan()
    first = plan.carts[0]
    twin = replace(first, case=replace(first.case, number="C-2000"))
    rows = room_rows(BoardIndex(replace(plan, carts=(*plan.carts, twin))))
    row = next(row for row in rows if row.room == first.case.room)
    at = {bar.number: bar.lane for bar in row.bars}
    assert at[first.case.number] != at["C-2000"]
    assert row.lanes == 2


def test_that_a_waiting_case_bears_the_signs_of_its_conflicts_and_the_giver_is_marked() -> None:
    bars = {bar.number: bar for row in room_rows(BoardIndex(rich_plan())) for bar in row.bars}
    assert bars["C-1047"].kinds == ("tight", "queue")
    assert not bars["C-1041"].kinds
    assert bars["C-1041"].gives


def test_that_a_set_in_trouble_passes_from_its_giver_to_the_case_that_waits() -> None:
    index = BoardIndex(rich_plan())
    made = passes(index, room_rows(index))
    ways = {(one.giver, one.waiter): one for one in made}
    way = ways["case=C-1041", "case=C-1047"]
    giver, waiter = index.carts["C-1041"], index.carts["C-1047"]
    assert way.trouble
    assert way.x1 == index.axis.at(index.ends(giver))
    assert way.x2 == index.axis.at(waiter.complete_by)


def test_that_conflicts_stand_by_when_they_must_be_decided() -> None:
    """Our own figures: 07:35 short, 09:50 rush, 10:00 conditional, 10:10 tight, and two without a moment."""
    entries = conflict_entries(BoardIndex(rich_plan()))
    assert [(one.decide_by, one.kind) for one in entries] == [
        ("07:35", "short"),
        ("09:50", "rush"),
        ("10:00", "conditional"),
        ("10:10", "tight"),
        ("–", "reserve"),
        ("–", "queue"),
    ]
    short = entries[0]
    assert (short.case, short.room, short.amount) == ("C-1083", "OR 1", "2 h 05 min short")
    assert (short.chance, short.remedies) == ("over 99 %", "2 remedies")


def test_that_the_chance_of_a_set_on_hold_counts_only_if_it_is_opened() -> None:
    index = BoardIndex(rich_plan())
    chances = {one.kind: one.chance for one in conflict_entries(index)}
    assert (chances["conditional"], chances["tight"]) == ("50 % if opened", "31 %")
    saw = next(one for one in conflict_leaves(index) if one.kind == "conditional")
    assert saw.chance == "50 % if opened"
    assert "Risk: late in 50 % of simulated days at usual pace if it is opened." in saw.block.facts


def test_that_the_way_of_a_set_on_hold_says_that_its_chance_counts_only_if_it_is_opened() -> None:
    index = BoardIndex(rich_plan())
    saw = next(one for one in index.plan.reuses if one.set_id == "SAW-01")
    share = ReuseChance(
        set_id="SAW-01",
        giver=saw.giver,
        waiter=saw.waiter,
        fails=0.5,
        expected_late=1,
        late_p90=0,
        blame="",
        fails_hurried=0.2,
    )
    index.found.chances["SAW-01", saw.waiter] = share
    assert DeadlineStrip(index, saw).chance == (
        "late in 50 % of simulated days at usual pace if it is opened, in 20 % even when hurried"
    )


def test_that_a_leaf_has_proof_remedies_chance_and_the_way_onwards() -> None:
    leaves = conflict_leaves(BoardIndex(rich_plan()))
    short = leaves[0]
    assert "three uses overlap" in short.block.proof
    assert [one.kind for one in short.block.remedies] == ["a stand-in tray", "other start in the same room"]
    assert short.before == ""
    assert short.after == f"#{leaves[1].id}"
    assert leaves[-1].after == ""


def test_that_a_case_without_a_set_wants_one_for_as_long_as_none_is_there() -> None:
    """Our own worked example, not published: a third wrist case is 125 minutes short."""
    plan = rich_plan()
    case = plain_case("C-1083", "OR 1", "11:15", 120)
    cart = replace(plan.carts[0], case=case, complete_by=local("10:45"), trays=())
    index = BoardIndex(replace(plan, carts=(*plan.carts, cart)))
    wrist = next(group for group in tray_groups(index) if group.tray.text == "Wrist fracture")
    (want,) = wrist.wants
    late = next(piece for piece in want.pieces if piece.kind == "late")
    assert late.left == index.axis.at(local("10:45"))
    assert late.width == pytest.approx(125 / 60 / index.axis.hours * 100, abs=0.02)
    assert late.text == "2 h 05 min short"
    assert [row.set_id for row in wrist.sets] == ["WRIST-01", "WRIST-02", "WRIST-03"]


def test_that_a_set_is_bound_then_worked_on_step_by_step_then_ready() -> None:
    index = BoardIndex(rich_plan())
    row = SetBars(index, "HIPF-01")
    kinds = [piece.kind for piece in sorted(row.pieces, key=lambda piece: piece.left)]
    assert kinds.count("bound") == 2
    steps = [piece.text for piece in row.pieces if piece.kind == "step"]
    assert steps == ["wash", "assemble", "sterilize", "cool"]
    assert next(piece for piece in row.pieces if piece.kind == "wait").title == "waits 30 min for Washer 2"
    ready = {mark.kind: mark.at for mark in row.marks if mark.kind in ("ready", "sooner")}
    assert ready == {"ready": index.axis.at(local("14:18"))}


def test_that_without_a_run_of_the_department_the_walked_route_is_drawn() -> None:
    index = BoardIndex(rich_plan(department=None))
    row = SetBars(index, "HIPF-01")
    assert [piece.text for piece in row.pieces if piece.kind == "step"] == ["wash", "assemble", "sterilize", "cool"]
    assert index.axis.at(local("13:48")) in [mark.at for mark in row.marks if mark.kind == "ready"]


def test_that_every_deadline_of_a_reuse_is_a_mark() -> None:
    index = BoardIndex(rich_plan())
    row = SetBars(index, "HIPF-01")
    reuse = next(one for one in index.plan.reuses if one.set_id == "HIPF-01")
    marks = [mark for mark in row.marks if mark.kind == "deadline"]
    assert [mark.at for mark in marks] == [index.axis.at(one.latest) for one in reuse.deadlines]
    assert marks[1].title.startswith("into decontamination: latest ")


@pytest.mark.parametrize(
    ("state", "words"),
    [(SetState.INCOMPLETE, "incomplete: not planned for use"), (SetState.UNKNOWN, "unknown: not planned for use")],
)
def test_that_a_set_that_cannot_be_had_is_barred_all_day(state: SetState, words: str) -> None:
    row = SetBars(BoardIndex(with_set(rich_plan(), "HIPF-09", state=state)), "HIPF-09")
    (barred,) = row.pieces
    assert (barred.kind, barred.left, barred.width, barred.text) == ("barred", 0, 100, words)


def test_that_a_set_away_is_barred_until_it_is_back() -> None:
    index = BoardIndex(with_set(rich_plan(), "HIPF-09", state=SetState.AWAY, back_at=local("12:00")))
    barred = next(piece for piece in SetBars(index, "HIPF-09").pieces if piece.kind == "barred")
    assert barred.width == index.axis.at(local("12:00"))
    assert barred.text == "away until 12:00"


def test_that_a_loan_that_is_not_here_yet_is_said_to_come_and_not_to_end() -> None:
    """The bar read "on loan until 12:00", as if the loan ended then; the conflict sheet says "here from"."""
    index = BoardIndex(with_set(rich_plan(), "HIPF-09", state=SetState.ON_LOAN, back_at=local("12:00")))
    barred = next(piece for piece in SetBars(index, "HIPF-09").pieces if piece.kind == "barred")
    assert barred.text == "on loan, here from 12:00"
    (leaf,) = (leaf for leaf in tray_leaves(index) if "HIPF-09" in dict(leaf.sets))
    assert dict(leaf.sets)["HIPF-09"].startswith("on loan, here from 12:00")


def test_that_a_set_late_for_its_case_is_late_from_needed_until_ready_and_not_ready_meanwhile() -> None:
    index = BoardIndex(sample_day())
    for one in index.conflicts:
        if one.kind is ConflictKind.CONDITIONAL:
            row = SetBars(index, one.set_id)
            late = next(piece for piece in row.pieces if piece.kind == "late")
            lying = [piece for piece in row.pieces if piece.kind == "ready"]
            assert late.left == index.axis.at(index.needed(one) or index.axis.begins)
            assert all(piece.left + piece.width <= late.left or piece.left >= late.left + late.width for piece in lying)
            return
    raise AssertionError("the sample has a conditional conflict")


def test_that_an_act_says_how_much_is_to_spare_against_its_latest_moment() -> None:
    index = BoardIndex(rich_plan())
    reuse = next(one for one in index.plan.reuses if one.set_id == "HIPF-01")
    strip = DeadlineStrip(index, reuse)
    acts = {row.act: row for row in strip.acts}
    for one in reuse.deadlines:
        row = acts[one.act]
        assert row.latest == index.found.when(one.latest)
        if row.at is not None:
            assert row.late == (row.at > row.latest_at) or row.spare == "0 min"
    assert acts[Act.INTO_DECONTAMINATION].expected == index.found.when(reuse.released)
    assert strip.chance == "late in 31 % of simulated days in today's queue, in 12 % even when hurried"


def test_that_a_leg_that_leaves_with_a_run_has_its_expected_time_too() -> None:
    index = BoardIndex(rich_plan())
    reuse = next(one for one in index.plan.reuses if one.set_id == "HIPF-01")
    step = next(step for step in reuse.walk.steps if any(one.is_start_of(step.step) for one in reuse.deadlines))
    leaves = start_of(step.step, run="noon van")
    by_run = tuple(replace(one, act=leaves) if one.is_start_of(step.step) else one for one in reuse.deadlines)
    acts = {row.act: row.expected for row in DeadlineStrip(index, replace(reuse, deadlines=by_run)).acts}
    alone = {row.act: row.expected for row in DeadlineStrip(index, reuse).acts}
    assert acts[leaves] == alone[start_of(step.step)] != index.found.when(None)


def test_that_board_and_department_sheet_say_alike_how_much_a_case_may_overrun() -> None:
    """The sheet said of a case that must end 40 min earlier that it cannot overrun at all."""
    plan = rich_plan()
    own = next(one for one in plan.reuses if one.giver)
    for minutes, percent, words in (
        (12, 8, "may overrun by 12 min (8 % of its minutes)"),
        (0, 0, "cannot overrun at all"),
        (-40, -80, "must end 40 min earlier (80 % of its minutes)"),
    ):
        reuse = replace(own, break_even=minutes, break_even_percent=percent)
        index = BoardIndex(replace(plan, reuses=(reuse,)))
        assert DeadlineStrip(index, reuse).overrun == f"{own.giver} {words}"
        assert ReuseBlock(index.found, reuse).facts[0] == f"{own.giver} {words}"
    held = replace(own, break_even=-40, break_even_percent=-80, if_unopened_slack=5)
    assert overrun_words(held) == f"{own.giver} must end 40 min earlier if it opens the set (80 % of its minutes)"


def test_that_the_board_draws_the_set_that_a_running_case_gives_back() -> None:
    """Its case is of the evening before and no use of the plan: the row of the set stood empty until it was needed."""
    plan = rich_plan()
    own = next(one for one in plan.reuses if one.giver)
    rest = tuple(one for one in plan.assignments if one.use.case != own.giver)
    index = BoardIndex(replace(plan, reuses=(own,), assignments=rest, department=None))
    ready = index.found.when(own.ready)
    assert [mark.text for mark in SetBars(index, own.set_id).marks if mark.kind == "ready"] == [ready]


def test_that_every_case_and_every_tray_of_the_day_has_a_leaf() -> None:
    plan = sample_day()
    index = BoardIndex(plan)
    assert {leaf.number for leaf in case_leaves(index)} == {cart.case.number for cart in plan.carts}
    assert {line.need.thing for cart in plan.carts for line in cart.trays} <= {leaf.tray for leaf in tray_leaves(index)}


def test_that_a_leaf_says_what_is_recorded_and_never_that_it_is_sterile() -> None:
    told = [state for leaf in tray_leaves(BoardIndex(sample_day())) for _, state in leaf.sets]
    assert any("recorded as sterile" in state for state in told)
    assert not [state for state in told if re.search(r"(?<!recorded as )sterile", state)]


@given(st.lists(st.tuples(st.integers(0, 4), st.integers(0, 6)), min_size=1, max_size=20))
def test_that_a_plot_covers_the_machines_at_work_and_the_sets_that_wait(load: list[tuple[int, int]]) -> None:
    hours = tuple(
        StationHour(station="Washer", begins=local("08:00") + n * QUARTER, busy=float(busy), waiting=waiting)
        for n, (busy, waiting) in enumerate(load)
    )
    index = BoardIndex(rich_plan(department=DepartmentRun(rule="earliest deadline", hours=hours)))
    plots = station_plots(index)
    if not any(busy or waiting for busy, waiting in load):
        assert plots == ()
        return
    tallest = max(busy + waiting for busy, waiting in load)
    quarter = 25 / index.axis.hours
    assert area(plots[0].busy) == pytest.approx(quarter * sum(busy for busy, _ in load) / tallest, abs=0.05)
    assert area(plots[0].waiting) == pytest.approx(quarter * sum(waiting for _, waiting in load) / tallest, abs=0.05)


def area(path: str) -> float:
    """The area of rectangles written as ``Mx yVyHxVyz``."""
    number = r"(-?[\d.e-]+)"
    boxes = re.findall(rf"M{number} {number}V{number}H{number}V{number}z", path)
    assert len(boxes) == path.count("M")
    return sum((float(right) - float(left)) * (float(low) - float(high)) for left, low, high, right, _ in boxes)


def test_that_conflicts_of_a_later_day_are_listed_though_they_have_no_bar() -> None:
    plan = sample_day()
    late = next(case for case in plan.cases if case.day > DAY)
    moved = replace(plan.clusters[0].conflicts[0], waiter=late.number, givers=(), decide_by=None, id="later")
    changed = replace(plan, clusters=(replace(plan.clusters[0], conflicts=(moved,)), *plan.clusters[1:]))
    index = BoardIndex(changed)
    entry = next(one for one in conflict_entries(index) if one.href == "#conflict=later")
    assert entry.case == late.number
    assert entry.room == late.room
    leaf = next(one for one in conflict_leaves(index) if one.key == "later")
    assert leaf.case.href == ""


def test_that_the_table_of_conflicts_names_the_side_of_a_tray_as_the_list_to_decide_does() -> None:
    view = BoardView(sample_day())
    of_list = {entry.tray for entry in view.entries}
    assert "Wrist plates, right" in of_list
    assert {row.cells[5].text for row in view.tables[0].rows} == of_list


def test_that_the_panel_of_a_case_names_a_tray_as_its_list_does() -> None:
    """Of a stand-in it gave the name of the tray that was asked for beside the set of another one."""
    plan = rich_plan()
    cart = plan.carts[0]
    line = replace(cart.trays[0], name="Basic two", stand_in_for="Basic soft tissue")
    changed = replace(cart, trays=(replace(line, need=replace(line.need, side=Side.LEFT)), *cart.trays[1:]))
    index = BoardIndex(replace(plan, carts=(changed, *plan.carts[1:])))
    leaf = next(one for one in case_leaves(index) if one.number == cart.case.number)
    assert leaf.trays[0].tray.text == "Basic two, left"
    assert leaf.trays[0].where.endswith("; stands in for Basic soft tissue")


def test_that_of_several_cases_that_wait_for_its_sets_a_bar_speaks_in_the_plural() -> None:
    plan = rich_plan()
    (group, *_) = plan.clusters
    one = replace(group.conflicts[0], givers=("C-1041",), waiter="C-1047")
    other = replace(one, id="K-77", waiter="C-1060")
    index = BoardIndex(replace(plan, clusters=(replace(group, conflicts=(one, other)),)))
    bars = [bar for room in room_rows(index) for bar in room.bars if bar.number == "C-1041"]
    assert "C-1047 and C-1060 wait for its sets" in bars[0].label
