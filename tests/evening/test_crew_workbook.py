"""The crew's workbook: written, filled in by hand, read back, and checked against plan and site."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, time, timedelta
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.styles import Font

from picklist.clock import SiteClock
from picklist.evening.check_facts import as_spelled, check_facts
from picklist.evening.crew_workbook import cart_workbook, read_cart_workbook
from picklist.model.built import BuiltCart, CountFound, MissingThing, StoodIn, TakenItem, TakenSet
from picklist.model.catalogue import Pack, PackLine
from picklist.model.schedule import Side
from picklist.problems import Problem, Severity
from tests.builders import DAY
from tests.evening.builders import EVENING, a_case, cart, plan, sundry
from tests.evening.site_builder import GTIN, a_plan, a_site

NOW = EVENING + timedelta(hours=3)  # 21:40
CLOCK = SiteClock("UTC")
HELD = (PackLine(item="100300", quantity=1),)
Fill = Callable[[Any], None]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    (tmp_path / "carts.xlsx").write_bytes(cart_workbook(a_plan()))
    return tmp_path / "carts.xlsx"


def put(book: Any, sheet: str, row: str, column: str, value: object) -> str:
    """Fill a cell of the row whose first cells hold these ids (``C-1 knee``); the cell's name."""
    table = book[sheet]
    heads = {cell.value: cell.column for cell in table[3]}
    keys = ["case", {"Trays": "tray", "Things": "item"}.get(sheet, "case")]
    for cells in table.iter_rows(min_row=4):
        ids = [str(cells[heads[key] - 1].value) for key in dict.fromkeys(keys)]
        if ids == row.split():
            cell = cells[heads[column] - 1]
            cell.value = value
            return str(cell.coordinate)
    raise AssertionError(f"no row {row} on sheet {sheet}")


def filled(path: Path, *fills: tuple[str, str, str, object]) -> tuple[dict[str, BuiltCart], list[Problem]]:
    book = load_workbook(path)
    for fill in fills:
        put(book, *fill)
    book.save(path)
    facts, problems = read_cart_workbook(path, CLOCK, NOW)
    return {one.case: one for one in facts}, list(problems)


def test_that_an_untouched_workbook_tells_nothing(path: Path) -> None:
    assert read_cart_workbook(path, CLOCK, NOW) == ((), ())


def test_that_what_was_filled_in_is_told(path: Path) -> None:
    facts, problems = filled(
        path,
        ("Carts", "C-1", "done", "yes"),
        ("Carts", "C-1", "by", "mk"),
        ("Carts", "C-1", "finished", time(21, 20)),
        ("Carts", "C-1", "remark", "bag torn"),
        ("Trays", "C-1 knee", "set taken", "KNEE-02"),
        ("Trays", "C-1 saw", "missing", "yes"),
        ("Things", "C-1 100245", "missing", 2),
        ("Things", "C-1 100245", "stood in", "100246"),
        ("Things", "C-1 0077", "count found", 0),
    )
    assert problems == []
    assert facts == {
        "C-1": BuiltCart(
            day=DAY,
            case="C-1",
            revision=1,
            at=NOW - timedelta(minutes=20),
            done=True,
            by="mk",
            remark="bag torn",
            sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-02"),),
            missing=(MissingThing(thing="saw", copy=1, quantity=1), MissingThing(thing="100245", quantity=2)),
            stood_in=(StoodIn(thing="100245", stood_in="100246", quantity=2),),
            counts=(CountFound(item="0077", quantity=0, lot="B7", place="A-01-01"),),
        )
    }


def test_that_a_time_later_than_now_was_yesterday_evening(path: Path) -> None:
    book = load_workbook(path)
    put(book, "Carts", "C-1", "done", "yes")
    put(book, "Carts", "C-1", "by", "mk")
    put(book, "Carts", "C-1", "finished", "22:30")
    book.save(path)
    facts, _ = read_cart_workbook(path, CLOCK, NOW + timedelta(hours=9))
    assert facts[0].at == NOW + timedelta(minutes=50)


def test_that_things_added_by_hand_are_told(path: Path) -> None:
    book = load_workbook(path)
    for column, value in enumerate(("C-1", "100246", "L9", "3"), start=1):
        book["Added"].cell(4, column, value)
    for column, value in enumerate(("C-1", "100300"), start=1):
        book["Added"].cell(5, column, value)
    book.save(path)
    facts, problems = read_cart_workbook(path, CLOCK, NOW)
    assert problems == ()
    assert facts[0].added == (
        TakenItem(item="100246", quantity=3, lot="L9"),
        TakenItem(item="100300", quantity=1),
    )


