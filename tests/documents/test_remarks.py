"""What a list says in short of conflicts, of what was left off, and of what is merged."""

from __future__ import annotations

from dataclasses import replace

import pytest

from picklist.documents.missing_characters import LONGEST
from picklist.documents.views.conflict_lines import brief
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.remarks import left_off, remarks
from picklist.documents.views.stamp import printing_of
from picklist.model.cards import ThingKind
from picklist.model.conflicts import Conflict, ConflictKind
from picklist.model.needs import Need, Reason, ReasonKind
from picklist.model.plan import Cart
from tests.documents.carts import need
from tests.documents.findings import rich_plan


def conflict(kind: ConflictKind, minutes: int, set_id: str = "HIPF-01") -> Conflict:
    return Conflict(
        id="K-9", kind=kind, tray="T-HIP", waiter="C-1047", givers=("C-1041",), set_id=set_id, minutes=minutes,
        statement="the whole sentence",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "minutes", "waits"),
    [
        (ConflictKind.SHORT, 145, "HIPF-01 is 2 h 25 min late."),
        (ConflictKind.SHORT, 0, "No set is available."),
        (ConflictKind.RUSH, 10, "Save 10 min on the way from C-1041 in OR 3; confirm with sterile processing."),
        (ConflictKind.TIGHT, 12, "Only 12 min to spare on the way from C-1041 in OR 3."),
        (ConflictKind.RESERVE, 1, "Using it leaves 1 set fewer than to be kept ready."),
        (ConflictKind.CONDITIONAL, 110, "1 h 50 min late if C-1041 opens it."),
        (ConflictKind.QUEUE, 20, "20 min late because of the department's queue on the way from C-1041 in OR 3."),
    ],
)  # fmt: skip
def test_that_each_kind_of_conflict_is_said_in_a_line_to_the_cart_that_waits(
    kind: ConflictKind, minutes: int, waits: str
) -> None:
    found = Lookup(rich_plan())
    assert brief(found, conflict(kind, minutes)) == f"{waits} See the conflict sheet."


def dropped(kind: ThingKind, thing: str, name: str, reason: ReasonKind, text: str, **changes: object) -> Need:
    card = Reason(kind=ReasonKind.CARD_LINE, text=f"every surgeon: add {thing}", open=1, hold=0)
    end = Reason(kind=reason, text=text, open=0, hold=0)
    return need("C-1041", kind, thing, name, 0, 0, reasons=(card, end), **changes)


OFF = (
    dropped(ThingKind.ITEM, "I-1", "Tip cleaner", ReasonKind.REMOVED, "Dr Example: remove item I-1"),
    dropped(ThingKind.TRAY, "T-9", "Drill", ReasonKind.CONDITION, "only if size child; the case's patient size: adult"),
    dropped(ThingKind.PACK, "PK-2", "Knee pack", ReasonKind.MERGED, "one custom pack, the main procedure's"),
    dropped(ThingKind.ITEM, "I-2", "Fluid warmer", ReasonKind.CONDITION, "only if size child"),
    dropped(ThingKind.ITEM, "I-3", "Drape", ReasonKind.IN_PACK, "pack PK-HIP holds 2"),
    dropped(ThingKind.ITEM, "I-4", "Silk 2-0", ReasonKind.REPLACED, "replace item I-5 instead of I-4"),
)


def first_cart(*off: Need) -> Cart:
    cart = rich_plan().carts[0]
    return replace(cart, needs=replace(cart.needs, dropped=off))


def test_that_what_somebody_would_miss_is_told_with_its_reason() -> None:
    assert left_off(first_cart(*OFF)) == (
        "Tip cleaner (I-1) – Dr Example: remove item I-1",
        "Drill (T-9) – only if size child; the case's patient size: adult",
        "Knee pack (PK-2) – one custom pack, the main procedure's",
    )


def test_that_a_gown_in_the_pack_is_told_where_its_wearer_is_served() -> None:
    cart = first_cart()
    person = cart.people[0].need.person
    gown = dropped(ThingKind.ITEM, "I-9", "Gown L", ReasonKind.IN_PACK, "pack PK-HIP holds 2", person=person)
    view = PickListView(Lookup(rich_plan()), first_cart(gown), printing_of(rich_plan()))
    assert [group.note for group in view.people].count("in the pack: Gown L") == 1


def test_that_letters_stand_for_procedures_only_where_something_was_merged() -> None:
    plan = rich_plan()
    view = PickListView(Lookup(plan), plan.carts[0], printing_of(plan))
    assert view.merged_from == "A: Hip replacement, total; B: Bone graft harvest, iliac crest"
    assert view.merged[0] == "Basic soft tissue: A 1 open; B 1 open. Here 1 open."
    lone = replace(plan.carts[0], needs=replace(plan.carts[0].needs, merges=()))
    assert PickListView(Lookup(plan), lone, printing_of(plan)).merged_from == ""


def test_that_a_case_of_more_procedures_than_letters_names_the_rest_by_their_ids() -> None:
    plan = rich_plan()
    ids = tuple(f"P-{number}" for number in range(27))
    cart = replace(plan.carts[0], case=replace(plan.carts[0].case, procedures=ids), procedure_names=ids)
    assert PickListView(Lookup(plan), cart, printing_of(plan)).merged_from.endswith("; Z: P-25; P-26: P-26")


def test_that_what_to_do_about_many_sets_is_not_cut_off_with_their_names() -> None:
    """Of 150 sets the names alone filled what a row holds, and "check the package" was cut."""
    plan = rich_plan()
    line = replace(plan.carts[0].trays[0], end_not_recorded=True)
    cart = replace(plan.carts[0], trays=tuple(replace(line, set_id=f"BASIC-{n:03d}") for n in range(150)))
    [said] = [text for what, text in remarks(cart) if what == "Not stated:" and "sterility" in text]
    assert len(said) < LONGEST
    assert said.startswith("the last day of recorded sterility of BASIC-000, BASIC-001, ")
    assert said.endswith(" more; check the package")
