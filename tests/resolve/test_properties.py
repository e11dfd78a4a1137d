"""What must hold for any cards."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from random import Random

from hypothesis import given
from hypothesis import strategies as st

from picklist.model.cards import CardLine, Change, Condition, ConditionKind, Counted, ThingKind
from picklist.model.catalogue import Procedure
from picklist.model.schedule import Case, Side
from picklist.model.site import Site
from picklist.problems import Problem, Where
from picklist.resolve import PlainCards, find_card_faults, resolve_case
from picklist.wording.say_why import explain_need
from tests.builders import DAY, tray
from tests.resolve.cards import SURGEON, amounts, house, item, line, operation, pack, row

THINGS = ("gown", "laps", "drain")
CONDITIONS = (
    Condition(kind=ConditionKind.ALERT, value="latex"),
    Condition(kind=ConditionKind.SIZE, value="child", negated=True),
)

card_lines = st.builds(
    CardLine,
    procedure=st.sampled_from(["P1", "P2", None]),
    surgeon=st.sampled_from([None, SURGEON]),
    change=st.sampled_from(list(Change)),
    kind=st.just(ThingKind.ITEM),
    thing=st.sampled_from(THINGS),
    instead_of=st.sampled_from(["", *THINGS]),
    open=st.integers(0, 4),
    hold=st.integers(0, 2),
    side=st.sampled_from([None, None, Side.LEFT]),
    only_if=st.sampled_from([(), (), CONDITIONS[:1], CONDITIONS[1:]]),
    counted=st.sampled_from(Counted),
    begins=st.sampled_from([None, date(2026, 1, 1), DAY, date(2027, 1, 1)]),
    ends=st.sampled_from([None, None, DAY, date(2026, 2, 1)]),
    approved=st.sampled_from([True, True, False]),
)
cards = st.lists(card_lines, max_size=8).map(
    lambda lines: tuple(replace(one, where=row(number)) for number, one in enumerate(lines, 2))
)
cases = st.builds(
    operation,
    st.just("P1"),
    st.just("P2"),
    side=st.sampled_from([None, *Side]),
    alerts=st.sampled_from([(), ("latex",)]),
    patient_size=st.sampled_from(["", "child", "adult"]),
    fields=st.integers(1, 2),
)


def site_of(lines: tuple[CardLine, ...]) -> Site:
    items = [item("gown"), item("laps"), item("drain", latex=True, latex_free_twin="laps")]
    procedures = [Procedure(id="P1", name="P1", pack="pk"), Procedure(id="P2", name="P2")]
    return house(lines, items=items, packs=[pack("pk", gown=2, laps=1)], procedures=procedures)


@given(cards, cases)
def test_that_any_card_gives_a_list_or_says_what_stops_it(lines: tuple[CardLine, ...], one: Case) -> None:
    needs = resolve_case(site_of(lines), one)
    assert bool(needs.needs) != bool(needs.stopped)
    assert all(problem.cases == ("C1",) for problem in (*needs.stopped, *needs.notices))
    assert all((need.open, need.hold) == (0, 0) and need.reasons for need in needs.dropped)


@given(cards, cases)
def test_that_quantities_are_whole_and_the_last_reason_says_them(lines: tuple[CardLine, ...], one: Case) -> None:
    for need in resolve_case(site_of(lines), one).needs:
        assert min(need.open, need.hold) >= 0
        assert need.open + need.hold > 0
        assert (need.reasons[-1].open, need.reasons[-1].hold) == (need.open, need.hold)
        assert len(explain_need(need)) == len(need.reasons)


CHANGES_NOTHING = {"removes nothing", "replaces nothing"}
FOUND_WHILE_LAID = CHANGES_NOTHING | {"double line", "contradicting lines", "unknown thing"}


@given(cards, st.lists(st.tuples(cases, st.sampled_from(["", SURGEON])), min_size=1, max_size=4))
def test_that_cards_laid_for_many_cases_show_the_faults_of_each_alone(
    lines: tuple[CardLine, ...], drawn: list[tuple[Case, str]]
) -> None:
    """Faults of base lines are said for a case without a surgeon, those of a surgeon's lines for hers."""
    site = site_of(lines)
    base = {one.where for one in lines if one.surgeon is None and one.procedure}
    together = [replace(one, surgeon=surgeon) for one, surgeon in drawn]
    for one, (stopped, notices) in zip(together, find_card_faults(site, together), strict=True):
        alone = resolve_case(site, one)
        for found, wanted in ((stopped, alone.stopped), (notices, alone.notices)):
            mine = {where for where in (p.where for p in wanted) if not one.surgeon or where not in base}
            assert laid(found, mine) == laid(wanted, mine)


@given(cards, st.sampled_from(["", "latex"]), st.sampled_from([None, *Side]))
def test_that_a_line_that_plainly_finds_its_thing_stops_no_case(
    lines: tuple[CardLine, ...], alert: str, side: Side | None
) -> None:
    site = site_of(lines)
    cards_alone = PlainCards(site, lines)
    sure = {one.where for one in lines if cards_alone.plainly_finds(one, DAY)}
    one_case = operation("P1", side=side, alerts=(alert,) if alert else ())
    ((stopped, _),) = find_card_faults(site, [one_case])
    assert not [one for one in stopped if one.kind in CHANGES_NOTHING and one.where in sure]