def added(path: Path, *rows: tuple[str, ...]) -> tuple[tuple[TakenItem, ...], list[str]]:
    """What was added by hand by these rows (case, item, lot, quantity), and the kinds of what is wrong."""
    book = load_workbook(path)
    for number, row in enumerate(rows, start=4):
        for column, value in enumerate(row, start=1):
            book["Added"].cell(number, column, value)
    book.save(path)
    facts, problems = read_cart_workbook(path, CLOCK, NOW, a_site().items)
    told = [as_spelled(one, a_site(), DAY) for one in facts]
    return tuple(item for one in told for item in one.added), [one.kind for one in problems]


def test_that_a_label_scanned_into_a_cell_gives_item_lot_expiry_and_serial(path: Path) -> None:
    label = f"(01){GTIN}(17)270600(10)ABC123(21)S7"
    one = TakenItem(item="100245", quantity=1, lot="ABC123", expiry=date(2027, 6, 30), serial="S7")
    assert added(path, ("C-1", label), ("C-1", "100245", label)) == ((one, one), [])


def test_that_one_package_cannot_be_added_twice(path: Path) -> None:
    label = f"(01){GTIN}(21)S7"
    for quantities in (("1", "1"), ("2",)):
        items, _ = added(path, *(("C-1", label, "", one) for one in quantities))
        facts = BuiltCart(day=DAY, case="C-1", revision=1, at=NOW, added=items)
        kept, problems = check_facts([facts], a_plan(), a_site())
        assert (kept, {one.kind for one in problems}) == ((), {"serial number twice"})


def test_that_a_label_that_contradicts_the_cell_beside_it_is_named(path: Path) -> None:
    rows = (("C-1", f"(01){GTIN}(10)ABC123", "Z9"), ("C-1", "100246", f"(01){GTIN}(10)ABC123"))
    assert added(path, *rows) == ((), ["label and cell differ", "label of another item", "carts left out"])


@pytest.mark.parametrize(
    ("fill", "kind"),
    [
        (("Carts", "C-1", "done", "perhaps"), "not yes or no"),
        (("Carts", "C-1", "finished", "25:99"), "not a time"),
        (("Things", "C-1 100245", "missing", 6), "more than listed"),
        (("Things", "C-1 100245", "missing", "two"), "not a number"),
        (("Things", "C-1 100245", "how many", 2), "nothing stood in"),
        (("Things", "C-1 0077", "count found", -1), "below zero"),
        (("Things", "C-1 0077", "count found", 1.5), "not whole"),
    ],
)
def test_that_a_cell_which_cannot_be_is_named(path: Path, fill: tuple[str, str, str, object], kind: str) -> None:
    book = load_workbook(path)
    cell = put(book, *fill)
    book.save(path)
    _, problems = read_cart_workbook(path, CLOCK, NOW)
    (problem,) = [p for p in problems if p.severity is not Severity.NOTICE]
    assert problem.where.cell == cell
    assert problem.where.sheet == fill[0]
    assert problem.where.file == "carts.xlsx"
    assert problem.kind == kind


def test_that_a_set_cannot_be_missing_and_taken(path: Path) -> None:
    facts, problems = filled(
        path, ("Trays", "C-1 knee", "set taken", "KNEE-02"), ("Trays", "C-1 knee", "missing", "yes")
    )
    assert facts == {}
    assert [p.kind for p in problems] == ["taken and missing", "carts left out"]


@pytest.mark.parametrize(
    "fill",
    [
        ("Carts", "C-1", "done", "x"),
        ("Trays", "C-1 saw", "missing", "perhaps"),
        ("Things", "C-1 100245", "missing", "two"),
        ("Things", "C-1 100245", "missing", 6),
    ],
)
def test_that_a_cart_with_a_cell_that_cannot_be_read_is_left_out_whole_and_named(
    path: Path, fill: tuple[str, str, str, object]
) -> None:
    """Else the saw of C-1 would count as on its cart, though its row says something about that."""
    done = (
        ("Carts", case, column, said) for case in ("C-1", "C-2") for column, said in (("done", "yes"), ("by", "mk"))
    )
    facts, problems = filled(path, *done, fill)
    assert list(facts) == ["C-2"]
    (left_out,) = (one for one in problems if one.kind == "carts left out")
    assert left_out.message == "nothing is recorded of these carts until their cells are fixed: C-1"


