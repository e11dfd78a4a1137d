"""After the operations: what was used, what it says of a card, and what follows for stock and sets."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.stamp import printing_of
from picklist.evening.after_day import after_day
from picklist.evening.after_lots import gives_back
from picklist.evening.changes import ListInHand
from picklist.evening.content import CartThing, Handling, cart_content
from picklist.evening.crew_workbook import cart_workbook
from picklist.evening.suggest import suggest
from picklist.evening.table_changes import CountedBefore, DayChanges, DayFacts
from picklist.evening.usage import (
    UsageLine,
    UsedPackage,
    read_usage,
    record_usage,
    usage_history,
    usage_workbook,
    used_of_opened,
)
from picklist.model.built import BuiltCart, CountFound, MissingThing, StoodIn, TakenItem, TakenSet
from picklist.model.cards import ThingKind
from picklist.model.catalogue import Lot, Place
from picklist.model.expiry import Expires, Expiry
from picklist.model.routes import Transfer
from picklist.model.sets import SetState
from picklist.model.suggestion import SuggestionKind
from picklist.model.uses import Assignment, Use
from picklist.problems import Problem, Severity
from picklist.store.state import StateFile, open_state
from picklist.wording.card_words import suggestion_words
from tests.builders import DAY, at, straight_route
from tests.evening.builders import EVENING, a_case, cart, pick, plan, sundry, tray_line
from tests.evening.site_builder import GTIN, a_plan, a_site

NIGHT = at("20:00")


@pytest.fixture
def state(tmp_path: Path) -> Iterator[StateFile]:
    with open_state(tmp_path / "north.picklist.sqlite") as opened:
        yield opened


def line(thing: str, **numbers: Any) -> UsageLine:
    given: dict[str, Any] = {
        "day": DAY, "case": "C-1", "surgeon": "S-C-1", "procedures": ("P-C-1",), "kind": ThingKind.ITEM,
    } | numbers  # fmt: skip
    return UsageLine(thing=thing, **given)


def tray(thing: str, set_id: str, **numbers: Any) -> UsageLine:
    return line(thing, kind=ThingKind.TRAY, set_id=set_id, **({"open": 1} | numbers))


# The form


def filled(path: Path, *cells: tuple[str, str, object]) -> tuple[tuple[UsageLine, ...], tuple[Problem, ...]]:
    """The form with cells filled in, each named by its thing and column."""
    path.write_bytes(usage_workbook(a_plan()))
    book: Any = load_workbook(path)
    sheet = book["Usage"]
    heads = {cell.value: cell.column for cell in sheet[3]}
    for thing, column, value in cells:
        row = next(r for r in range(4, sheet.max_row + 1) if sheet.cell(r, heads["thing"]).value == thing)
        sheet.cell(row, heads[column]).value = value
    book.save(path)
    return read_usage(path, a_plan(), a_site())


def test_that_the_form_cautions_in_the_words_of_the_papers_and_is_read_all_the_same(tmp_path: Path) -> None:
    """The words at the foot of every paper and over a pick list's trays, on a sheet that tells nothing."""
    lines, problems = filled(tmp_path / "used.xlsx", ("100245", "used", 3))
    assert ([one.used for one in lines], problems) == ([3], ())
    (tmp_path / "carts.xlsx").write_bytes(cart_workbook(a_plan()))
    found = Lookup(a_plan())
    printed = PickListView(found, found.plan.carts[0], printing_of(found.plan))
    for form in ("used.xlsx", "carts.xlsx"):
        book: Any = load_workbook(tmp_path / form)
        assert [cell.value for cell in book["Cautions"]["A"]] == [printed.stamp.aid, printed.caution_trays]
        for sheet in book.worksheets:
            assert sheet.sheet_state == "hidden" or printed.stamp.aid in str(sheet.oddFooter.center.text)


def test_that_an_untouched_form_tells_nothing(tmp_path: Path) -> None:
    assert filled(tmp_path / "usage.xlsx") == ((), ())


