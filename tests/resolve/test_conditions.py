"""Side, alerts and patient size: a blank is never a default."""

from __future__ import annotations

from dataclasses import replace

import pytest

from picklist.documents.missing_characters import LONGEST
from picklist.model.catalogue import Item, ItemClass
from picklist.model.schedule import Side
from picklist.model.sets import InstrumentSet
from picklist.model.site import Site
from picklist.resolve import resolve_case
from tests.builders import tray
from tests.resolve.cards import (
    SURGEON,
    amounts,
    house,
    item,
    line,
    listed,
    notices,
    only_if,
    operation,
    removing,
    replacing,
    row,
    stops,
    tray_line,
)

SIDED = [tray("knee", sided=True)]
PLAIN = line("laps", "1/0")


@pytest.mark.parametrize(
    ("side", "answer"),
    [
        (Side.LEFT, {"knee left": "1/0"}),
        (Side.RIGHT, {"knee right": "1/0"}),
        (Side.BOTH, {"knee left": "1/0", "knee right": "1/0"}),
    ],
)
def test_that_a_sided_tray_is_wanted_for_the_stated_side(side: Side, answer: dict[str, str]) -> None:
    assert listed([tray_line("knee")], operation(side=side), trays=SIDED) == answer


def test_that_a_blank_side_stops_the_list_and_names_each_line_that_waits_for_it() -> None:
    card = [PLAIN, tray_line("knee", where=row(4)), line("wedge", "1/0", side=Side.LEFT, where=row(5))]
    needs = resolve_case(house(card, trays=SIDED), operation(where=row(3, "Schedule")))
    (problem,) = needs.stopped
    assert (problem.kind, problem.where.row, problem.where.column) == ("side not stated", 3, "side")
    assert set(problem.related) == {row(4), row(5)}
    assert needs.needs == ()


def test_that_of_many_lines_that_wait_for_a_side_the_first_are_named_and_all_are_counted() -> None:
    card = [line(f"wedge-{number}", "1/0", side=Side.LEFT, where=row(number)) for number in range(10, 50)]
    (problem,) = resolve_case(house(card), operation(where=row(3, "Schedule"))).stopped
    assert "40 card lines of this case depend on it" in problem.message
    assert problem.related == tuple(row(number) for number in range(10, 16))
    assert len(problem.sentence()) <= LONGEST


def test_that_a_case_without_a_side_stops_at_a_sided_tray() -> None:
    assert stops([tray_line("knee")], operation(side=Side.NOT_SIDED), trays=SIDED) == ["side contradicts"]


def test_that_a_blank_side_is_fine_when_nothing_depends_on_it() -> None:
    assert listed([PLAIN, tray_line("basic")]) == {"basic": "1/0", "laps": "1/0"}


def test_that_a_line_for_a_side_counts_on_that_side_only() -> None:
    card = [PLAIN, line("wedge", "1/0", side=Side.LEFT), line("roll", "1/0", side=Side.RIGHT)]
    both = line("bridge", "1/0", side=Side.BOTH)
    assert listed([*card, both], operation(side=Side.LEFT)) == {"laps": "1/0", "wedge": "1/0"}
    assert listed([*card, both], operation(side=Side.NOT_SIDED)) == {"laps": "1/0"}
    assert len(listed([*card, both], operation(side=Side.BOTH))) == 4


def test_that_a_side_can_be_removed_alone() -> None:
    card = [tray_line("knee"), tray_line("knee", change=removing("x").change, side=Side.LEFT, surgeon=SURGEON, open=0)]
    assert listed(card, operation(side=Side.BOTH), trays=SIDED) == {"knee right": "1/0"}


def test_that_a_sided_tray_in_place_of_another_keeps_its_sides() -> None:
    trays = [tray("knee", sided=True), tray("new-knee", sided=True)]
    card = [
        tray_line("knee", "1/1", side=Side.RIGHT),
        tray_line("new-knee", "0/0", change=replacing("x").change, instead_of="knee", surgeon=SURGEON),
    ]
    assert listed(card, operation(side=Side.BOTH), trays=trays) == {"new-knee right": "1/1"}


def test_that_each_side_takes_over_what_its_own_side_asked_for() -> None:
    """Both knees, with a second left set: the new tray comes twice for the left and once for the right."""
    trays = [tray("knee", sided=True), tray("new-knee", sided=True)]
    card = [
        tray_line("knee", "1/0"),
        tray_line("knee", "1/1", side=Side.LEFT, note="second surgeon"),
        tray_line("new-knee", "0/0", change=replacing("x").change, instead_of="knee", surgeon=SURGEON),
    ]
    assert listed(card, operation(side=Side.BOTH), trays=trays) == {"new-knee left": "2/1", "new-knee right": "1/0"}


def test_that_a_side_can_be_replaced_alone() -> None:
    """Both knees; the surgeon wants another tray on the left only."""
    trays = [tray("knee", sided=True), tray("new-knee", sided=True)]
    instead = tray_line(
        "new-knee", "1/0", change=replacing("x").change, instead_of="knee", surgeon=SURGEON, side=Side.LEFT
    )
    card = [tray_line("knee"), instead]
    assert listed(card, operation(side=Side.BOTH), trays=trays) == {"knee right": "1/0", "new-knee left": "1/0"}
    assert listed(card, operation(side=Side.RIGHT), trays=trays) == {"knee right": "1/0"}


CONDITIONED = line("special", "1/0")


