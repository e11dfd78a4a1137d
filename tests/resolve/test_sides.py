"""Procedures of one case on different sides: each with its own trays, conditions and implants."""

from __future__ import annotations

from dataclasses import replace

from picklist.model.catalogue import ItemClass
from picklist.model.needs import CaseNeeds
from picklist.model.schedule import Case, Side, sum_up_sides
from picklist.resolve import resolve_case
from tests.builders import tray
from tests.resolve.cards import house, item, line, only_if, operation, tray_line

SIDED = [tray("knee", sided=True), tray("ankle", sided=True), tray("basic")]


def on(*sides: Side) -> Case:
    """P1 and then P2, each on its side."""
    return operation(procedures=("P1", "P2"), side=sum_up_sides(sides), sides=sides)


def needs_of(case: Case, *lines: object, **parts: object) -> CaseNeeds:
    return resolve_case(house(lines, trays=SIDED, **parts), case)  # type: ignore[arg-type]


def trays_of(found: CaseNeeds) -> list[tuple[str, Side | None, int]]:
    return [(one.thing, one.side, one.open) for one in found.needs]


def test_each_procedure_takes_the_tray_of_its_own_side() -> None:
    found = needs_of(on(Side.RIGHT, Side.LEFT), tray_line("knee"), tray_line("ankle", procedure="P2"))
    assert trays_of(found) == [("knee", Side.RIGHT, 1), ("ankle", Side.LEFT, 1)]


def test_one_tray_for_two_procedures_on_two_sides_is_a_right_and_a_left_set() -> None:
    lines = [tray_line(name, procedure=procedure) for name in ("knee", "basic") for procedure in ("P1", "P2")]
    found = needs_of(on(Side.RIGHT, Side.LEFT), *lines)
    assert trays_of(found) == [("knee", Side.RIGHT, 1), ("basic", None, 1), ("knee", Side.LEFT, 1)]
    assert trays_of(needs_of(on(Side.LEFT, Side.LEFT), *lines))[0] == ("knee", Side.LEFT, 1)


def test_a_line_for_a_side_counts_by_the_side_of_its_procedure() -> None:
    lines = (
        line("wedge", "1/0", side=Side.LEFT),
        line("roll", "1/0", only_if=only_if("side right")),
        line("strap", "1/0", procedure="P2", side=Side.LEFT),
        line("bolster", "1/0", procedure="P2", only_if=only_if("not side left")),
    )
    found = needs_of(on(Side.RIGHT, Side.LEFT), *lines)
    assert sorted(one.thing for one in found.needs) == ["roll", "strap"]
    (why,) = [one.reasons[-1].text for one in found.dropped if one.thing == "wedge"]
    assert why.endswith("the procedure's side: right")


def test_a_procedure_without_a_side_takes_none_from_the_other() -> None:
    lines = (tray_line("knee"), line("plate", "1/0", procedure="P2"), line("screw", "1/0"))
    implants = [item(name, item_class=ItemClass.IMPLANT) for name in ("plate", "screw")]
    found = needs_of(on(Side.LEFT, Side.NOT_SIDED), *lines, items=implants)
    assert {one.thing: one.side for one in found.needs} == {"knee": Side.LEFT, "plate": None, "screw": Side.LEFT}
    stopped = needs_of(on(Side.NOT_SIDED, Side.LEFT), *lines, items=implants).stopped
    assert [one.message for one in stopped] == [
        "a procedure of the case is stated to have no side, but tray knee is left or right"
    ]


def test_an_implant_for_each_side_is_named_for_each() -> None:
    lines = (line("plate", "1/0"), line("plate", "1/0", procedure="P2"))
    found = needs_of(on(Side.RIGHT, Side.LEFT), *lines, items=[item("plate", item_class=ItemClass.IMPLANT)])
    assert [(one.side, one.open) for one in found.needs] == [(Side.RIGHT, 1), (Side.LEFT, 1)]


def test_a_procedure_on_both_sides_beside_one_on_the_left() -> None:
    found = needs_of(on(Side.BOTH, Side.LEFT), tray_line("knee"), tray_line("ankle", procedure="P2"))
    assert trays_of(found) == [("knee", Side.LEFT, 1), ("knee", Side.RIGHT, 1), ("ankle", Side.LEFT, 1)]


def test_one_side_for_all_is_as_ever() -> None:
    lines = (tray_line("knee"), tray_line("ankle", procedure="P2"))
    same = operation(procedures=("P1", "P2"), side=Side.RIGHT)
    apart = replace(same, sides=(Side.RIGHT, Side.RIGHT))
    assert trays_of(needs_of(same, *lines)) == trays_of(needs_of(apart, *lines))