def test_that_used_alone_means_the_rest_of_what_was_held_came_back(tmp_path: Path) -> None:
    """Five laps, four to open and one on hold; three were used: one was wasted, the held one came back."""
    lines, problems = filled(tmp_path / "usage.xlsx", ("100245", "used", 3), ("knee", "used", 1))
    assert problems == ()
    assert lines == (
        tray("knee", "KNEE-01", used=1, unopened_told=False),
        line("100245", open=4, hold=1, used=3, unopened=1, unopened_told=False),
    )
    assert lines[1].opened == 4


def test_that_what_was_used_beyond_the_open_ones_came_from_hold(tmp_path: Path) -> None:
    lines, _ = filled(tmp_path / "usage.xlsx", ("100245", "used", 5))
    assert lines[0].unopened == 0


def test_that_what_was_asked_for_beyond_the_list_is_told_below_it(tmp_path: Path) -> None:
    path = tmp_path / "usage.xlsx"
    path.write_bytes(usage_workbook(a_plan()))
    book = load_workbook(path)
    sheet = book["Usage"]
    first = next(r for r in range(4, sheet.max_row + 1) if sheet.cell(r, 1).value is None)
    assert not any(cell.protection.locked for cell in sheet[first])  # the rows above hold what the list says
    assert sheet.cell(first - 1, 3).protection.locked
    for column, value in ((1, "C-1"), (3, "100246"), (9, "2"), (10, "2")):
        sheet.cell(first, column, value)
    book.save(path)
    lines, problems = read_usage(path, a_plan(), a_site())
    assert problems == ()
    assert lines == (line("100246", added=2, used=2, unopened_told=False),)


LABEL = f"]d201{GTIN}17270600" + "10ABC123\x1d" + "21S7"
COLUMNS = "case;kind;thing;open;hold;added;used;lot;serial\n"


def by_csv(path: Path, *rows: str) -> tuple[tuple[UsageLine, ...], tuple[Problem, ...]]:
    path.write_text(COLUMNS + "".join(f"{row}\n" for row in rows), encoding="utf-8")
    return read_usage(path, a_plan(), a_site())


def test_that_a_label_scanned_into_the_form_gives_item_lot_expiry_and_serial(tmp_path: Path, state: StateFile) -> None:
    """Into the cell of the thing, or into that of the lot beside its number; each package has a row of its own."""
    one, two = (UsedPackage(lot="ABC123", expiry=date(2027, 6, 30), serial=s, used=1) for s in ("S7", "S8"))
    lines, problems = by_csv(
        tmp_path / "used.csv",
        f"C-1;item;{LABEL.replace(chr(29), '<GS>')};0;0;1;1;;",
        f"C-1;item;100245;0;0;1;1;{LABEL.replace(chr(29), '^]')[:-1]}8;",
    )
    assert problems == ()
    assert lines == (line("100245", added=2, used=2, unopened_told=False, packages=(one, two)),)
    record_usage(state, lines, NIGHT)
    record_usage(state, lines, NIGHT)
    assert usage_history(state) == lines


def test_that_a_lot_typed_by_hand_has_the_expiry_of_the_stock(tmp_path: Path) -> None:
    lines, problems = filled(tmp_path / "used.xlsx", ("100245", "used", 3), ("100245", "lot", "L1"))
    assert problems == ()
    assert [one.packages for one in lines] == [(UsedPackage(lot="L1", used=3),)]


@pytest.mark.parametrize(
    "rows",
    [
        ("C-1;item;100245;4;1;;2;L1;", "C-1;item;100245;;;;1;L2;"),
        ("C-1;item;100245;4;1;;;;", "C-1;item;100245;;;;2;L1;", "C-1;item;100245;;;;1;L2;"),
        ("C-1;item;100245;;;;2;L1;", "C-1;item;100245;;;;1;L2;"),
        ("C-1;item;100245;;;;2;L1;", "C-1;item;100245;4;1;;1;L2;"),
    ],
)
def test_that_rows_for_two_lots_share_what_the_list_put_on_the_cart(tmp_path: Path, rows: tuple[str, ...]) -> None:
    """Four to open and one on hold; two of one lot and one of another were used, so that one came back."""
    lines, problems = by_csv(tmp_path / "used.csv", *rows)
    assert problems == ()
    assert [(one.open, one.hold, one.added, one.used, one.unopened) for one in lines] == [(4, 1, 0, 3, 1)]
    assert sorted((one.lot, one.used) for one in lines[0].packages) == [("L1", 2), ("L2", 1)]


