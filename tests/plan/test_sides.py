"""Sided trays from the schedule to the list: a use for each side, its own set, its own line."""

from __future__ import annotations

from dataclasses import replace

from picklist.documents.views.conflict_sheet import ConflictsView
from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.labels import LabelsView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.stamp import printing_of
from picklist.documents.views.tray_rows import tray_rows
from picklist.model.catalogue import StandIn
from picklist.model.conflicts import ConflictKind
from picklist.model.schedule import Case, CaseStatus, Side
from picklist.model.sets import InstrumentSet
from picklist.plan.make import resolve_horizon
from picklist.sets.case_uses import make_uses
from picklist.sets.plan_sets import plan_sets
from tests.builders import at, case, says, tray
from tests.plan.nights import asks, cart_of, hospital, in_use, lines_of, planned, shelf

NOW = at("06:00")
WRIST = (tray("wrist", sided=True),)
PAIR = (shelf("wrist-L", side=Side.LEFT), shelf("wrist-R", side=Side.RIGHT))
APART = (Side.RIGHT, Side.LEFT)


def both_sides(**changes: object) -> Case:
    return case("C1", "09:00", 60, side=Side.BOTH, **changes)  # type: ignore[arg-type]


def test_an_operation_on_both_sides_binds_a_left_and_a_right_set() -> None:
    plan = planned(hospital((both_sides(),), PAIR, trays=WRIST), NOW)
    assert [(one.use.key, one.use.side, one.set_id) for one in plan.assignments] == [
        ("C1/wrist/1", Side.LEFT, "wrist-L"),
        ("C1/wrist/2", Side.RIGHT, "wrist-R"),
    ]
    assert [(one.need.side, one.copy, one.set_id) for one in lines_of(plan, "C1")] == [
        (Side.LEFT, 1, "wrist-L"),
        (Side.RIGHT, 2, "wrist-R"),
    ]


def test_each_line_says_its_side_and_asks_to_check_it() -> None:
    plan = planned(hospital((both_sides(),), PAIR, trays=WRIST), NOW)
    rows = tray_rows(Lookup(plan), cart_of(plan, "C1"))
    assert [(row.set_id, row.side, row.checks[-1]) for row in rows] == [
        ("wrist-L", "left", "side"),
        ("wrist-R", "right", "side"),
    ]


def test_open_and_hold_on_both_sides_keep_their_lines_apart() -> None:
    sets = (*PAIR, shelf("wrist-L2", side=Side.LEFT), shelf("wrist-R2", side=Side.RIGHT))
    lines = (asks("P1", "wrist", opened=1, hold=1),)
    plan = planned(hospital((both_sides(),), sets, lines, WRIST), NOW)
    found = [(one.need.side, one.on_hold, one.copy) for one in lines_of(plan, "C1")]
    assert found == [(Side.LEFT, False, 1), (Side.LEFT, True, 3), (Side.RIGHT, False, 2), (Side.RIGHT, True, 4)]
    given = {one.set_id: plan_side(plan.sets, one.set_id) for one in lines_of(plan, "C1")}
    assert [given[one.set_id] for one in lines_of(plan, "C1")] == [Side.LEFT, Side.LEFT, Side.RIGHT, Side.RIGHT]
    assert len(given) == 4


def plan_side(sets: tuple[InstrumentSet, ...], set_id: str) -> Side | None:
    return next(one.side for one in sets if one.id == set_id)


def test_the_side_that_is_short_is_named_and_only_its_line_carries_the_conflict() -> None:
    plan = planned(hospital((both_sides(),), PAIR[:1], trays=WRIST), NOW)
    (conflict,) = (one for one in plan.conflicts)
    assert (conflict.kind, conflict.copy) == (ConflictKind.SHORT, 2)
    assert "needs Wrist, right by 08:30" in says(conflict)
    assert [(one.set_id, one.conflicts) for one in lines_of(plan, "C1")] == [("wrist-L", ()), ("", (conflict.id,))]
    view = PickListView(Lookup(plan), cart_of(plan, "C1"), printing_of(plan))
    assert [one.name for one in view.shorts] == ["Wrist, right"]
    (row,) = ConflictsView(Lookup(plan)).overview
    assert row.what == "Wrist, right for C1 in OR 1"