def test_that_a_line_finds_its_thing_plainly_where_the_base_card_always_brings_it() -> None:
    """A removal of the gown; not so where the base gown is for the left alone, ended, or named once more."""
    removal = line("gown", surgeon=SURGEON, change=Change.REMOVE)
    gown = line("gown", "1/0")
    doubtful = (replace(gown, side=Side.LEFT), replace(gown, ends=date(2026, 2, 1)))
    assert finds_plainly(removal, gown)
    assert not any(finds_plainly(removal, one) for one in doubtful)
    assert not finds_plainly(removal, gown, gown)
    assert not finds_plainly(removal, gown, replace(removal, side=Side.LEFT))


def finds_plainly(one: CardLine, *others: CardLine) -> bool:
    lines = (one, *others)
    return PlainCards(site_of(lines), lines).plainly_finds(one, DAY)


def laid(problems: tuple[Problem, ...], wheres: set[Where]) -> list[Problem]:
    return [one for one in problems if one.kind in FOUND_WHILE_LAID and one.where in wheres]


@given(cards, cases, st.integers(0, 999))
def test_that_the_order_of_rows_never_decides(lines: tuple[CardLine, ...], one: Case, seed: int) -> None:
    shuffled = list(lines)
    Random(seed).shuffle(shuffled)
    first, second = resolve_case(site_of(lines), one), resolve_case(site_of(tuple(shuffled)), one)
    assert amounts(first) == amounts(second)
    assert {(p.kind, p.message) for p in first.stopped} == {(p.kind, p.message) for p in second.stopped}
    assert {p.text for p in first.pending} == {p.text for p in second.pending}


@given(cards, cases)
def test_that_no_latex_passes_an_alert(lines: tuple[CardLine, ...], one: Case) -> None:
    needs = resolve_case(site_of(lines), replace(one, alerts=("latex",)))
    assert "drain" not in amounts(needs)


@given(cards, cases)
def test_that_a_line_that_does_not_stand_changes_nothing(lines: tuple[CardLine, ...], one: Case) -> None:
    standing = tuple(a for a in lines if a.approved and (a.begins or DAY) <= DAY and (a.ends is None or a.ends >= DAY))
    assert amounts(resolve_case(site_of(standing), one)) == amounts(resolve_case(site_of(lines), one))


adds = st.lists(
    st.builds(
        line,
        st.sampled_from(THINGS[:2]),
        st.tuples(st.integers(0, 4), st.integers(0, 3)).map(lambda pair: f"{pair[0]}/{pair[1]}"),
        procedure=st.sampled_from(["P1", "P2"]),
        counted=st.sampled_from(Counted),
    ),
    min_size=1,
    max_size=6,
    unique_by=lambda one: (one.procedure, one.thing),
)


def merged(lines: list[CardLine], *procedures: str, fields: int = 1) -> dict[str, tuple[int, int]]:
    known = [Procedure(id=one, name=one) for one in ("P1", "P2")]
    needs = resolve_case(house(lines, procedures=known), operation(*procedures, fields=fields))
    return {need.thing: (need.open, need.hold) for need in needs.needs}


@given(adds, st.integers(1, 2))
def test_that_the_order_of_procedures_does_not_change_quantities(lines: list[CardLine], fields: int) -> None:
    assert merged(lines, "P1", "P2", fields=fields) == merged(lines, "P2", "P1", fields=fields)


@given(adds)
def test_that_two_fields_want_the_sum_and_one_between_the_larger_and_the_sum(lines: list[CardLine]) -> None:
    p1, p2 = merged(lines, "P1"), merged(lines, "P2")
    two, one = merged(lines, "P1", "P2", fields=2), merged(lines, "P1", "P2")
    for thing in THINGS[:2]:
        asked = [card.get(thing, (0, 0)) for card in (p1, p2)]
        assert two.get(thing, (0, 0)) == (asked[0][0] + asked[1][0], asked[0][1] + asked[1][1])
        opened, held = one.get(thing, (0, 0))
        assert max(o for o, _ in asked) <= opened
        assert max(o + h for o, h in asked) <= opened + held <= sum(two.get(thing, (0, 0)))


@given(st.integers(0, 9), st.integers(0, 5), st.integers(1, 9), st.integers(0, 3), st.booleans())
def test_that_pack_and_loose_make_up_what_was_asked(
    opened: int, held: int, inside: int, packs: int, offsets_hold: bool
) -> None:
    card = [line("gown", f"{opened}/{held}"), replace(line("pk", f"{packs}/0"), kind=ThingKind.PACK)]
    card.append(line("laps", "1/0"))
    site = house(card, packs=[pack("pk", gown=inside)], pack_offsets_hold=offsets_hold)
    loose = {n.thing: (n.open, n.hold) for n in resolve_case(site, operation()).needs}.get("gown", (0, 0))
    in_packs = inside * packs
    assert loose[0] == max(0, opened - in_packs)
    assert loose[1] == (max(0, held - max(0, in_packs - opened)) if offsets_hold else held)


@given(st.sampled_from(list(Side)))
def test_that_a_sided_tray_never_comes_without_a_side(side: Side) -> None:
    site = house([replace(line("knee", "1/0"), kind=ThingKind.TRAY)], trays=[tray("knee", sided=True)])
    needs = resolve_case(site, operation(side=side))
    assert needs.stopped or all(need.side in (Side.LEFT, Side.RIGHT) for need in needs.needs)