def test_that_rows_for_two_lots_are_more_than_the_list_together(tmp_path: Path) -> None:
    lines, problems = by_csv(tmp_path / "used.csv", "C-1;item;100245;4;1;;3;L1;", "C-1;item;100245;;;;3;L2;")
    assert lines == ()
    assert [(one.kind, one.value) for one in problems] == [("more than on the cart", "6")]


@pytest.mark.parametrize(
    ("row", "kind", "column"),
    [
        (f"C-1;item;(01){GTIN[:-1]}2(10)A1;0;0;1;1;;", "unreadable label", "thing"),
        (f"C-1;item;100246;0;0;1;1;(01){GTIN}(10)A1;", "label of another item", "thing"),
        (f"C-1;item;(01){GTIN}(10)A1;0;0;1;1;A2;", "label and cell differ", "lot"),
        (f"C-1;item;(01){GTIN}(10)A1(21)5;0;0;1;1;;6", "label and cell differ", "serial"),
        ("C-1;item;(01)09506000134352(10)A1;0;0;1;1;;", "unknown gtin", "thing"),
        (f"C-1;item;(01){GTIN}(21)5;0;0;2;2;;", "serial number twice", "used"),
        (f"C-1;item;100245;4;1;0;;(01){GTIN}(10)A1;", "used not told", "used"),
    ],
)
def test_that_a_label_that_cannot_be_or_contradicts_its_row_is_named(
    tmp_path: Path, row: str, kind: str, column: str
) -> None:
    lines, problems = by_csv(tmp_path / "used.csv", row)
    assert lines == ()
    assert [(one.kind, one.where.column) for one in problems] == [(kind, column)]


def test_that_one_package_told_twice_counts_once(tmp_path: Path) -> None:
    label = f"(01){GTIN}(10)A1(21)5"
    lines, problems = by_csv(tmp_path / "used.csv", *[f"C-1;item;{label};0;0;1;1;;"] * 2)
    assert [one.used for one in lines] == [1]
    assert [one.kind for one in problems] == ["told twice"]


@pytest.mark.parametrize(
    ("cell", "kind"),
    [
        (("100245", "used", 6), "more than on the cart"),
        (("100245", "unopened", 1), "used not told"),
        (("100245", "used", "all"), "not a number"),
        (("100245", "used", -1), "below zero"),
    ],
)
def test_that_a_row_which_cannot_be_is_named_with_its_cell(
    tmp_path: Path, cell: tuple[str, str, object], kind: str
) -> None:
    lines, problems = filled(tmp_path / "usage.xlsx", cell)
    assert lines == ()
    assert [(p.kind, p.where.sheet) for p in problems] == [(kind, "Usage")]
    assert problems[0].where.cell


def test_that_a_csv_file_with_the_same_columns_does_as_well(tmp_path: Path) -> None:
    path = tmp_path / "usage of thursday.csv"
    path.write_text(
        "case;kind;thing;set;open;hold;used;unopened\n"
        "C-1;tray;knee;KNEE-01;1;0;1;\n"
        "C-1;item;100245;;4;1;3;2\n"
        "C-9;item;100245;;4;1;3;2\n"
        "C-1;item;10024;;1;0;1;\n"
        "C-1;item;100245;;4;1;4;1\n",
        encoding="utf-8",
    )
    lines, problems = read_usage(path, a_plan(), a_site())
    assert [(u.thing, u.used, u.unopened) for u in lines] == [("knee", 1, 0), ("100245", 3, 2)]
    assert [(p.kind, p.where.row, p.nearest[:1]) for p in problems] == [
        ("unknown case", 4, ("C-1",)),
        ("unknown item", 5, ("100245",)),
        ("told twice", 6, ()),
    ]