def test_a_set_for_both_sides_serves_either_but_only_one() -> None:
    plan = planned(hospital((both_sides(),), (shelf("wrist-B", side=Side.BOTH),), trays=WRIST), NOW)
    assert sorted(one.set_id for one in lines_of(plan, "C1")) == ["", "wrist-B"]


def test_what_stands_in_must_be_of_the_side_too() -> None:
    trays = (tray("wrist", sided=True, stand_ins=(StandIn(tray="hand", preference=1),)), tray("hand", sided=True))
    sets = (PAIR[0], shelf("hand-L", "hand", side=Side.LEFT), shelf("hand-R", "hand", side=Side.RIGHT))
    plan = planned(hospital((both_sides(),), sets, trays=trays), NOW)
    assert [(one.need.side, one.set_id, one.stand_in_for) for one in lines_of(plan, "C1")] == [
        (Side.LEFT, "wrist-L", ""),
        (Side.RIGHT, "hand-R", "Wrist"),
    ]


def test_the_set_in_hand_of_a_running_case_is_counted_for_its_own_side() -> None:
    """The right set is in the room; what is lacking is the left one, though it is the first copy."""
    running = both_sides(status=CaseStatus.RUNNING)
    sets = (in_use("wrist-R", "C1", side=Side.RIGHT), shelf("wrist-L", side=Side.LEFT))
    site = hospital((running,), sets, trays=WRIST)
    plan = planned(site, at("09:30"))
    assert [(one.need.side, one.set_id, one.in_hand) for one in lines_of(plan, "C1")] == [
        (Side.LEFT, "wrist-L", False),
        (Side.RIGHT, "wrist-R", True),
    ]


def two_procedures(*sides: Side) -> Case:
    return replace(both_sides(), procedures=("P1", "P2"), sides=sides)


def test_procedures_on_different_sides_get_a_tray_of_each_and_the_list_says_which() -> None:
    lines = (asks("P1", "wrist"), asks("P2", "wrist"))
    plan = planned(hospital((two_procedures(*APART),), PAIR, lines, WRIST), NOW)
    assert [(one.need.side, one.set_id) for one in lines_of(plan, "C1")] == [
        (Side.RIGHT, "wrist-R"),
        (Side.LEFT, "wrist-L"),
    ]
    found = Lookup(plan)
    view = PickListView(found, cart_of(plan, "C1"), printing_of(plan))
    assert view.procedures == ("Procedure P1: RIGHT", "Procedure P2: LEFT")
    assert (view.side, view.side_known, view.running) == ("RIGHT + LEFT", True, "RIGHT + LEFT")
    (row,) = EveningView(found, lambda _case: printing_of(plan)).carts
    assert row.side == "RIGHT + LEFT"
    (label,) = LabelsView(found, lambda _case: printing_of(plan)).labels
    assert label.side == "RIGHT + LEFT"


def test_beside_a_procedure_without_a_side_the_list_says_which_has_one() -> None:
    lines = (asks("P1", "wrist"), asks("P2", "basin"))
    mixed = replace(two_procedures(Side.LEFT, Side.NOT_SIDED), side=Side.LEFT)
    site = hospital((mixed,), (*PAIR, shelf("basin-1", "basin")), lines, (*WRIST, tray("basin")))
    plan = planned(site, NOW)
    view = PickListView(Lookup(plan), cart_of(plan, "C1"), printing_of(plan))
    assert (view.side, view.procedures) == ("LEFT", ("Procedure P1: LEFT", "Procedure P2: SIDE NOT APPLICABLE"))


def test_a_built_cart_keeps_each_set_on_its_side() -> None:
    sets = (*PAIR, shelf("wrist-L2", side=Side.LEFT), shelf("wrist-R2", side=Side.RIGHT))
    site = hospital((both_sides(),), sets, trays=WRIST)
    cases, needs = resolve_horizon(site, (), NOW)
    held = {"C1/wrist/1": "wrist-L2", "C1/wrist/2": "wrist-R2"}
    plan = plan_sets(site, make_uses(site, needs, cases), NOW, held=held, remedies=False)
    assert {one.use.key: one.set_id for one in plan.assignments} == held