def test_that_a_cart_which_nobody_signed_is_a_notice(path: Path) -> None:
    facts, problems = filled(path, ("Carts", "C-1", "done", "yes"))
    assert facts["C-1"].done
    assert [(p.kind, p.severity) for p in problems] == [("no initials", Severity.NOTICE)]


@pytest.mark.parametrize(
    ("overwritten", "filled_in", "kind"),
    [
        (("Trays", "C-1 knee", "case", "Okafor"), ("Trays", "Okafor knee", "set taken", "KNEE-02"), "unknown case"),
        (("Trays", "C-1 knee", "missing", "yes"), ("Trays", "C-1 knee", "set taken", "Okafor"), "taken and missing"),
        (("Things", "C-1 0077", "item", "Okafor"), ("Things", "C-1 Okafor", "missing", 99), "more than listed"),
        (("Things", "C-1 0077", "item", "Okafor"), ("Things", "C-1 Okafor", "how many", 2), "nothing stood in"),
    ],
)
def test_that_a_name_in_a_cell_of_ids_is_not_said(
    path: Path, overwritten: tuple[str, str, str, object], filled_in: tuple[str, str, str, object], kind: str
) -> None:
    """Only the place is said: what somebody wrote over a printed id could be anything."""
    _, problems = filled(path, overwritten, filled_in)
    assert [one.kind for one in problems if one.severity is not Severity.NOTICE] == [kind]
    assert "Okafor" not in repr(problems)


def test_that_rows_sorted_filtered_struck_out_and_doubled_by_hand_are_read_right(path: Path) -> None:
    book = load_workbook(path)
    put(book, "Carts", "C-2", "done", "yes")
    put(book, "Carts", "C-2", "by", "mk")
    sheet = book["Carts"]
    sheet.row_dimensions[4].hidden = True
    sheet["A3"].font = Font(strike=True)
    sheet.append([cell.value for cell in sheet[4]])
    book.save(path)
    facts, problems = read_cart_workbook(path, CLOCK, NOW)
    assert [one.case for one in facts] == ["C-2"]
    assert [p.kind for p in problems] == ["doubled case"]


def test_that_another_file_is_refused_in_plain_words(tmp_path: Path) -> None:
    (tmp_path / "carts.xlsx").write_text("no workbook")
    facts, problems = read_cart_workbook(tmp_path / "carts.xlsx", CLOCK, NOW)
    assert facts == ()
    assert [p.severity for p in problems] == [Severity.STOPS_ALL]


def test_that_a_workbook_without_its_sheets_names_them(path: Path) -> None:
    book = load_workbook(path)
    del book["Trays"]
    book.save(path)
    _, problems = read_cart_workbook(path, CLOCK, NOW)
    assert [(p.kind, p.where.sheet) for p in problems] == [("missing sheet", "Trays")]


def test_that_only_the_boxes_are_open_and_sets_can_be_chosen(path: Path) -> None:
    book = load_workbook(path)
    trays = book["Trays"]
    assert trays.protection.sheet
    heads = {cell.value: cell.coordinate[:-1] for cell in trays[3]}
    assert not trays[f"{heads['set taken']}4"].protection.locked
    assert trays[f"{heads['set planned']}4"].protection.locked
    lists = {str(v.sqref): v.formula1 for v in trays.data_validations.dataValidation if v.type == "list"}
    assert lists[f"{heads['set taken']}4"] == '"KNEE-01,KNEE-02,KNEE-03,OLD-01"'


def test_that_a_long_choice_of_sets_stands_on_a_hidden_sheet(tmp_path: Path) -> None:
    from picklist.model.sets import InstrumentSet
    from tests.evening.builders import tray_line

    many = tuple(InstrumentSet(id=f"A-RATHER-LONG-NAME-{n:02d}", tray="knee") for n in range(30))
    (tmp_path / "c.xlsx").write_bytes(
        cart_workbook(plan(cart(a_case("C-1"), (tray_line("knee", many[0].id),)), sets=many))
    )
    book = load_workbook(tmp_path / "c.xlsx")
    assert book["Choices"].sheet_state == "hidden"
    formulas = [v.formula1 for v in book["Trays"].data_validations.dataValidation]
    assert "Choices!$A$1:$A$30" in formulas
    assert [cell.value for cell in book["Choices"]["A"]] == [one.id for one in many]