@pytest.mark.parametrize(
    ("row", "kind", "column"),
    [
        ("Okafor;item;100245;;;4;1;3", "unknown case", "case"),
        ("C-1;item;Okafor;;;4;1;3", "unknown item", "thing"),
        ("C-1;tray;knee;Okafor;;1;0;1", "unknown set", "set"),
        ("C-1;item;100245;;Okafor;4;1;3", "unknown person", "person"),
    ],
)
def test_that_what_is_no_known_id_is_neither_said_nor_kept(tmp_path: Path, row: str, kind: str, column: str) -> None:
    """A name that somebody wrote into a cell of ids: only its place is said."""
    path = tmp_path / "used.csv"
    path.write_text(f"case;kind;thing;set;person;open;hold;used\n{row}\n", encoding="utf-8")
    lines, problems = read_usage(path, a_plan(), a_site())
    assert lines == ()
    assert [(one.kind, one.where.column) for one in problems] == [(kind, column)]
    assert "Okafor" not in repr(problems)


def test_that_a_tray_named_as_an_item_is_told_its_kind(tmp_path: Path) -> None:
    lines, problems = by_csv(tmp_path / "used.csv", "C-1;item;knee;1;0;;1;;")
    assert (lines, [(one.kind, one.expected) for one in problems]) == ((), [("unknown item", "tray under 'kind'")])


def test_that_usage_comes_back_as_it_was_told_and_a_second_telling_replaces_the_first(state: StateFile) -> None:
    first, other = line("100245", open=4, hold=1, used=3, unopened=1), tray("knee", "KNEE-01", used=1)
    record_usage(state, [first, other], NIGHT, "mk")
    record_usage(state, [replace(first, used=4)], NIGHT, "mk")
    assert usage_history(state) == (replace(first, used=4), other)
    assert usage_history(state, DAY + timedelta(days=1)) == ()


# Suggestions


def week(thing: str, cases: int, **numbers: Any) -> list[UsageLine]:
    return [line(thing, day=DAY + timedelta(days=n), case=f"C-{n}", **numbers) for n in range(cases)]


def test_that_a_line_opened_in_seven_cases_and_never_used_is_told_with_its_counts() -> None:
    (found,) = suggest(week("100245", 7, open=2))
    assert found.kind is SuggestionKind.OPENED_NEVER_USED
    assert (found.surgeon, found.procedures, found.thing) == ("S-C-1", ("P-C-1",), "100245")
    assert (found.cases, found.told_cases, found.opened, found.used) == (7, 7, 14, 0)
    assert suggestion_words(found) == "in all 7 reported cases: 14 opened, none used"


def test_that_four_cases_suggest_nothing_and_five_do() -> None:
    assert suggest(week("100245", 4, open=2)) == ()
    assert len(suggest(week("100245", 5, open=2))) == 1


def test_that_one_use_in_ten_cases_is_a_use() -> None:
    assert suggest([*week("100245", 9, open=2), line("100245", case="C-9", open=2, used=1)]) == ()


def test_that_what_is_held_and_always_opened_is_told_and_what_sometimes_comes_back_is_not() -> None:
    (found,) = suggest(week("100245", 6, open=1, hold=2, used=2, unopened=1))
    assert found.kind is SuggestionKind.HELD_ALWAYS_OPENED
    assert (found.planned_hold, found.held_opened) == (12, 6)
    back = line("100245", case="C-9", open=1, hold=2, used=1, unopened=2)
    assert suggest([*week("100245", 6, open=1, hold=2, used=2, unopened=1), back]) == ()


def test_that_always_added_means_in_every_case_of_the_surgeon_and_procedure() -> None:
    added = week("100300", 5, added=1, used=1)
    others = week("100245", 5, open=1, used=1)
    assert [s.kind for s in suggest([*added, *others])] == [SuggestionKind.ALWAYS_ADDED]
    assert suggest([*added, *others, line("100245", case="C-77", open=1, used=1)]) == ()


def test_that_another_surgeon_and_another_mix_of_procedures_are_counted_apart() -> None:
    one = week("100245", 3, open=1)
    other = [replace(x, surgeon="S-other", case=f"{x.case}b") for x in one]
    both = [replace(x, procedures=("P-C-1", "P-2"), case=f"{x.case}c") for x in one]
    assert suggest([*one, *other, *both]) == ()


def test_that_gloves_of_a_person_are_no_matter_of_the_card() -> None:
    assert suggest(week("glove-7.5", 9, open=2, person="S04")) == ()


