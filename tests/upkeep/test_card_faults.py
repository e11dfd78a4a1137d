"""Cards to tidy up, found one by one in a small clinic."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from picklist.tables.write import write_tables
from picklist.upkeep.card_faults import (
    FaultKind,
    describe_faults,
    describe_near_cards,
    describe_trays_together,
    find_card_faults,
    find_near_cards,
    find_trays_together,
)
from tests.upkeep.clinic import DAY, read_clinic, write_clinic


def knee(
    thing: str, opened: int | None = 1, surgeon: str = "every", *, begins: date | None = None, **more: Any
) -> dict[str, Any]:
    kind = "tray" if thing.startswith("T-") else "item"
    return {
        "procedure": "KNEE",
        "surgeon": surgeon,
        "kind": kind,
        "thing": thing,
        "open": opened,
        "from": begins,
    } | more


def faults(tmp_path: Path, *rows: dict[str, Any]) -> list[tuple[FaultKind, str, str | None]]:
    site = read_clinic(write_clinic(tmp_path / "clinic", cards=list(rows)))
    found = find_card_faults(site, DAY)
    assert len(describe_faults(site, found)) >= len(found)
    return [(one.kind, one.thing, one.surgeon) for one in found if one.kind is not FaultKind.NEVER_DATED]


def test_that_a_retired_item_is_found(tmp_path: Path) -> None:
    assert faults(tmp_path, knee("100009")) == [(FaultKind.RETIRED, "100009", None)]


def test_that_an_ended_line_for_a_retired_item_is_not(tmp_path: Path) -> None:
    assert faults(tmp_path, knee("100009", until=date(2026, 11, 25))) == []


def test_that_what_the_pack_holds_is_found(tmp_path: Path) -> None:
    """The knee pack holds two gowns."""
    assert faults(tmp_path, knee("100003", 3)) == [(FaultKind.IN_PACK, "100003", None)]


def test_that_the_same_thing_twice_is_found(tmp_path: Path) -> None:
    twice = (knee("100001", 2), knee("100001", 1, note="for the skin"))
    assert faults(tmp_path, *twice) == [(FaultKind.TWICE, "100001", None)]


def test_that_a_line_that_changes_nothing_is_found(tmp_path: Path) -> None:
    rows = (knee("T-KNEE"), knee("100001", None, surgeon="S01", change="remove"))
    assert faults(tmp_path, *rows) == [(FaultKind.IDLE, "100001", "S01")]


def test_that_a_line_that_says_what_the_base_says_is_found(tmp_path: Path) -> None:
    rows = (knee("100001", 2), knee("100001", 2, surgeon="S01", change="replace"))
    assert faults(tmp_path, *rows) == [(FaultKind.SAME_AS_BASE, "100001", "S01")]


def test_that_a_pending_line_whose_day_has_come_is_found(tmp_path: Path) -> None:
    rows = (knee("T-KNEE"), knee("100001", approved="no"), knee("100002", approved="no", begins=date(2027, 1, 1)))
    assert faults(tmp_path, *rows) == [(FaultKind.PENDING, "100001", None)]


def test_that_cards_not_used_and_not_reviewed_are_found(tmp_path: Path) -> None:
    """Tarn does no knees, scheduled or past; the hernia card was last touched in 2023."""
    rows = [
        knee("T-KNEE", begins=date(2026, 1, 1)),
        knee("100001", surgeon="S02", begins=date(2026, 1, 1)),
        {"procedure": "HERNIA", "kind": "tray", "thing": "T-BASIC", "open": 1, "from": date(2023, 5, 1)},
    ]
    clinic = write_clinic(tmp_path / "clinic", cards=rows)
    past = {"procedure": "HERNIA", "surgeon": "S01", "planned minutes": 60, "actual minutes": 70}
    write_tables(clinic, {"Past cases": [past]}, books={})
    found = find_card_faults(read_clinic(clinic), DAY)
    assert [(one.kind, one.procedure, one.surgeon) for one in found] == [
        (FaultKind.NOT_REVIEWED, "HERNIA", None),
        (FaultKind.UNUSED, "KNEE", "S02"),
    ]


def test_that_near_cards_are_told_with_what_differs(tmp_path: Path) -> None:
    rows = [
        knee("T-KNEE"),
        knee("100001", 2),
        knee("100001", 3, surgeon="S01", change="replace"),
        knee("100007", 1, surgeon="S01"),
        knee("100007", 1, surgeon="S02"),
    ]
    site = read_clinic(write_clinic(tmp_path / "clinic", cards=rows))
    (pair,) = find_near_cards(site, DAY)
    assert (pair.one, pair.other, pair.common, len(pair.differences)) == ("S01", "S02", 3, 1)
    assert describe_near_cards(site, (pair,)) == (
        "Knee repair (KNEE): Dr. Quill (S01) and Dr. Tarn (S02) differ in 1 of 4 lines",
        "  S01: Suture 2-0 (100001), 3 open; S02: Suture 2-0 (100001), 2 open",
    )


def test_that_trays_always_together_are_found(tmp_path: Path) -> None:
    """Basic and mini come on three cards and never apart; the knee tray comes on two of them only."""
    rows = [
        {"procedure": procedure, "kind": "tray", "thing": thing, "open": 1}
        for procedure, thing in (("KNEE", "T-BASIC"), ("KNEE", "T-MINI"), ("HERNIA", "T-BASIC"), ("HERNIA", "T-MINI"))
    ]
    rows += [knee("T-KNEE"), knee("100001", surgeon="S01")]
    site = read_clinic(write_clinic(tmp_path / "clinic", cards=rows))
    (group,) = find_trays_together(site, DAY)
    assert (group.trays, len(group.cards)) == (("T-BASIC", "T-MINI"), 3)
    assert describe_trays_together(site, (group,)) == (
        "always together on 3 cards: Basic (T-BASIC), Mini set (T-MINI)",
    )