@pytest.mark.usefixtures("packed_afresh")
def test_that_the_same_plan_gives_the_same_bytes_and_text_stays_text(tmp_path: Path) -> None:
    nasty = plan(cart(a_case("=1+1"), (), (sundry("=2+2"),)))
    for name in ("a.xlsx", "b.xlsx"):
        (tmp_path / name).write_bytes(cart_workbook(nasty))
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()
    cell = load_workbook(tmp_path / "a.xlsx")["Carts"]["B4"]
    assert (cell.value, cell.data_type) == ("=1+1", "s")


def told(**parts: Any) -> BuiltCart:
    return BuiltCart(day=DAY, case=parts.pop("case", "C-1"), revision=1, at=NOW, done=True, **parts)


@pytest.mark.parametrize(
    ("facts", "kind"),
    [
        (told(case="C-9"), "unknown case"),
        (told(sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-1"),)), "unknown set"),
        (told(sets=(TakenSet(tray="knee", copy=2, set_id="KNEE-01"),)), "not on the list"),
        (told(sets=(TakenSet(tray="knee", copy=1, set_id="SAW-01"),)), "set does not fit"),
        (told(case="C-2", sets=(TakenSet(tray="ankle", copy=1, set_id="ANKLE-R"),)), "set of other side"),
        (told(missing=(MissingThing(thing="100246", quantity=1),)), "not on the list"),
        (told(missing=(MissingThing(thing="0077", quantity=3),)), "more than listed"),
        (told(missing=(MissingThing(thing="hip", copy=1, quantity=1),)), "not on the list"),
        (told(stood_in=(StoodIn(thing="0077", stood_in="999", quantity=1),)), "unknown item"),
        (told(counts=(CountFound(item="999", quantity=1),)), "unknown item"),
        (told(added=(TakenItem(item="999", quantity=1),)), "unknown item"),
    ],
)
def test_that_facts_which_cannot_be_are_left_out_and_told(facts: BuiltCart, kind: str) -> None:
    good = told(case="C-2") if facts.case != "C-2" else told(case="C-1")
    kept, problems = check_facts([facts, good], a_plan(), a_site())
    assert kept == (good,)
    assert [p.kind for p in problems] == [kind]


@pytest.mark.parametrize(
    ("facts", "kind"),
    [
        (told(sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-03"),)), "set not usable"),
        (told(case="C-2", added=(TakenItem(item="100300", quantity=1),)), "latex"),
        (told(scanned=(TakenItem(item="0077", quantity=1, lot="B7", expiry=DAY - timedelta(days=1)),)), "expired"),
    ],
)
def test_that_what_is_dangerous_is_kept_as_it_is_and_told(facts: BuiltCart, kind: str) -> None:
    kept, problems = check_facts([facts], a_plan(), a_site())
    assert kept == (facts,)
    assert [p.kind for p in problems] == [kind]


@pytest.mark.parametrize("latex", [True, None])
def test_that_what_may_hold_latex_is_told_when_it_is_on_the_cart_of_a_latex_alert(latex: bool | None) -> None:
    site = a_site()
    unsaid = replace(site.items["0077"], latex=latex)
    site = replace(site, items={**site.items, "0077": unsaid}, packs={"PK": Pack(id="PK", name="Pack", lines=HELD)})
    added = tuple(TakenItem(item=one, quantity=1) for one in ("0077", "PK", "100245"))
    _, problems = check_facts([told(case="C-2", added=added)], a_plan(), site)
    assert [(p.kind, p.value) for p in problems] == [("latex", "0077"), ("latex", "PK")]


@pytest.mark.parametrize(("latex", "listed", "told_of"), [(True, True, 1), (None, True, 0), (None, False, 1)])
def test_that_a_set_of_a_tray_with_latex_is_told_on_the_cart_of_a_latex_alert(
    latex: bool | None, listed: bool, told_of: int
) -> None:
    """A tray that does not say is named on the list that asks for it; one that the crew brings instead is not."""
    site, line = a_site(), a_plan().carts[1].trays[0]
    brought = next(one for one in site.sets.values() if (one.tray == line.need.thing) is listed)
    trays = {name: replace(one, latex=latex if name == brought.tray else False) for name, one in site.trays.items()}
    facts = told(case="C-2", sets=(TakenSet(tray=line.need.thing, copy=1, set_id=brought.id),))
    _, problems = check_facts([facts], a_plan(), replace(site, trays=trays))
    assert [p.kind for p in problems].count("latex") == told_of


def test_that_a_thing_may_be_used_on_the_day_of_its_expiry() -> None:
    facts = told(scanned=(TakenItem(item="0077", quantity=1, lot="B7", expiry=DAY),))
    assert check_facts([facts], a_plan(), a_site()) == ((facts,), ())


def test_that_one_set_cannot_be_on_two_carts() -> None:
    another = plan(*a_plan().carts, cart(a_case("C-3", room="OR 3"), a_plan().carts[0].trays))
    both = [told(case=case, sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-01"),)) for case in ("C-1", "C-3")]
    _, problems = check_facts(both, another, a_site())
    assert [p.kind for p in problems] == ["set on two carts"]
    assert "C-1" in problems[0].message


def test_that_one_set_cannot_be_there_for_two_copies_of_a_tray() -> None:
    knee = a_plan().carts[0].trays[0]
    two = plan(cart(a_case("C-1"), (knee, replace(knee, copy=2, set_id="KNEE-02"))))
    facts = told(sets=tuple(TakenSet(tray="knee", copy=copy, set_id="KNEE-01") for copy in (1, 2)))
    _, problems = check_facts([facts], two, a_site())
    assert [(p.kind, p.message) for p in problems] == [
        ("set twice on a cart", "set KNEE-01 is reported for two trays on the cart of C-1")
    ]


def test_that_a_wrong_set_names_the_nearest() -> None:
    _, problems = check_facts([told(sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-1"),))], a_plan(), a_site())
    assert problems[0].nearest[0] in ("KNEE-01", "KNEE-02", "KNEE-03")


def test_a_case_on_both_sides_takes_each_set_on_its_own_line() -> None:
    """No set of a case on both sides is of another side; a left set on the right line is."""
    site, plan = a_site(), a_plan()
    ankle = plan.carts[1].trays[0]
    right = replace(ankle, need=replace(ankle.need, side=Side.RIGHT), copy=2, set_id="ANKLE-R")
    both = replace(plan.carts[1], side=Side.BOTH, trays=(ankle, right))
    plan = replace(plan, carts=(plan.carts[0], both))
    good = told(case="C-2", sets=(taken("ANKLE-L", 1), taken("ANKLE-R", 2)))
    assert check_facts([good], plan, site) == ((good,), ())
    _, (problem,) = check_facts([told(case="C-2", sets=(taken("ANKLE-L", 2),))], plan, site)
    assert (problem.kind, problem.nearest) == ("set of other side", ("ANKLE-R",))


def taken(set_id: str, copy: int) -> TakenSet:
    return TakenSet(tray="ankle", copy=copy, set_id=set_id)


def test_a_site_of_twelve_hours_reads_and_writes_twelve(tmp_path: Path) -> None:
    evening = a_plan()
    book = tmp_path / "carts.xlsx"
    book.write_bytes(cart_workbook(replace(evening, settings=replace(evening.settings, clock=12))))
    starts = [row[4] for row in load_workbook(book)["Carts"].iter_rows(min_row=4, values_only=True) if row[1]]
    assert starts
    assert all(str(one).endswith((" am", " pm")) for one in starts)
    facts, problems = filled(book, ("Carts", "C-1", "done", "yes"), ("Carts", "C-1", "finished", "8:40 pm"))
    assert {one.kind for one in problems} == {"no initials"}
    assert facts["C-1"].done
    assert facts["C-1"].at == EVENING + timedelta(hours=2)  # 20:40


def test_that_a_sheet_that_cannot_be_read_is_not_named_where_its_name_tells_of_a_patient(tmp_path: Path) -> None:
    book = Workbook()
    sheet: Any = book.active
    sheet.title = "MRN 1234567 Roe"
    sheet["A1"], sheet["ZZ1048576"] = "case", "x"
    book.save(tmp_path / "carts.xlsx")
    _, problems = read_cart_workbook(tmp_path / "carts.xlsx", CLOCK, NOW)
    assert problems
    assert "1234567" not in repr(problems)
