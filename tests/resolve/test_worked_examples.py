"""Worked examples of our own, by hand and by script; not published."""

from __future__ import annotations

from datetime import date

import pytest

from picklist.model.cards import CardLine
from picklist.model.catalogue import Procedure
from picklist.resolve import resolve_case
from tests.resolve.cards import amounts, house, line, listed, on_day, operation, pack, tray_line

PACK = pack("pk", gown=3, tubing=1, cover=2, laps=1)
CARD = [line("gown", "5/0"), line("tubing", "1/1"), line("cover", "2/0"), line("laps", "2/1"), line("blade", "1/0")]


def test_that_the_pack_takes_off_open_only() -> None:
    wanted = listed(CARD, packs=[PACK], procedures=[Procedure(id="P1", name="P1", pack="pk")])
    assert wanted == {"pk": "1/0", "gown": "2/0", "tubing": "0/1", "laps": "1/1", "blade": "1/0"}


def test_that_the_site_may_let_the_pack_take_off_hold_too() -> None:
    procedures = [Procedure(id="P1", name="P1", pack="pk")]
    card = [line("gown", "1/1"), line("tubing", "1/1"), line("cover", "0/3")]
    wanted = listed(card, packs=[PACK], procedures=procedures, pack_offsets_hold=True)
    assert wanted == {"pk": "1/0", "tubing": "0/1", "cover": "0/1"}


TWO_CARDS = [
    tray_line("basic"),
    line("suction", "1/0"),
    line("gown", "4/0"),
    line("laps", "2/0"),
    line("retractor", "0/1"),
    tray_line("basic", procedure="P2"),
    line("suction", "1/0", procedure="P2"),
    line("gown", "3/0", procedure="P2"),
    line("laps", "3/0", procedure="P2"),
    line("retractor", "1/0", procedure="P2"),
]


@pytest.mark.parametrize(
    ("fields", "answer"),
    [
        (1, {"basic": "1/0", "suction": "1/0", "gown": "4/0", "laps": "3/0", "retractor": "1/0"}),
        (2, {"basic": "2/0", "suction": "2/0", "gown": "7/0", "laps": "5/0", "retractor": "1/1"}),
    ],
)
def test_that_one_field_takes_the_larger_and_two_fields_add_up(fields: int, answer: dict[str, str]) -> None:
    assert listed(TWO_CARDS, operation("P1", "P2", fields=fields)) == answer


def test_that_what_was_merged_is_listed() -> None:
    needs = resolve_case(house(TWO_CARDS), operation("P1", "P2"))
    merged = {merge.thing: (merge.asked, merge.open, merge.hold) for merge in needs.merges}
    assert merged["retractor"] == ((("P1", 0, 1), ("P2", 1, 0)), 1, 0)
    assert len(merged) == 5


VERSIONS = [
    line("gown", "3/0", begins=date(2026, 3, 1)),
    line("gown", "4/0", begins=date(2026, 3, 13)),
    line("gown", "5/0", begins=date(2026, 3, 10), approved=False),
]


@pytest.mark.parametrize(("day", "answer"), [("2026-03-12", "3/0"), ("2026-03-13", "4/0")])
@pytest.mark.parametrize("rows", [VERSIONS, VERSIONS[::-1]])
def test_that_the_version_in_force_on_the_day_of_the_case_counts(day: str, answer: str, rows: list[CardLine]) -> None:
    needs = resolve_case(house(rows), on_day(day))
    assert amounts(needs) == {"gown": answer}
    (pending,) = needs.pending
    assert "5 open" in pending.text


def test_that_what_takes_effect_after_the_case_is_not_pending_for_it() -> None:
    assert resolve_case(house(VERSIONS), on_day("2026-03-05")).pending == ()
