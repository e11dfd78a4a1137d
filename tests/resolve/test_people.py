"""Gloves and gowns by the sizes of those at the table."""

from __future__ import annotations

import pytest

from picklist.model.catalogue import ItemClass, Procedure
from picklist.resolve import resolve_case
from tests.resolve.cards import amounts, house, item, line, listed, notices, operation, pack, person

STOCK = [
    item("o75", item_class=ItemClass.OUTER_GLOVE, size="7.5"),
    item("o8", item_class=ItemClass.OUTER_GLOVE, size="8"),
    item("u8", item_class=ItemClass.UNDER_GLOVE, size="8"),
    item("gown-l", item_class=ItemClass.GOWN, size="L"),
    item("gown-xl", item_class=ItemClass.GOWN, size="XL"),
]
QUILL = person("S04", outer_glove="7.5", under_glove="8", gown="L")
MOSS = person("N02", outer_glove="8.0", gown="l", role="scrub")
LAPS = line("laps", "1/0")


def test_that_each_person_gets_a_pair_and_a_gown_of_their_size() -> None:
    wanted = listed([LAPS], operation(team=("N02",)), items=STOCK, staff=[QUILL, MOSS])
    assert wanted == {
        "laps": "1/0",
        "o75 S04": "1/0",
        "u8 S04": "1/0",
        "gown-l S04": "1/0",
        "o8 N02": "1/0",
        "gown-l N02": "1/0",
    }


def test_that_a_person_named_twice_is_dressed_once() -> None:
    once = listed([LAPS], operation(), items=STOCK, staff=[QUILL])
    assert listed([LAPS], operation(team=("S04", "S04")), items=STOCK, staff=[QUILL]) == once


def test_that_two_fields_do_not_double_gloves() -> None:
    card = [LAPS, line("laps", "1/0", procedure="P2")]
    wanted = listed(card, operation("P1", "P2", fields=2), items=STOCK, staff=[QUILL])
    assert wanted["o75 S04"] == "1/0"


@pytest.mark.parametrize("size", ["7.5", "7½", "7 ½", "7,5", " 7.50 "])
def test_that_a_size_is_the_same_however_it_is_written(size: str) -> None:
    assert "o75 S04" in listed([LAPS], items=STOCK, staff=[person("S04", outer_glove=size)])


def test_that_a_size_that_the_catalogue_lacks_is_named() -> None:
    staff = [person("S04", outer_glove="9", gown="XXL")]
    needs = resolve_case(house([LAPS], items=STOCK, staff=staff), operation())
    assert [(p.kind, p.where.column) for p in needs.notices] == [
        ("size not in the catalogue", "outer glove"),
        ("size not in the catalogue", "gown"),
    ]
    assert amounts(needs) == {"laps": "1/0"}


def test_that_a_blank_glove_size_is_named_where_the_site_keeps_gloves() -> None:
    assert notices([LAPS], items=STOCK, staff=[person("S04")]) == ["no glove size"]
    assert notices([LAPS], items=[item("laps")], staff=[person("S04")]) == []


def test_that_retired_gloves_are_not_chosen() -> None:
    stock = [item("old", item_class=ItemClass.OUTER_GLOVE, size="7.5", retired=True), *STOCK]
    assert "o75 S04" in listed([LAPS], items=stock, staff=[person("S04", outer_glove="7.5")])


def test_that_what_a_card_asks_for_is_not_doubled_by_person() -> None:
    card = [line("gown-l", "3/1"), line("o75", "1/0")]
    wanted = listed(card, operation(team=("N02",)), items=STOCK, staff=[QUILL, MOSS])
    assert wanted["gown-l"] == "1/1"
    assert "o75" not in wanted
    assert (wanted["gown-l S04"], wanted["gown-l N02"], wanted["o75 S04"]) == ("1/0", "1/0", "1/0")


def test_that_spares_on_hold_stay_when_the_person_wears_the_only_open_one() -> None:
    """One pair of 7.5 and two spares on hold; the surgeon wears 7.5: the pair is listed by name, the spares stay."""
    wanted = listed([LAPS, line("o75", "1/2")], items=STOCK, staff=[QUILL])
    assert (wanted["o75 S04"], wanted["o75"]) == ("1/0", "0/2")
    only_spares = listed([LAPS, line("o75", "0/2")], items=STOCK, staff=[QUILL])
    assert (only_spares["o75 S04"], only_spares["o75"]) == ("1/0", "0/2")


def test_that_gowns_in_the_pack_serve_the_people_too() -> None:
    site = {
        "items": STOCK,
        "staff": [QUILL, MOSS],
        "packs": [pack("pk", gown_l=2)],
        "procedures": [Procedure(id="P1", name="P1", pack="pk")],
    }
    wanted = listed([line("gown-l", "3/0")], operation(team=("N02",)), **site)
    assert [amount for name, amount in wanted.items() if name.startswith("gown")] == ["1/0"]


def test_that_each_gown_is_told_what_the_ones_before_it_left_in_the_pack() -> None:
    """Three people of one size at the table, and a pack with two gowns."""
    site = house(
        [LAPS],
        items=STOCK,
        staff=[QUILL, MOSS, person("N03", gown="L", role="scrub")],
        packs=[pack("pk", gown_l=2)],
        procedures=[Procedure(id="P1", name="P1", pack="pk")],
    )
    needs = resolve_case(site, operation(team=("N02", "N03")))
    gowns = [one for one in (*needs.dropped, *needs.needs) if one.thing == "gown-l"]
    said = {one.person: (one.open, one.reasons[-1].text) for one in gowns}
    assert said == {
        "S04": (0, "pack pk holds 2"),
        "N02": (0, "pack pk holds 2, 1 of them left by the lines before"),
        "N03": (1, "pack pk holds 2, none of them left by the lines before"),
    }


def test_that_people_unknown_to_staff_are_left_to_the_input_checks() -> None:
    assert listed([LAPS], operation(team=("N99",)), items=STOCK, staff=[]) == {"laps": "1/0"}
