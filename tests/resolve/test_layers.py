"""Base lines, the surgeon's for the procedure, the surgeon's for every procedure, house lines."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from picklist.model.cards import CardLine, Counted, ThingKind
from picklist.model.catalogue import ItemClass
from picklist.model.needs import ReasonKind
from picklist.resolve import find_idle_lines, resolve_case
from tests.resolve.cards import (
    SURGEON,
    amounts,
    house,
    item,
    line,
    listed,
    notices,
    on_day,
    only_if,
    operation,
    removing,
    replacing,
    row,
    stops,
    tray_line,
)

BASE = line("gown", "2/0")
THEIRS: dict[str, Any] = {"surgeon": SURGEON}
THEIRS_EVERYWHERE: dict[str, Any] = {"procedure": None, "surgeon": SURGEON}
HOUSE: dict[str, Any] = {"procedure": None, "surgeon": None}


def test_that_each_layer_adds_to_those_beneath() -> None:
    card = [
        line("gown", "0/1", **HOUSE),
        line("gown", "1/0", **THEIRS_EVERYWHERE),
        BASE,
        line("gown", "1/1", **THEIRS),
    ]
    assert listed(card) == {"gown": "4/2"}


@pytest.mark.parametrize("owner", [THEIRS, THEIRS_EVERYWHERE, HOUSE])
def test_that_a_layer_replaces_what_lies_beneath(owner: dict[str, object]) -> None:
    assert listed([BASE, replacing("gown", "5/1", **owner)]) == {"gown": "5/1"}
    assert listed([BASE, replacing("blue-gown", "1/0", instead_of="gown", **owner)]) == {"blue-gown": "1/0"}


@pytest.mark.parametrize("owner", [THEIRS, THEIRS_EVERYWHERE, HOUSE])
def test_that_a_layer_removes_what_lies_beneath(owner: dict[str, object]) -> None:
    assert listed([line("laps", "1/0"), BASE, removing("gown", **owner)]) == {"laps": "1/0"}


def test_that_what_is_left_out_names_the_line_that_did_it() -> None:
    """For an adult: the surgeon does without the gown, the house has another drain, and the wrap is for children."""
    card = [
        line("laps", "1/0"),
        line("gown", "2/1", where=row(4)),
        line("drain", "1/0", where=row(5)),
        line("wrap", "1/0", only_if=only_if("size child"), where=row(6)),
        removing("gown", where=row(7), **THEIRS),
        replacing("blue-drain", "1/0", instead_of="drain", where=row(8), **HOUSE),
    ]
    needs = resolve_case(house(card), operation(patient_size="adult"))
    assert amounts(needs) == {"laps": "1/0", "blue-drain": "1/0"}
    assert {one.thing: (one.reasons[-1].kind, one.reasons[-1].where.row) for one in needs.dropped} == {
        "gown": (ReasonKind.REMOVED, 7),
        "drain": (ReasonKind.REPLACED, 8),
        "wrap": (ReasonKind.CONDITION, 6),
    }
    assert {(one.open, one.hold) for one in needs.dropped} == {(0, 0)}


def test_that_the_house_has_the_last_word() -> None:
    card = [removing("gown", **HOUSE), BASE, line("laps", "1/0"), replacing("gown", "9/0", **THEIRS)]
    assert listed(card) == {"laps": "1/0"}


def test_that_other_surgeons_and_procedures_lines_do_not_count() -> None:
    card = [BASE, line("x", "1/0", surgeon="S99"), line("y", "1/0", procedure="P9")]
    assert listed(card) == {"gown": "2/0"}


def test_that_a_lower_layer_never_changes_a_higher_one() -> None:
    assert listed([line("gown", "2/0", **THEIRS), line("laps", "1/0")]) == {"laps": "1/0", "gown": "2/0"}
    assert stops([line("gown", "2/0", **THEIRS), removing("gown")]) == ["removes nothing"]


def test_that_a_replacement_without_quantities_takes_them_over() -> None:
    assert listed([line("gown", "2/1"), replacing("blue-gown", instead_of="gown", **THEIRS)]) == {"blue-gown": "2/1"}


def test_that_a_replacement_joins_what_is_there_already() -> None:
    card = [BASE, line("blue-gown", "1/0"), replacing("blue-gown", "3/0", instead_of="gown", **THEIRS)]
    assert listed(card) == {"blue-gown": "4/0"}


def test_that_one_thing_can_be_replaced_by_two() -> None:
    card = [
        BASE,
        replacing("a", "1/0", instead_of="gown", **THEIRS),
        replacing("b", "2/0", instead_of="gown", **THEIRS),
    ]
    assert listed(card) == {"a": "1/0", "b": "2/0"}


def test_that_a_tray_can_take_the_place_of_an_item() -> None:
    card = [BASE, tray_line("set", "1/0", **replaces_gown())]
    assert listed(card) == {"set": "1/0"}


def replaces_gown() -> dict[str, object]:
    return {"change": replacing("x").change, "instead_of": "gown", **THEIRS}


def test_that_replacements_of_one_layer_do_not_act_on_each_other() -> None:
    card = [
        line("a", "1/0"),
        line("b", "5/0"),
        replacing("b", "2/0", instead_of="a", **THEIRS),
        replacing("c", "7/0", instead_of="b", **THEIRS),
    ]
    assert listed(card) == {"b": "2/0", "c": "7/0"}
    assert listed(card[::-1]) == {"b": "2/0", "c": "7/0"}


@pytest.mark.parametrize(
    ("rule", "kind"),
    [
        (removing("gwon", where=row(7), **THEIRS), "removes nothing"),
        (replacing("gwon", "1/0", where=row(7), **THEIRS), "replaces nothing"),
        (replacing("gown", "1/0", instead_of="gwon", where=row(7), **THEIRS), "replaces nothing"),
    ],
)
def test_that_a_line_that_finds_nothing_stops_the_case(rule: CardLine, kind: str) -> None:
    needs = resolve_case(house([BASE, rule]), operation())
    (problem,) = needs.stopped
    assert (problem.kind, problem.where, problem.value) == (kind, row(7), "gwon")
    assert problem.nearest == ("gown",)
    assert problem.cases == ("C1",)
    assert needs.needs == ()


def test_that_a_line_for_every_procedure_acts_where_it_can() -> None:
    card = [BASE, removing("drain", **THEIRS_EVERYWHERE), replacing("b", "1/0", instead_of="a", **HOUSE)]
    assert listed(card) == {"gown": "2/0"}


def test_that_removing_what_only_a_condition_keeps_off_is_no_mistake() -> None:
    card = [BASE, line("wrap", "1/0", only_if=only_if("size child"))]
    adult = operation(patient_size="adult")
    assert listed([*card, removing("wrap", **THEIRS)], adult) == {"gown": "2/0"}
    assert listed([*card, replacing("sheet", "1/0", instead_of="wrap", **THEIRS)], adult) == {"gown": "2/0"}


def test_that_an_ended_line_is_not_there_to_be_removed() -> None:
    card = [BASE, line("wrap", "1/0", ends=date(2026, 3, 1)), removing("wrap", **THEIRS)]
    assert stops(card, on_day("2026-03-02")) == ["removes nothing"]
    needs = resolve_case(house(card), on_day("2026-03-01"))
    assert amounts(needs) == {"gown": "2/0"}


@pytest.mark.parametrize(
    ("day", "answer"), [("2026-02-28", "1/0"), ("2026-03-01", "2/0"), ("2026-03-31", "2/0"), ("2026-04-01", "1/0")]
)
def test_that_a_version_with_an_end_gives_way_to_the_one_before(day: str, answer: str) -> None:
    month = line("gown", "2/0", begins=date(2026, 3, 1), ends=date(2026, 3, 31))
    needs = resolve_case(house([month, line("gown", "1/0")]), on_day(day))
    assert amounts(needs) == {"gown": answer}


def test_that_a_former_version_is_named_with_its_row() -> None:
    card = [line("gown", "1/0", where=row(4)), line("gown", "2/0", begins=date(2026, 3, 1), where=row(9))]
    (need,) = resolve_case(house(card), on_day("2026-03-02")).needs
    assert [(one.kind, one.where) for one in need.reasons] == [
        (ReasonKind.REPLACED, row(4)),
        (ReasonKind.CARD_LINE, row(9)),
    ]


@pytest.mark.parametrize(
    ("day", "answer"),
    [
        ("2026-01-31", {"laps": "1/0", "gown": "2/0"}),
        ("2026-02-01", {"laps": "1/0"}),
        ("2026-03-01", {"laps": "1/0", "gown": "4/0"}),
        ("2026-04-01", {"laps": "1/0", "blue": "4/0"}),
        ("2026-05-01", {"laps": "1/0", "gown": "6/0"}),
    ],
)
def test_that_the_latest_word_on_a_thing_is_the_one_that_counts(day: str, answer: dict[str, str]) -> None:
    card = [
        line("gown", "6/0", begins=date(2026, 5, 1)),
        replacing("blue", instead_of="gown", begins=date(2026, 4, 1)),
        line("laps", "1/0"),
        line("gown", "4/0", begins=date(2026, 3, 1)),
        removing("gown", begins=date(2026, 2, 1)),
        line("gown", "2/0", begins=date(2026, 1, 1)),
    ]
    for rows in (card, card[::-1]):
        assert amounts(resolve_case(house(rows), on_day(day))) == answer


def test_that_lines_under_other_conditions_are_no_versions_of_each_other() -> None:
    card = [
        line("gown", "2/0"),
        line("gown", "1/0", only_if=only_if("size child"), begins=date(2026, 1, 1)),
    ]
    assert listed(card, operation(patient_size="Child")) == {"gown": "3/0"}


def test_that_a_conditional_replacement_holds_for_later_versions_too() -> None:
    card = [
        line("gown", "2/0"),
        line("gown", "3/0", begins=date(2026, 3, 13)),
        replacing("small-gown", instead_of="gown", only_if=only_if("size child"), begins=date(2026, 2, 1)),
    ]
    assert listed(card, operation(patient_size="child")) == {"small-gown": "3/0"}


def test_that_the_same_line_typed_twice_counts_once_and_is_named() -> None:
    card = [line("gown", "2/0", where=row(5)), line("gown", "3/0", where=row(9))]
    assert listed(card) == listed(card[::-1]) == {"gown": "3/0"}
    (problem,) = resolve_case(house(card), operation()).notices
    assert (problem.kind, problem.where, problem.related) == ("double line", row(9), (row(5),))


def test_that_lines_for_different_purposes_add_up() -> None:
    card = [line("suture", "2/0", note="fascia"), line("suture", "1/0", note="skin")]
    needs = resolve_case(house(card), operation())
    assert amounts(needs) == {"suture": "3/0"}
    assert needs.notices == ()
    assert needs.needs[0].note == "fascia; skin"


def test_that_contradicting_lines_are_named_and_taken_in_the_stated_order() -> None:
    card = [removing("gown"), line("gown", "1/0"), line("laps", "1/0")]
    assert listed(card) == listed(card[::-1]) == {"laps": "1/0"}
    assert notices(card) == ["contradicting lines"]


def test_that_a_quantity_on_a_removal_is_named() -> None:
    card = [line("gown", "3/0"), line("laps", "1/0"), replace(removing("gown", **THEIRS), open=1)]
    assert listed(card) == {"laps": "1/0"}
    assert notices(card) == ["quantity on a removal"]


def test_that_a_line_without_a_quantity_is_named() -> None:
    card = [line("gown", "0/0"), line("laps", "1/0")]
    assert listed(card) == {"laps": "1/0"}
    assert notices(card) == ["line without a quantity"]


@pytest.mark.parametrize("item_class", [ItemClass.EQUIPMENT, ItemClass.MEDICINE, ItemClass.IMPLANT])
def test_that_what_is_only_named_needs_no_quantity(item_class: ItemClass) -> None:
    needs = resolve_case(
        house([line("thing", "0/0")], items=[item("thing", item_class=item_class)]), operation(side=None)
    )
    assert [(need.thing, need.item_class) for need in needs.needs] == [("thing", item_class)]


@pytest.mark.parametrize("kind", list(ThingKind))
def test_that_an_unknown_thing_stops_the_case_and_points_at_its_line(kind: ThingKind) -> None:
    site = house([BASE, line("ghost", "1/0", kind=kind, where=row(12))])
    site = replace(site, items={"gown": item("gown")}, trays={}, packs={})
    (problem,) = resolve_case(site, operation()).stopped
    assert (problem.kind, problem.where, problem.value) == ("unknown thing", row(12), "ghost")


def test_that_an_unknown_procedure_stops_the_case() -> None:
    site = replace(house([BASE]), procedures={})
    assert [p.kind for p in resolve_case(site, operation("P1", "P1")).stopped] == ["unknown procedure"]


def test_that_an_empty_card_stops_the_case_and_a_missing_one_is_named() -> None:
    assert stops([line("gown", "1/0", procedure="P2")], operation("P2", "P2")) == []
    site = house([line("gown", "1/0", procedure="P2")], procedures=[])
    assert [p.kind for p in resolve_case(site, operation("P1")).stopped] == ["unknown procedure"]
    card = [line("gown", "1/0", ends=date(2020, 1, 1))]
    assert stops(card) == ["nothing asked for"]
    only_house = [line("x", "1/0", procedure="P2"), line("marker", "1/0", **HOUSE)]
    known = house(only_house, procedures=[replace(house([BASE]).procedures["P1"])])
    assert [p.kind for p in resolve_case(known, operation("P1")).notices] == ["procedure without a card"]


def test_that_what_is_counted_per_procedure_stays_so_when_replaced() -> None:
    card = [
        line("laps", "2/0", counted=Counted.PER_PROCEDURE),
        line("laps", "2/0", procedure="P2", counted=Counted.PER_PROCEDURE),
        replacing("thin-laps", instead_of="laps", **THEIRS_EVERYWHERE),
    ]
    assert listed(card, operation("P1", "P2")) == {"thin-laps": "4/0"}


def test_that_lines_for_every_procedure_that_no_card_has_work_for_are_found() -> None:
    card = [
        BASE,
        line("laps", "1/0", procedure="P2", surgeon="S99"),
        removing("gown", where=row(1), **THEIRS_EVERYWHERE),
        removing("laps", where=row(2), **THEIRS_EVERYWHERE),
        removing("laps", where=row(3), **HOUSE),
        replacing("gown", "1/0", where=row(4), **HOUSE),
        replacing("drape", "1/0", where=row(5), **HOUSE),
        removing("gown", procedure="P2", where=row(6)),
        removing("tube", where=row(7), approved=False),
    ]
    found = find_idle_lines(house(card), date(2026, 3, 1))
    assert [(p.kind, p.where) for p in found] == [
        ("removes nothing", row(2)),
        ("replaces nothing", row(5)),
    ]
