"""A proposal tells which carts change, which trays get scarcer, and which conflicts come and go."""

from __future__ import annotations

from datetime import time, timedelta
from pathlib import Path

import pytest

from picklist.inputs import read_site
from picklist.model.cards import ThingKind
from picklist.plan import OnCarts
from picklist.tables.write import write_tables
from picklist.upkeep.change_log import cards_state
from picklist.upkeep.effect import describe_effect, find_effect, plan_conflicts
from picklist.upkeep.proposals import (
    ApprovedBy,
    CardRequest,
    Proposal,
    approve_proposal,
    describe_proposal,
    keep_proposal,
    waiting_proposals,
)
from picklist.upkeep.slots import RowValue
from tests.inputs.folders import sound_rows
from tests.upkeep.clinic import DAY, KNEE_BASE, NOW, QUILL, change, item, read_clinic, write_clinic

MINI = RowValue(kind=ThingKind.TRAY, thing="T-MINI", open=1, hold=0)


def test_that_the_carts_of_the_coming_days_are_named(clinic: Path) -> None:
    site = read_clinic(clinic)
    effect = find_effect(site, QUILL, (change(clinic, QUILL, "100007", item("100007", 3)),), DAY)
    (cart,) = effect.carts
    assert (cart.case, [(one.thing, one.before, one.after) for one in cart.changes]) == (
        "C-1",
        [("100007", (1, 0), (3, 0))],
    )
    assert "cart C-1, Thu 26 Nov 2026, OR 1: Suture 3-0 (100007) 1 open -> 3 open" in describe_effect(site, effect)


def test_that_a_change_from_a_later_day_leaves_the_earlier_carts_alone(clinic: Path) -> None:
    edit = change(clinic, QUILL, "100007", item("100007", 3))
    assert not find_effect(read_clinic(clinic), QUILL, (edit,), DAY + timedelta(days=1)).carts


def test_that_a_scarcer_tray_and_the_conflict_it_makes_are_told(tmp_path: Path) -> None:
    """Two knees at once, one mini set; the base card is to ask for it. Without the change nobody needs it."""
    rows = sound_rows()
    second = {**rows["Schedule"][0], "case": "C-3", "room": "OR 2", "start": time(7, 30), "surgeon": "S02"}
    clinic = write_clinic(tmp_path / "clinic")
    write_tables(clinic, {"Schedule": [rows["Schedule"][0], second]})
    site, problems = read_site(clinic, now=NOW - timedelta(hours=12))
    assert site is not None
    edit = change(clinic, KNEE_BASE, "T-MINI", MINI)
    conflicts_of = plan_conflicts(problems, NOW - timedelta(hours=12), OnCarts())
    effect = find_effect(site, KNEE_BASE, (edit,), DAY, conflicts_of=conflicts_of)
    assert [(one.tray, one.before, one.after, one.sets, one.scarcer) for one in effect.trays] == [
        ("T-MINI", 0, 2, 1, True)
    ]
    assert effect.made is not None
    assert {(one.tray, one.kind.value) for one in effect.made} >= {("T-MINI", "short")}
    assert effect.solved == ()
    told = describe_effect(site, effect)
    assert "scarcer: Mini set (T-MINI), Thu 26 Nov 2026: 0 -> 2 uses of 1 set" in told
    assert any(one.startswith("conflict made: ") for one in told)


def test_that_a_change_the_cards_no_longer_allow_is_left_out(clinic: Path) -> None:
    stale = change(clinic, QUILL, "100007", item("100007", 3))
    write_clinic(clinic, cards=[{"procedure": "KNEE", "kind": "tray", "thing": "T-KNEE", "open": 1}])
    effect = find_effect(read_clinic(clinic), QUILL, (stale,), DAY)
    assert effect.void == (stale,)
    assert not effect.carts


def test_that_a_proposal_reads_card_by_card_and_is_kept(clinic: Path) -> None:
    proposal = Proposal(
        id="S01-abc123",
        owner=QUILL,
        file="quill.xlsx",
        version="1234-ABCD",
        day=DAY,
        changes=(change(clinic, QUILL, "100007", item("100007", 3)),),
        requests=(CardRequest(procedure="KNEE", text="Soft retractor", open="1", why="slips less"),),
    )
    assert describe_proposal(read_clinic(clinic), proposal) == (
        "Proposal S01-abc123 from Dr. Quill (S01) (quill.xlsx)",
        "",
        "Knee repair (KNEE)",
        "  1. changed: Suture 3-0 (100007), 1 open -> Suture 3-0 (100007), 3 open",
        "  asked for, not in the catalogue: Soft retractor; 1 open; slips less",
    )
    with cards_state(clinic) as state, state.writing() as db:
        keep_proposal(db, proposal)
        assert waiting_proposals(db) == {proposal.id: proposal}


@pytest.mark.parametrize(
    ("by", "reason", "numbers"), [("", "why", None), ("R. Vane", " ", None), ("R. Vane", "x", (7,))]
)
def test_that_an_approval_needs_a_name_a_reason_and_known_numbers(
    clinic: Path, by: str, reason: str, numbers: tuple[int, ...] | None
) -> None:
    edit = change(clinic, QUILL, "100007", item("100007", 3))
    proposal = Proposal(id="x", owner=QUILL, file="f", version="v", day=DAY, changes=(edit,))
    with pytest.raises(ValueError, match=r"enter who approves|no change 7"):
        approve_proposal(proposal, ApprovedBy(name=by, reason=reason, effective=DAY, numbers=numbers))