def test_that_the_share_used_is_a_ratio_of_sums() -> None:
    """Our own two trays, no source: 5,564 of 23,989 instruments used is 23.2 %; the mean of the ratios is 31.6 %."""
    trays = [(4_547, 8_000), (1_017, 15_989)]
    used, opened = used_of_opened([line("x", open=of, used=some) for some, of in trays])
    assert (used, opened) == (5_564, 23_989)
    assert round(100 * used / opened, 1) == 23.2
    assert round(100 * sum(some / of for some, of in trays) / 2, 1) == 31.6


LINES = st.builds(
    lambda n, numbers: line("x", case=f"C-{n}", **numbers),
    st.integers(0, 40),
    st.fixed_dictionaries({"open": st.integers(0, 3), "hold": st.integers(0, 2), "added": st.integers(0, 1)}).flatmap(
        lambda d: st.integers(0, sum(d.values())).flatmap(
            lambda used: st.integers(0, sum(d.values()) - used).map(lambda back: d | {"used": used, "unopened": back})
        )
    ),
)


@given(st.lists(LINES, unique_by=lambda one: one.case, max_size=12))
def test_that_every_suggestion_is_true_of_every_case_behind_it(history: list[UsageLine]) -> None:
    for found in suggest(history):
        assert found.cases == len(history) >= 5
        if found.kind is SuggestionKind.OPENED_NEVER_USED:
            assert all(x.used == 0 and x.opened > 0 for x in history)
        elif found.kind is SuggestionKind.HELD_ALWAYS_OPENED:
            assert all(x.hold > 0 and x.unopened < x.hold for x in history)
        else:
            assert all(x.added > 0 for x in history)


# Stock and sets


def after(*usage: UsageLine, site: Any = None, building: str = "", **facts: Any) -> DayChanges:
    """The day after C-1 was built as told, in a site with the usual lots."""
    told: dict[str, Any] = {"done": True} | facts
    built = BuiltCart(day=DAY, case="C-1", revision=1, at=EVENING, **told)
    in_hand = ListInHand(revision=1, content=cart_content(a_plan().carts[0], {}))
    use = Use(
        case="C-1", tray="knee", copy=1, needed=at("07:00"), starts=at("07:30"), ends=at("09:00"),
        leaves_room=at("09:00"), received=at("09:10"), building=building,
    )  # fmt: skip
    given = Assignment(use=use, set_id="KNEE-01", tray_given="knee", stand_in=False, expected=None, slack=None)
    planned = replace(a_plan(), assignments=(given,))
    day = DayFacts(built={"C-1": built}, in_hand={"C-1": in_hand}, usage=usage)
    return after_day(site or a_site(), planned, day, CountedBefore(), NIGHT)


def quantities(changes: DayChanges) -> dict[tuple[str, str], tuple[object, object]]:
    return {(c.key[0], c.key[1]): (c.was, c.becomes) for c in changes.lots}


def test_that_a_lot_loses_what_was_opened_and_keeps_what_came_back() -> None:
    """40 laps, 5 on the cart, 1 came back: 36. 12 blades, 2 on the cart, none came back: 10."""
    changes = after(line("100245", open=4, hold=1, used=3, unopened=1), line("0077", open=2, used=2))
    assert quantities(changes) == {("100245", "L1"): (40, 36), ("0077", "B7"): (12, 10)}
    assert changes.problems == ()


def test_that_the_lot_on_a_scanned_label_is_the_one_that_loses_what_was_added() -> None:
    """Two laps of L2 were added to the five of the list: L2 had 10 and has 8; L1 loses the four that were opened."""
    site = a_site()
    other = Lot(item="100245", lot="L2", quantity=10, expiry=None, place="A-02-11")
    package = UsedPackage(lot="L2", used=2)
    told = line("100245", open=4, hold=1, added=2, used=6, unopened=1, packages=(package,))
    changes = after(told, site=replace(site, lots=(*site.lots, other)))
    assert quantities(changes)["100245", "L2"] == (10, 8)
    assert quantities(changes)["100245", "L1"] == (40, 36)
    assert changes.problems == ()


