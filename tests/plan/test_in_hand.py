"""A case that runs has its sets in hand: its list shows them, and asks for no others."""

from __future__ import annotations

from picklist.documents.views.bulk import BulkView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.tray_rows import tray_rows
from picklist.model.catalogue import StandIn
from picklist.model.conflicts import ConflictKind
from picklist.model.schedule import Case, CaseStatus
from tests.builders import at, case, tray
from tests.plan.nights import asks, cart_of, hospital, in_use, lines_of, planned, shelf

NOON = at("12:00")
WRIST_OR_HAND = (tray("wrist", stand_ins=(StandIn(tray="hand", preference=1),)), tray("hand"))


def running(number: str = "C1", start: str = "11:00", minutes: int = 120, **changes: object) -> Case:
    return case(number, start, minutes, status=CaseStatus.RUNNING, **changes)  # type: ignore[arg-type]


def test_the_list_of_a_running_case_names_the_set_that_it_has() -> None:
    plan = planned(hospital((running(),), (in_use("wrist-02", "C1"), shelf("wrist-01"))), NOON)
    (line,) = lines_of(plan, "C1")
    assert (line.set_id, line.in_hand, line.expected, line.conflicts) == ("wrist-02", True, None, ())
    assert plan.assignments == ()


def test_it_is_not_said_to_stand_on_a_shelf_nor_to_be_checked_or_fetched() -> None:
    plan = planned(hospital((running(), case("C2", "15:00", 60)), (in_use("wrist-02", "C1"), shelf("wrist-01"))), NOON)
    found = Lookup(plan)
    (row,) = tray_rows(found, cart_of(plan, "C1"))
    assert (row.set_id, row.missing, row.checks) == ("wrist-02", False, ())
    assert row.facts == (("now", "in use in this case", True),)
    assert [one.set_id for group in BulkView(found).sets for one in group.rows] == ["wrist-01"]


def test_it_says_when_the_set_must_be_given_back() -> None:
    # Out at 13:00, received 13:10, ready 16:10; the cart of C2 is due at 17:00.
    plan = planned(hospital((running(), case("C2", "17:30", 60)), (in_use("wrist-01", "C1"),)), NOON)
    (line,) = lines_of(plan, "C1")
    assert line.give_back is not None
    assert (line.give_back.for_case, line.give_back.slack) == ("C2", 50)
    assert line.give_back.reach_decontamination_by == at("14:00")
    assert [one.word for one in tray_rows(Lookup(plan), cart_of(plan, "C1"))[0].strips] == ["NEEDED NEXT"]


def test_a_set_that_stands_in_is_shown_as_such() -> None:
    plan = planned(hospital((running(),), (in_use("hand-01", "C1", "hand"),), trays=WRIST_OR_HAND), NOON)
    (line,) = lines_of(plan, "C1")
    assert (line.set_id, line.name, line.stand_in_for) == ("hand-01", "Hand", "Wrist")


def test_one_set_in_hand_serves_one_tray_only() -> None:
    """A hand tray may stand in for a wrist tray; a case that wants both and has a hand set lacks the wrist set."""
    lines = (asks("P1", "wrist"), asks("P1", "hand"))
    site = hospital((running(),), (in_use("hand-01", "C1", "hand"), shelf("wrist-01")), lines, WRIST_OR_HAND)
    wrist, hand = lines_of(planned(site, NOON), "C1")
    assert (wrist.set_id, wrist.in_hand) == ("wrist-01", False)
    assert (hand.set_id, hand.in_hand) == ("hand-01", True)


def test_as_many_copies_as_can_be_are_in_hand() -> None:
    """Foot stands in for both, arm for the wrist tray only: arm must serve the wrist tray though foot comes first."""
    trays = (
        tray("wrist", stand_ins=(StandIn(tray="foot", preference=1), StandIn(tray="arm", preference=2))),
        tray("hand", stand_ins=(StandIn(tray="foot", preference=1),)),
        tray("foot"),
        tray("arm"),
    )
    lines = (asks("P1", "wrist"), asks("P1", "hand"))
    sets = (in_use("foot-01", "C1", "foot"), in_use("arm-01", "C1", "arm"))
    wrist, hand = lines_of(planned(hospital((running(),), sets, lines, trays), NOON), "C1")
    assert (wrist.set_id, hand.set_id) == ("arm-01", "foot-01")


def test_a_case_that_has_begun_but_is_still_written_as_planned_keeps_its_set() -> None:
    begun = case("C1", "11:00", 120)
    plan = planned(hospital((begun,), (in_use("wrist-02", "C1"), shelf("wrist-01"))), NOON)
    assert [(one.set_id, one.in_hand) for one in lines_of(plan, "C1")] == [("wrist-02", True)]


def test_a_running_case_whose_set_nobody_recorded_is_named_with_the_set_it_is_taken_to_have() -> None:
    lines = (asks("P1", "wrist"), asks("P1", "hand"))
    trays = (tray("wrist"), tray("hand"))
    site = hospital((running(),), (shelf("wrist-01"), in_use("hand-01", "C1", "hand")), lines, trays)
    (found,) = planned(site, NOON).problems
    assert (found.kind, found.cases) == ("set of a running case not recorded", ("C1",))
    assert found.message == (
        "case C1 is running, but no set of Wrist is recorded as in use in it; wrist-01 is taken to be the one it has"
    )
    without = hospital((running(),), (in_use("hand-01", "C1", "hand"),), lines, trays)
    assert planned(without, NOON).problems[0].message.endswith("no other set could be the one it has")


def test_the_conflict_about_a_set_that_stands_in_is_on_the_line_of_the_case_that_waits_for_it() -> None:
    # The hand set leaves C1 at 10:00, is received at 10:10 and ready at 13:10; the cart of C2 is due at 13:00.
    lines = (asks("P1", "hand"), asks("P2", "wrist"))
    cases = (case("C1", "09:00", 60), case("C2", "13:30", 60, procedures=("P2",)))
    plan = planned(hospital(cases, (shelf("hand-01", "hand"),), lines, WRIST_OR_HAND), at("06:00"))
    (conflict,) = (one for one in plan.conflicts)
    assert (conflict.kind, conflict.minutes, conflict.waiter) == (ConflictKind.RUSH, 10, "C2")
    for number, conflicts in (("C1", ()), ("C2", (conflict.id,))):
        (line,) = lines_of(plan, number)
        assert (line.set_id, line.conflicts) == ("hand-01", conflicts)


def test_of_two_copies_only_the_one_that_goes_without_carries_the_conflict() -> None:
    lines = (asks("P1", "wrist", opened=2),)
    plan = planned(hospital((case("C1", "09:00", 60),), (shelf("wrist-01"),), lines), at("06:00"))
    (conflict,) = (one for one in plan.conflicts)
    assert [(one.set_id, one.conflicts) for one in lines_of(plan, "C1")] == [("wrist-01", ()), ("", (conflict.id,))]


def test_the_second_of_one_open_and_one_on_hold_is_on_hold() -> None:
    lines = (asks("P1", "wrist", opened=1, hold=1),)
    plan = planned(hospital((case("C1", "09:00", 60),), (shelf("wrist-01"), shelf("wrist-02")), lines), at("06:00"))
    rows = tray_rows(Lookup(plan), cart_of(plan, "C1"))
    assert [(row.on_hold, row.open, row.hold) for row in rows] == [(False, "1", "–"), (True, "–", "1")]
