"""Several procedures on one cart, and the one custom pack."""

from __future__ import annotations

from typing import Any

import pytest

from picklist.model.cards import Counted
from picklist.model.catalogue import Procedure
from picklist.resolve import resolve_case
from picklist.resolve.merge import larger_of
from picklist.wording.say_why import find_dropped
from tests.resolve.cards import (
    SURGEON,
    amounts,
    house,
    line,
    listed,
    notices,
    operation,
    pack,
    pack_line,
    removing,
    replacing,
)

PACKS = [pack("pk1", gown=2), pack("pk2", gown=3), pack("pk3", gown=1)]
NAMED = [Procedure(id="P1", name="P1", pack="pk1"), Procedure(id="P2", name="P2", pack="pk2")]
GOWNS = [line("gown", "4/0"), line("gown", "4/0", procedure="P2")]
SITE: dict[str, Any] = {"packs": PACKS, "procedures": NAMED}
BOTH = operation("P1", "P2")


@pytest.mark.parametrize(
    ("asked", "answer"),
    [
        ([(4, 0), (3, 0)], (4, 0)),
        ([(0, 1), (1, 0)], (1, 0)),
        ([(0, 2), (1, 0)], (1, 1)),
        ([(2, 1), (3, 0)], (3, 0)),
        ([(2, 1), (0, 2)], (2, 1)),
        ([(2, 1), (3, 1)], (3, 1)),
        ([(0, 0), (0, 0)], (0, 0)),
    ],
)
def test_that_open_beats_hold_within_the_larger_quantity(asked: list[tuple[int, int]], answer: tuple[int, int]) -> None:
    assert larger_of(asked) == larger_of(asked[::-1]) == answer


def test_that_the_main_procedures_pack_is_the_one_and_the_other_is_explained() -> None:
    needs = resolve_case(house(GOWNS, **SITE), BOTH)
    assert amounts(needs) == {"pk1": "1/0", "gown": "2/0"}
    assert [content.quantity for content in needs.pack_contents] == [2]
    assert len(find_dropped(needs, "pk2")) == 1


def test_that_a_later_procedures_pack_serves_when_the_main_one_names_none() -> None:
    procedures = [Procedure(id="P1", name="P1"), NAMED[1]]
    assert listed(GOWNS, BOTH, packs=PACKS, procedures=procedures) == {"pk2": "1/0", "gown": "1/0"}


def test_that_a_line_may_say_otherwise() -> None:
    add = pack_line("pk3", "1/0", procedure="P2", surgeon=SURGEON)
    assert listed([*GOWNS, add], BOTH, **SITE) == {"pk1": "1/0", "pk3": "1/0", "gown": "1/0"}
    assert notices([*GOWNS, add], BOTH, **SITE) == ["several packs"]
    swap = pack_line("pk3", "1/0", change=replacing("x").change, instead_of="pk1", surgeon=SURGEON)
    assert listed([*GOWNS, swap], BOTH, **SITE) == {"pk3": "1/0", "gown": "3/0"}
    none = pack_line("pk1", "0/0", change=removing("x").change, surgeon=SURGEON)
    assert listed([*GOWNS, none], BOTH, **SITE) == {"gown": "4/0"}


def test_that_changing_the_pack_that_is_not_given_changes_nothing() -> None:
    swap = pack_line("pk3", "1/0", procedure="P2", change=replacing("x").change, instead_of="pk2", surgeon=SURGEON)
    assert listed([*GOWNS, swap], BOTH, **SITE) == {"pk1": "1/0", "gown": "2/0"}


def test_that_a_card_that_names_the_procedures_own_pack_does_not_double_it() -> None:
    assert listed([*GOWNS, pack_line("pk1")], operation("P1"), **SITE) == {"pk1": "1/0", "gown": "2/0"}
    assert listed([*GOWNS, pack_line("pk2", procedure="P2")], BOTH, **SITE) == {"pk1": "1/0", "gown": "2/0"}
    assert listed([*GOWNS, pack_line("pk1", "2/0")], operation("P1"), **SITE) == {"pk1": "2/0"}


def test_that_a_pack_on_hold_takes_nothing_off() -> None:
    card = [line("gown", "4/0"), pack_line("pk1", "0/1")]
    needs = resolve_case(house(card, packs=PACKS, pack_offsets_hold=True), operation())
    assert amounts(needs) == {"pk1": "0/1", "gown": "4/0"}
    assert needs.pack_contents == ()


def test_that_an_unknown_pack_of_a_procedure_stops_the_case() -> None:
    site = house([line("gown", "1/0")], procedures=[Procedure(id="P1", name="P1", pack="ghost")])
    assert [p.kind for p in resolve_case(site, operation()).stopped] == ["unknown thing"]


def test_that_what_is_counted_per_procedure_adds_up_in_one_field() -> None:
    card = [
        line("blade", "1/0", counted=Counted.PER_PROCEDURE),
        line("blade", "2/1", counted=Counted.PER_PROCEDURE, procedure="P2"),
    ]
    assert listed(card, BOTH) == {"blade": "3/1"}


def test_that_both_ways_of_counting_stand_beside_each_other() -> None:
    card = [
        line("blade", "2/0"),
        line("blade", "1/0", counted=Counted.PER_PROCEDURE, surgeon=SURGEON),
        line("blade", "3/0", procedure="P2"),
    ]
    needs = resolve_case(house(card), BOTH)
    assert amounts(needs) == {"blade": "4/0"}
    assert needs.merges[0].asked == (("P1", 3, 0), ("P2", 3, 0))


def test_that_one_procedure_for_two_fields_is_named_and_one_listed_twice_is_served_twice() -> None:
    card = [line("blade", "2/0")]
    assert notices(card, operation("P1", fields=2)) == ["one procedure for several teams"]
    assert listed(card, operation("P1", "P1", fields=2)) == {"blade": "4/0"}
    assert listed(card, operation("P1", "P1")) == {"blade": "2/0"}


def test_that_what_one_card_asks_for_on_two_lines_is_not_said_to_be_merged() -> None:
    """Two laps for the case and one for each procedure stand on one card: three, and no other procedure asks."""
    card = [line("laps", "2/0"), line("laps", "1/0", counted=Counted.PER_PROCEDURE, note="skin")]
    needs = resolve_case(house(card), operation())
    assert amounts(needs) == {"laps": "3/0"}
    assert needs.merges == ()