def test_that_a_count_takes_the_place_of_the_tables_number() -> None:
    """The shelf held 31 laps and not 40 when 5 of them were taken; 1 came back: 27."""
    count = CountFound(item="100245", quantity=31, lot="L1")
    changes = after(line("100245", open=4, hold=1, used=4, unopened=1), counts=(count,))
    assert quantities(changes)["100245", "L1"] == (40, 27)
    assert changes.lots[0].why == "counted, then used on the day"


def test_that_what_was_missing_never_left_the_shelf() -> None:
    changes = after(line("0077", open=2, used=1), missing=(MissingThing(thing="0077", quantity=1),))
    assert quantities(changes)["0077", "B7"] == (12, 11)


def test_that_what_stood_in_is_taken_off_its_own_lot() -> None:
    site = a_site()
    site = replace(site, lots=(*site.lots, Lot(item="100246", lot="M1", quantity=9, expiry=None, place="A-02-11")))
    stood = StoodIn(thing="100245", stood_in="100246", quantity=2)
    changes = after(line("100245", open=4, hold=1, used=5), site=site, stood_in=(stood,))
    assert quantities(changes) == {("100245", "L1"): (40, 37), ("100246", "M1"): (9, 7), ("0077", "B7"): (12, 10)}


def test_that_the_lot_that_was_scanned_counts_and_not_the_one_on_the_list() -> None:
    site = a_site()
    site = replace(site, lots=(*site.lots, Lot(item="0077", lot="B8", quantity=5, expiry=None, place="A-01-02")))
    scanned = (TakenItem(item="0077", quantity=1, lot="B8"), TakenItem(item="0077", quantity=1, lot="B7"))
    changes = after(line("0077", open=2, used=2), site=site, scanned=scanned)
    assert quantities(changes)["0077", "B7"] == (12, 11)
    assert quantities(changes)["0077", "B8"] == (5, 4)


def test_that_what_was_added_comes_off_its_only_lot_or_is_told() -> None:
    changes = after(line("0077", open=2, added=1, used=3))
    assert quantities(changes)["0077", "B7"] == (12, 9)
    unknown = after(line("100246", added=1, used=1))
    assert [(p.kind, p.value) for p in unknown.problems] == [("lot not known", "100246")]


def test_that_a_lot_below_zero_is_told_and_left_alone() -> None:
    site = a_site()
    site = replace(site, lots=tuple(replace(lot, quantity=1) for lot in site.lots))
    changes = after(line("0077", open=2, used=2), site=site)
    assert ("0077", "B7") not in quantities(changes)
    assert "lot below zero" in [p.kind for p in changes.problems]


def test_that_a_cart_whose_usage_nobody_told_changes_nothing_and_is_named() -> None:
    changes = after()
    assert (changes.all, changes.untold) == ((), ("C-1",))


def test_that_a_set_which_was_opened_is_dirty_since_it_reached_decontamination() -> None:
    changes = after(tray("knee", "KNEE-01", used=1))
    assert {c.column: c.becomes for c in changes.sets} == {
        "state": "dirty",
        "step since": datetime(2026, 11, 26, 9, 10),  # noqa: DTZ001 (a wall time)
    }


def test_that_a_set_which_was_opened_next_door_is_dirty_since_it_came_home() -> None:
    """At the dock of the west 09:10, 25 minutes back: 09:35 in decontamination of the east, where its place is."""
    site = replace(
        a_site(),
        places={"S-01": Place(id="S-01", building="east")},
        routes={"R": straight_route("R", ("wash", 60, 60))},
        transfers=(Transfer(from_building="west", to_building="east", minutes=25),),
    )
    changes = after(tray("knee", "KNEE-01", used=1), site=site, building="west")
    (since,) = (c.becomes for c in changes.sets if c.column == "step since")
    assert since == datetime(2026, 11, 26, 9, 35)  # noqa: DTZ001 (a wall time)