@pytest.mark.parametrize(
    ("words", "case_says", "counts"),
    [
        ("alert latex", {"alerts": ("Latex",)}, True),
        ("alert latex", {"alerts": ("latex allergy", "isolation")}, True),
        ("alert latex", {}, False),
        ("not alert latex", {"alerts": ("latex",)}, False),
        ("not alert latex", {"alerts": ("isolation",)}, True),
        ("alert isolation", {"alerts": (" Isolation ",)}, True),
        ("alert isolation", {"alerts": ("isolation room",)}, False),
        ("side left", {"side": Side.LEFT}, True),
        ("side left", {"side": Side.BOTH}, True),
        ("side left", {"side": Side.RIGHT}, False),
        ("side both", {"side": Side.LEFT}, False),
        ("side none", {"side": Side.NOT_SIDED}, True),
        ("not side left", {"side": Side.RIGHT}, True),
        ("not side left", {"side": Side.BOTH}, False),
        ("size child", {"patient_size": "Child"}, True),
        ("size child", {"patient_size": "adult"}, False),
        ("not size child", {"patient_size": "adult"}, True),
        ("not size child", {"patient_size": "child"}, False),
    ],
)
def test_that_a_condition_decides_whether_its_line_counts(
    words: str, case_says: dict[str, object], counts: bool
) -> None:
    answer = {"laps": "1/0"} | ({"special": "1/0"} if counts else {})
    assert listed([PLAIN, line("special", "1/0", only_if=only_if(words))], operation(**case_says)) == answer


def test_that_all_conditions_must_hold() -> None:
    card = [PLAIN, line("special", "1/0", only_if=only_if("alert latex") + only_if("size child"))]
    assert listed(card, operation(alerts=("latex",), patient_size="adult")) == {"laps": "1/0"}
    assert "special" in listed(card, operation(alerts=("latex",), patient_size="child"))


@pytest.mark.parametrize(("words", "kind"), [("side left", "side not stated"), ("not size child", "size not stated")])
def test_that_a_condition_on_a_blank_stops_the_list(words: str, kind: str) -> None:
    assert stops([PLAIN, line("special", "1/0", only_if=only_if(words))]) == [kind]


def test_that_a_condition_that_fails_decides_whatever_else_is_blank() -> None:
    card = [PLAIN, line("special", "1/0", side=Side.LEFT, only_if=only_if("alert latex"))]
    assert listed(card) == {"laps": "1/0"}


def test_that_pending_lines_are_named_only_where_they_could_count() -> None:
    card = [
        PLAIN,
        line("a", "1/0", approved=False, where=row(2)),
        line("b", "1/0", approved=False, only_if=only_if("alert latex"), where=row(3)),
        line("c", "1/0", approved=False, surgeon="S99", where=row(4)),
        line("d", "1/0", approved=False, side=Side.LEFT, where=row(5)),
    ]
    needs = resolve_case(house(card), operation())
    assert [pending.where for pending in needs.pending] == [row(2), row(5)]
    assert amounts(needs) == {"laps": "1/0"}


def implant(**changes: object) -> Item:
    return item("stem", item_class=ItemClass.IMPLANT, size="9-13", brought_by="Vendor One", **changes)


def test_that_implants_name_side_size_range_and_who_brings_them() -> None:
    needs = resolve_case(house([line("stem", "1/0")], items=[implant()]), operation(side=Side.RIGHT))
    (need,) = needs.needs
    assert (need.side, need.size, need.brought_by) == (Side.RIGHT, "9-13", "Vendor One")


def test_that_an_implant_whose_side_is_blank_is_named_and_one_without_a_side_is_not() -> None:
    assert notices([line("stem", "1/0")], operation(), items=[implant()]) == ["implant without a side"]
    assert notices([line("stem", "1/0")], operation(side=Side.NOT_SIDED), items=[implant()]) == []


def test_that_left_and_right_implants_stay_apart() -> None:
    card = [line("stem", "1/0", side=Side.LEFT), line("stem", "2/0", side=Side.RIGHT)]
    assert listed(card, operation(side=Side.BOTH), items=[implant()]) == {"stem left": "1/0", "stem right": "2/0"}


def sized_house(*sizes: str) -> Site:
    """A house of which the tray ``basic`` has a set for each of these size classes (empty: any)."""
    sets = {f"B-{n}": InstrumentSet(id=f"B-{n}", tray="basic", size=size) for n, size in enumerate(sizes)}
    return replace(house([tray_line("basic", where=row(4))]), sets=sets)


def test_that_a_tray_is_wanted_for_the_patients_size() -> None:
    (need,) = resolve_case(sized_house("child", ""), operation(patient_size="child")).needs
    assert need.size == "child"


def test_that_a_blank_size_stops_the_list_where_sets_are_for_one_size() -> None:
    (problem,) = resolve_case(sized_house("child", ""), operation()).stopped
    assert (problem.kind, problem.related) == ("size not stated", (row(4),))
    assert resolve_case(sized_house("", ""), operation()).stopped == ()


def test_that_a_size_that_only_a_set_knows_is_known() -> None:
    assert not resolve_case(sized_house("infant"), operation(patient_size="Infant")).unknown_size


def test_that_an_alert_is_known_where_an_approved_line_looks_at_it() -> None:
    """Under isolation the card brings a drape; of a line still to be approved nobody is to rely on the word."""
    alerted = operation(alerts=("Isolation", "latex", "pacemaker"))
    approved = line("drape", "1/0", only_if=only_if("alert isolation"))
    waiting = line("magnet", "1/0", only_if=only_if("alert pacemaker"), approved=False)
    assert resolve_case(house([PLAIN, approved, waiting]), alerted).unknown_alerts == ("pacemaker",)
    assert resolve_case(house([PLAIN]), alerted).unknown_alerts == ("Isolation", "pacemaker")
