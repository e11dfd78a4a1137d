"""The card that an office sees is the card that the carts are built from."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime

from hypothesis import assume, given
from hypothesis import strategies as st

from picklist.model.cards import CardLine, Change, Condition, ConditionKind, Counted, ThingKind
from picklist.model.catalogue import Item, Pack, PackLine, Procedure
from picklist.model.schedule import Case, Side
from picklist.model.site import Site
from picklist.resolve.being_resolved import CaseBeingResolved
from picklist.resolve.layers import resolve_procedure
from picklist.upkeep.card_rows import Origin, open_book, read_card
from picklist.upkeep.line_edits import Target, edits_do_it, with_change
from picklist.upkeep.owners import Owner
from picklist.upkeep.proposals import card_name
from picklist.upkeep.slots import (
    RowKey,
    RowValue,
    Verdict,
    compare_wants,
    same_want,
    slot_data,
    slot_from,
    want_data,
    want_from,
)
from tests.builders import DAY, utc_settings
from tests.upkeep.clinic import item

QUILL = Owner(surgeon="S")
THINGS = ("A", "B", "C", "D")
PACK = Pack(id="P", name="Pack", lines=(PackLine(item="A", quantity=1),))
WANTS = st.one_of(st.none(), st.builds(item, st.sampled_from(THINGS), st.integers(1, 3), st.integers(0, 2)))


def line(thing: str, opened: int, surgeon: str | None = None, **more: object) -> CardLine:
    fields: dict[str, object] = {"change": Change.ADD, "kind": ThingKind.ITEM}
    return CardLine(procedure="X", surgeon=surgeon, thing=thing, open=opened, **(fields | more))  # type: ignore[arg-type]


def site_of(*lines: CardLine) -> Site:
    return Site(
        settings=utc_settings(),
        procedures={"X": Procedure(id="X", name="Example", pack="P")},
        items={thing: Item(id=thing, name=thing) for thing in (*THINGS, "P")},
        packs={"P": PACK},
        card_lines=lines,
    )


def drawn_line(surgeon: str | None) -> st.SearchStrategy[CardLine]:
    return st.builds(
        line,
        st.sampled_from(THINGS),
        st.integers(1, 3),
        surgeon=st.just(surgeon),
        change=st.sampled_from(Change),
        instead_of=st.just(""),
        begins=st.sampled_from((None, date(2025, 1, 1), DAY)),
        ends=st.sampled_from((None, DAY, date(2026, 1, 1))),
        approved=st.sampled_from((True, True, True, False)),
    )


CARDS = st.builds(
    lambda base, own: site_of(*base, *own), *(st.lists(drawn_line(who), max_size=5) for who in (None, "S"))
)


def resolved(site: Site) -> tuple[Counter[tuple[ThingKind, str, int]], bool]:
    start = datetime(DAY.year, DAY.month, DAY.day, tzinfo=UTC)
    case = Case(number="1", day=DAY, room="", start=start, minutes=0, surgeon="S", procedures=("X",))
    desk = CaseBeingResolved(site=site, index=open_book(site).index, case=case)
    amounts: Counter[tuple[ThingKind, str, int]] = Counter()
    for draft in resolve_procedure(desk, "X"):
        amounts[draft.kind, draft.thing, 0] += draft.open
        amounts[draft.kind, draft.thing, 1] += draft.hold
    return +amounts, bool(desk.stopped)


@given(CARDS)
def test_that_the_rows_of_a_card_are_what_resolving_gives(site: Site) -> None:
    """Lines that find nothing stop a list, so such cards are left out here."""
    amounts, stopped = resolved(site)
    assume(not stopped)
    seen: Counter[tuple[ThingKind, str, int]] = Counter()
    for row in read_card(open_book(site), QUILL, "X", DAY):
        if row.mine and row.want:
            seen[row.want.kind, row.want.thing, 0] += row.want.open
            seen[row.want.kind, row.want.thing, 1] += row.want.hold
    assert +seen == amounts


@given(CARDS, st.sampled_from(THINGS), st.integers(0, 3), st.sampled_from((QUILL, Owner(service="any"))))
def test_that_an_edit_gives_just_what_was_wanted(site: Site, thing: str, opened: int, owner: Owner) -> None:
    _, stopped = resolved(site)
    assume(not stopped)
    book = open_book(site)
    rows = {row.slot.thing: row for row in read_card(book, owner, "X", DAY) if row.mine}
    slot = rows[thing].slot if thing in rows else RowKey(kind=ThingKind.ITEM, thing=thing)
    assume(thing not in rows or not rows[thing].fixed)
    after = item(thing, opened) if opened else None
    target = Target(owner=owner, procedure="X", effective=DAY)
    changed = with_change(book, target, slot, after)
    now = {row.slot.thing: row for row in read_card(changed, owner, "X", DAY) if row.mine}
    assert same_want(now[thing].want if thing in now else None, after)
    others = {one: row.want for one, row in rows.items() if one != thing}
    assert {one: row.want for one, row in now.items() if one != thing and one in others} == others
    assert edits_do_it(book, changed, target, [(slot, after)])


@given(WANTS, WANTS, WANTS)
def test_that_a_comparison_never_takes_back_what_either_side_did(
    sent: RowValue | None, now: RowValue | None, office: RowValue | None
) -> None:
    compared = compare_wants(sent, now, office)
    if same_want(sent, office):
        assert compared.outcome is Verdict.UNCHANGED
    elif same_want(sent, now):
        assert (compared.outcome, compared.want) == (Verdict.CLEAN, office)
    elif same_want(now, office):
        assert compared.outcome is Verdict.ALREADY
    else:
        assert compared.outcome is Verdict.CLASH


def test_that_a_thing_asked_for_in_several_ways_is_left_to_a_person() -> None:
    """A line for one side beside a line for all: a replacement of either would touch both."""
    rows = read_card(open_book(site_of(line("A", 1), line("A", 2, side=Side.LEFT))), QUILL, "X", DAY)
    assert [row.fixed for row in rows if row.slot.thing == "A"] == ["asked for in several ways"] * 2


def test_that_what_the_house_rules_is_fixed_and_what_only_comes_is_told() -> None:
    house = CardLine(procedure=None, surgeon=None, change=Change.ADD, kind=ThingKind.ITEM, thing="B", open=1)
    later = line("C", 1, "S", begins=date(2027, 1, 1))
    rows = read_card(open_book(site_of(line("A", 1), house, later)), QUILL, "X", DAY)
    assert {row.slot.thing: (row.origin, bool(row.fixed)) for row in rows} == {
        "P": (Origin.BASE, False),
        "A": (Origin.BASE, False),
        "B": (Origin.HOUSE, True),
        "C": (Origin.COMING, True),
    }


def test_that_a_row_and_what_is_wanted_there_come_back_as_they_were_kept() -> None:
    """What an office proposed waits as text for its approval: side, conditions, note and counting among it."""
    conditions = (
        Condition(kind=ConditionKind.ALERT, value="isolation"),
        Condition(kind=ConditionKind.SIZE, value="child", negated=True),
    )
    rows = [
        RowKey(kind=ThingKind.ITEM, thing="A"),
        RowKey(kind=ThingKind.TRAY, thing="T", side=Side.LEFT, only_if=conditions),
    ]
    assert [slot_from(json.loads(json.dumps(slot_data(one)))) for one in rows] == rows
    plain = RowValue(kind=ThingKind.PACK, thing="P", open=1, hold=2)
    wants = [None, plain, replace(plain, note="left of the table", counted=Counted.PER_PROCEDURE)]
    assert [want_from(json.loads(json.dumps(want_data(one)))) for one in wants] == wants


def test_that_a_card_is_named_by_its_procedure_even_when_that_is_gone_from_the_table() -> None:
    assert [card_name(site_of(), one) for one in ("X", "GONE", None)] == ["Example (X)", "GONE", "every procedure"]