def test_that_the_record_of_an_opened_set_is_logged_by_its_last_day_as_the_table_has_it() -> None:
    site = a_site()
    recorded = replace(site.sets["KNEE-01"], recorded_until=site.settings.site_clock.instant(date(2027, 1, 1), time(0)))
    changes = after(tray("knee", "KNEE-01", used=1), site=replace(site, sets={**site.sets, "KNEE-01": recorded}))
    assert [(c.was, c.becomes) for c in changes.sets if c.column == "recorded sterile until"] == [
        (date(2026, 12, 31), None)
    ]


def test_that_a_set_which_came_back_unopened_is_on_the_shelf() -> None:
    site = a_site()
    in_use = replace(site.sets["KNEE-01"], state=SetState.IN_USE, in_case="C-1")
    site = replace(site, sets={**site.sets, "KNEE-01": in_use})
    changes = after(tray("knee", "KNEE-01", open=0, hold=1, unopened=1), site=site)
    assert {c.column: c.becomes for c in changes.sets} == {"state": "on shelf", "in case": ""}
    assert "check its package" in changes.sets[0].why


def test_that_the_last_case_of_the_day_decides_on_a_set() -> None:
    first = tray("knee", "KNEE-01", open=0, hold=1, unopened=1)
    last = tray("knee", "KNEE-01", case="C-2", used=1)
    assert {c.column for c in after(last, first).sets} == {"state", "step since"}
    assert after(replace(first, case="C-2"), replace(last, case="C-1")).sets == ()


def test_that_a_tray_told_without_its_set_is_a_problem() -> None:
    assert [p.kind for p in after(tray("knee", "", used=1)).problems] == ["unknown set"]


def test_that_the_set_really_taken_is_told_by_the_room_and_counts() -> None:
    taken = TakenSet(tray="knee", copy=1, set_id="KNEE-02")
    changes = after(tray("knee", "KNEE-02", used=1), sets=(taken,))
    assert {c.key for c in changes.sets} == {("KNEE-02",)}


def test_that_what_was_short_is_not_on_the_form(tmp_path: Path) -> None:
    """Four laps and one on hold were asked for, and the one on hold was on no shelf: the form has four and none."""
    short = cart(a_case("C-1"), (tray_line("knee", ""),), (sundry("100245", pick("100245", "L1", 4), short=(0, 1)),))
    path = tmp_path / "used.xlsx"
    path.write_bytes(usage_workbook(plan(short)))
    rows = [[cell.value for cell in row] for row in load_workbook(path)["Usage"].iter_rows(min_row=4, max_row=5)]
    assert [(row[2], row[6], row[7]) for row in rows] == [("knee", 0, 0), ("100245", 4, 0)]


def test_that_one_on_hold_which_never_came_onto_the_cart_does_not_come_back_from_it() -> None:
    """Five asked for, one missing: four left the shelf. The room writes four used, and no more comes back."""
    missing = (MissingThing(thing="100245", quantity=1),)
    told = line("100245", open=4, hold=1, used=4, unopened=1, unopened_told=False)
    assert quantities(after(told, missing=missing))["100245", "L1"] == (40, 36)


def test_that_what_was_used_of_a_cart_that_nobody_reported_built_is_named_and_not_counted() -> None:
    changes = after(line("100245", open=4, hold=1, used=4, unopened=1), done=False)
    assert (changes.lots, changes.unbuilt) == ((), ("C-1",))


@given(st.integers(0, 5), st.integers(0, 5))
def test_that_a_lot_never_gains_from_a_day(used: int, back: int) -> None:
    if used + back > 5:
        return
    changes = after(line("100245", open=4, hold=1, used=used, unopened=back))
    assert quantities(changes).get(("100245", "L1"), (40, 40))[1] == 40 - 5 + back
    assert all(p.severity is not Severity.STOPS_ALL for p in changes.problems)


def test_that_what_was_taken_last_goes_back_first() -> None:
    """Of what was opened, the soonest expiry went first; a lot without a recorded one was the last resort."""
    ends: tuple[Expiry, ...] = (DAY, Expires.NEVER, None)
    pieces = [
        CartThing(kind=ThingKind.ITEM, thing="x", wanted="x", part=Handling.HOLD, lot=str(one), expiry=one)
        for one in ends
    ]
    assert [piece.expiry for piece in sorted(pieces, key=gives_back)] == [None, Expires.NEVER, DAY]
