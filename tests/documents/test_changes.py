"""What a revision changes, as it stands on paper: at a glance, cart by cart, to put back, on the list itself."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import openpyxl
import pypdfium2
from hypothesis import given
from hypothesis import strategies as st

from picklist.documents.missing_characters import CharacterCheck
from picklist.documents.pages import Sheet, draw
from picklist.documents.templates import fonts_of_sheets
from picklist.documents.views.change_lines import to_add, to_take_off
from picklist.documents.views.change_sheet import ChangesView, QuestionBlock, kind_word
from picklist.documents.views.change_words import head_rows, other_lines
from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.finished_words import as_data
from picklist.documents.views.list_change import list_change
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.stamp import Printing, printing_of
from picklist.documents.write_plan import PrintOrder, write_plan
from picklist.evening.changes import CartChange, CartChangeKind, PlanChange
from picklist.evening.compare import compare_plans
from picklist.evening.content import CartThing, Handling, PieceLine
from picklist.evening.details import Detail
from picklist.evening.match import CaseMatch
from picklist.model.cards import ThingKind
from picklist.model.known import Candidate, MatchQuestion
from picklist.model.sets import SetState
from tests.documents.carts import local
from tests.documents.findings import rich_plan
from tests.documents.revisions import first_plan, the_change


def the_view(change: PlanChange | None = None) -> ChangesView:
    return ChangesView(Lookup(rich_plan()), change or the_change())


def of_live(case: str) -> CartChange:
    found = the_change().of_live(case)
    assert found is not None
    return found


def the_list(case: str) -> PickListView:
    plan = rich_plan()
    cart = next(cart for cart in plan.carts if cart.case.number == case)
    return PickListView(Lookup(plan), cart, printing_of(plan), the_change().of_live(case))


@cache
def pages() -> list[str]:
    plan = rich_plan()
    data = CharacterCheck(fonts_of_sheets()).everywhere(as_data(the_view()))
    pdf = draw(Sheet(file="changes.pdf", template="changes", data=data, made=plan.now))
    with pypdfium2.PdfDocument(pdf) as document:
        return [re.sub(r"\s+", " ", page.get_textpage().get_text_bounded()) for page in document]


def test_that_the_first_page_says_what_becomes_of_every_cart() -> None:
    glance = {one.word: [cart.split()[0] for cart, _ in one.carts] for one in the_view().glance}
    assert glance == {
        "ASK FIRST": ["C-1047", "C-1099"],
        "ON HOLD": ["C-1050"],
        "CANCELLED": ["C-1098"],
        "CHANGE": ["C-1041"],
        "NEW CART": ["C-1070"],
        "LIST ONLY": ["C-1060"],
    }
    assert "Revision 2 replaces revision 1" in pages()[0]
    for case in ("C-1041", "C-1050", "C-1060", "C-1070", "C-1098"):
        assert case in pages()[0]


def test_that_a_plan_in_which_nothing_changed_says_that_all_carts_stay() -> None:
    same = compare_plans(rich_plan(revision=1, replaces=None), rich_plan())
    view = the_view(same)
    assert [(one.word, one.number) for one in view.glance] == [("UNCHANGED", "5")]
    assert (view.carts, view.lists, view.put_back, view.questions) == ((), (), (), ())


def test_that_a_changed_cart_says_what_goes_on_from_where_and_what_comes_off_to_where() -> None:
    one = the_view().carts[0]
    assert (one.case, one.built, one.which_list) == ("C-1041", True, "list 2 replaces list 1")
    assert [(row.which, row.cart or row.place, row.open, row.hold) for row in one.add] == [
        ("BASIC-04", "C-1098", "1", "–"),
        ("L4101", "B-2-02", "2", "1"),
    ]
    assert [(row.which, row.place, row.open, row.hold) for row in one.take_off] == [
        ("L7700", "A-2-10", "2", "–"),
        ("BASIC-09", "place not recorded", "1", "–"),
    ]
    assert [(row.was, row.now) for row in one.stays] == [("HOLD", "OPEN")]
    assert [(row.what, row.was, row.now) for row in one.head][:2] == [
        ("Room", "OR 4", "OR 3"),
        ("Start", "08:00", "07:30"),
    ]
    assert [row.thing for row in one.missing] == ["I-103"]
    assert any("BASIC-09" in reason for reason in one.reasons)


def test_that_a_list_on_which_only_hours_change_is_told_apart_from_work_on_a_cart() -> None:
    one = the_view().lists[0]
    assert (one.case, one.say) == ("C-1060", "The items on the cart stay the same.")
    assert "C-1060" not in [block.case for block in the_view().carts]


def test_that_a_question_names_the_candidates_and_how_to_answer() -> None:
    question = the_view().questions[0]
    assert question.candidates[0].was.startswith("OR 8 · 10:15 · Dr Ines Aster")
    assert question.candidates[0].answer == '--same "C-1047=C-1099"'
    assert question.answer_new == '--same "C-1047="'
    assert '--same "C-1047=C-1099"' in pages()[0]


def test_that_a_cancelled_cart_hands_over_what_others_want_and_puts_back_the_rest() -> None:
    gone = the_view().put_back[0]
    assert (gone.case, gone.room, gone.start) == ("C-1098", "OR 8", "13:00")
    assert ("BASIC-04", "C-1041") in [(row.which, row.cart) for row in gone.to_carts]
    assert [(row.which, row.place, row.total) for row in gone.to_places] == [("L7700", "A-2-10", "2")]


def test_that_of_a_cancelled_cart_that_nobody_began_nothing_is_put_back() -> None:
    carts = tuple(replace(one, started=False) if one.case == "C-1098" else one for one in the_change().carts)
    (gone,) = the_view(replace(the_change(), carts=carts)).put_back
    assert (gone.to_carts, gone.to_places) == ((), ())
    assert "nothing to put back" in gone.say


def test_that_the_put_back_list_begins_on_a_page_of_its_own() -> None:
    page = next(text for text in pages() if "HAND OVER" in text)
    assert page.split("Revision 2 replaces revision 1", 1)[1].strip().startswith("Put back")


def test_that_every_row_and_every_box_stands_on_paper() -> None:
    whole = " ".join(pages())
    view = the_view()
    rows = [row for one in view.carts for row in (*one.add, *one.take_off, *one.missing)]
    rows += [row for one in view.put_back for row in (*one.to_carts, *one.to_places)]
    assert len(rows) >= 10
    for row in rows:
        assert row.which in whole
        assert (row.cart or row.place) in whole


def test_that_a_changed_list_says_so_beneath_its_head_and_marks_its_lines() -> None:
    view = the_list("C-1041")
    assert view.change is not None
    assert (view.change.word, view.change.since, view.change.built) == ("CHANGED", "since list 1", True)
    assert [row.mark for row in view.trays if row.mark] == ["ADD, FROM CART C-1098"]
    marks = {row.item: row.mark for group in view.sundries for row in group.rows if row.mark}
    assert marks == {"I-101": "NOW OPEN", "I-102": "ADD"}


def test_that_a_mark_counts_only_what_is_more_than_stands_there() -> None:
    """Two more of what the cart already has five of; one less of another."""
    new = rich_plan(revision=3, replaces=2)
    cart = new.carts[0]
    first, second = cart.sundries[:2]
    more = replace(first, picks=(replace(first.picks[0], open=first.picks[0].open + 2),))
    less = replace(second, picks=(replace(second.picks[0], open=second.picks[0].open - 1),))
    later = replace(cart, sundries=(more, less, *cart.sundries[2:]))
    plan = replace(new, carts=(later, *new.carts[1:]))
    change = compare_plans(rich_plan(), plan)
    view = PickListView(Lookup(plan), later, printing_of(plan), change.of_live("C-1041"))
    marks = {row.item: row.mark for group in view.sundries for row in group.rows if row.mark}
    assert marks == {first.need.thing: "ADD 2", second.need.thing: "TAKE OFF 1"}


def test_that_two_lines_of_one_lot_share_what_is_added_of_it() -> None:
    """One to open was there; one on hold, on a line of its own, is new."""
    new = rich_plan(revision=3, replaces=2)
    cart = new.carts[0]
    line = cart.sundries[0]
    pick = replace(line.picks[0], open=0, hold=1)
    held = replace(line, need=replace(line.need, open=0, hold=1, note="second table"), picks=(pick,))
    later = replace(cart, sundries=(*cart.sundries, held))
    plan = replace(new, carts=(later, *new.carts[1:]))
    change = compare_plans(rich_plan(), plan)
    view = PickListView(Lookup(plan), later, printing_of(plan), change.of_live("C-1041"))
    rows = [row for group in view.sundries for row in group.rows if row.item == line.need.thing]
    assert sorted((row.open, row.hold, row.mark) for row in rows) == [("1", "–", ""), ("–", "1", "ADD")]


def test_that_a_set_on_its_way_is_not_fetched_from_another_cart() -> None:
    plan = rich_plan()
    cart = plan.carts[0]
    coming = replace(cart, trays=(replace(cart.trays[0], expected=local("05:10")), *cart.trays[1:]))
    later = replace(plan, carts=(coming, *plan.carts[1:]))
    change = the_change().of_live("C-1041")
    assert change is not None
    assert PickListView(Lookup(later), coming, printing_of(later), change).trays[0].mark == "ADD"
    row = to_add(Lookup(later), change.add, "C-1041")[0]
    assert (row.which, row.cart, row.note) == ("BASIC-04", "", "expected 05:10")


def test_that_a_new_list_names_what_it_takes_from_other_carts_and_marks_nothing_else() -> None:
    view = the_list("C-1047")
    assert view.change is not None
    assert view.change.word == "ASK FIRST"
    marks = {row.mark for group in (*view.sundries, *view.people) for row in group.rows} | {r.mark for r in view.trays}
    assert marks == {"", "FROM CART C-1098"}


def test_that_lists_of_an_earlier_revision_and_of_the_first_one_have_no_block() -> None:
    found = Lookup(rich_plan())
    same = compare_plans(rich_plan(revision=1, replaces=None), rich_plan()).carts[0]
    assert same.kind is CartChangeKind.UNCHANGED
    assert list_change(found, same, 2) is None
    first = compare_plans(None, first_plan()).carts[0]
    assert list_change(Lookup(first_plan()), first, 1) is None


def test_that_the_folder_of_a_later_revision_holds_the_sheet_and_its_table(tmp_path: Path) -> None:
    written = write_plan(rich_plan(), tmp_path / "out", PrintOrder(change=the_change()))
    assert "changes.pdf" in written.files
    table = openpyxl.load_workbook(tmp_path / "out" / "plan.xlsx")["Changes"]
    acts = {(row[0], row[5], row[8]) for row in table.iter_rows(min_row=3, values_only=True)}
    assert {("C-1041", "ADD", "BASIC-04"), ("C-1041", "TAKE OFF", "L7700"), ("C-1098", "PUT BACK", "L7700")} <= acts


def test_that_the_first_revision_of_a_day_has_no_sheet_of_changes(tmp_path: Path) -> None:
    change = compare_plans(None, first_plan())
    written = write_plan(first_plan(), tmp_path / "out", PrintOrder(change=change))
    assert "changes.pdf" not in written.files


def test_that_the_folder_keeps_the_sheets_of_changes_of_earlier_revisions(tmp_path: Path) -> None:
    """What was to be put back at 18:40 may still stand there at 20:15."""
    out = tmp_path / "out"
    write_plan(rich_plan(), out, PrintOrder(change=the_change()))
    first = (out / "changes.pdf").read_bytes()
    third = rich_plan(revision=3, replaces=2)
    written = write_plan(third, out, PrintOrder(change=compare_plans(rich_plan(), third)))
    kept = [file for file in written.files if file.startswith("changes/")]
    assert kept == ["changes/2026-11-26 revision 2.pdf", "changes/2026-11-26 revision 3.pdf"]
    assert (out / kept[0]).read_bytes() == first
    assert (out / kept[1]).read_bytes() == (out / "changes.pdf").read_bytes() != first


def test_that_only_new_lists_get_new_labels(tmp_path: Path) -> None:
    out = tmp_path / "out"
    kept = {"C-1060": Printing(revision=1, printed=first_plan().now)}
    write_plan(rich_plan(), out, PrintOrder(change=the_change(), printings=kept))
    with pypdfium2.PdfDocument(out / "labels-new.pdf") as document:
        text = " ".join(page.get_textpage().get_text_bounded() for page in document)
    assert "C-1041" in text
    assert "C-1060" not in text


def test_that_a_revision_that_prints_no_list_writes_no_empty_papers(tmp_path: Path) -> None:
    third = rich_plan(revision=3, replaces=2)
    change = compare_plans(rich_plan(), third)
    printings = {one.case: Printing(revision=one.revision, printed=rich_plan().now) for one in change.carts}
    written = write_plan(third, tmp_path / "out", PrintOrder(change=change, printings=printings))
    assert "changes.pdf" in written.files
    assert not {"pick-lists-changed.pdf", "labels-new.pdf"} & set(written.files)


quantities = st.integers(min_value=1, max_value=9)
pieces = st.builds(
    CartThing,
    kind=st.just(ThingKind.ITEM),
    thing=st.sampled_from(["I-1", "I-2"]),
    wanted=st.sampled_from(["I-1", "I-2"]),
    part=st.sampled_from(Handling),
    lot=st.sampled_from(["L1", "L2"]),
    place=st.sampled_from(["A-1", "A-10", ""]),
    person=st.sampled_from(["", "S-QUILL"]),
    home=st.sampled_from(["A-1", ""]),
)
lines_of = st.lists(
    st.builds(PieceLine, piece=pieces, quantity=quantities, cart=st.sampled_from(["", "C-1", "C-2"])), max_size=12
)


@given(lines_of)
def test_that_rows_lose_and_double_nothing(lines: list[PieceLine]) -> None:
    found = Lookup(rich_plan())
    for rows in (to_add(found, lines), to_take_off(found, lines)):
        assert sum(int(row.total) for row in rows) == sum(line.quantity for line in lines)
        for cart in ("", "C-1", "C-2"):
            told = sum(int(row.total) for row in rows if row.cart == cart)
            assert told == sum(line.quantity for line in lines if line.cart == cart)
        assert all(row.place or row.cart for row in rows)


def test_that_what_was_added_by_hand_says_so_and_has_its_own_name() -> None:
    piece = CartThing(
        kind=ThingKind.ITEM, thing="I-999", wanted="", part=Handling.OPEN, lot="D7", name="Drain", home="A-09-01"
    )
    [row] = to_take_off(Lookup(rich_plan()), [PieceLine(piece=piece, quantity=2)])
    assert (row.name, row.thing, row.which, row.place, row.note) == (
        "Drain",
        "I-999",
        "D7",
        "A-09-01",
        "put on by hand",
    )


def test_that_a_stand_in_that_no_list_names_has_its_own_name() -> None:
    plan = rich_plan()
    wanted = plan.carts[0].sundries[0].need.thing
    piece = CartThing(
        kind=ThingKind.ITEM, thing="I-999", wanted=wanted, part=Handling.OPEN, name="Other brand", home="A-02-11"
    )
    [row] = to_take_off(Lookup(plan), [PieceLine(piece=piece, quantity=1)])
    assert row.name.startswith("Other brand, in place of ")
    assert row.place == "A-02-11"


def test_that_the_evening_names_carts_that_are_built_and_those_that_wait() -> None:
    plan = rich_plan()
    first, second = (
        next(one for one in the_change().carts if one.case == case and one.is_live) for case in ("C-1060", "C-1041")
    )
    built = replace(first, kind=CartChangeKind.UNCHANGED, built=True, built_from=first.revision, state="built")
    words = "built, waits for LOAN-1 (Thu 26 Nov 06:00)"
    waits = replace(second, kind=CartChangeKind.UNCHANGED, built=True, waits=("LOAN-1",), state=words)
    change = replace(the_change(), carts=(built, waits))
    view = EveningView(Lookup(plan), lambda _: printing_of(plan), change.reports())
    marks = {row.case: row.marks for row in view.carts}
    assert marks["C-1060"][0] == "built"
    assert marks["C-1041"][0] == words
    assert [row.case for row in view.carts if row.built] == ["C-1060"], "ticked on paper; the other waits"
    alone = EveningView(Lookup(plan), lambda _: printing_of(plan))
    total = int(alone.counts.split()[0])
    assert view.counts.startswith(f"{total - 1} carts to finish · 1 built")


def test_that_a_corrected_name_is_told_with_the_former_one() -> None:
    renamed = Detail(what="name", of="I-101", was="Suture 3-0", now="Suture 4-0")
    assert other_lines(Lookup(rich_plan()), (renamed,)) == ("Suture 3-0 is now called Suture 4-0.",)


def test_that_a_case_of_the_same_number_is_not_asked_about_under_another() -> None:
    """Another operation under a number that stays: is it still the same case?"""
    same = Candidate(old_case="C-1047", score=9, agrees=("number",), differs=("procedures",))
    other = replace(same, old_case="C-1099")
    found = Lookup(rich_plan())
    blocks = [
        QuestionBlock(found, MatchQuestion(new_case="C-1047", candidates=(one,)), the_change()) for one in (same, other)
    ]
    assert [block.ask for block in blocks] == [
        "Is C-1047 still the same case?",
        "Was C-1047 on the former schedule under another number?",
    ]


def test_that_a_tray_for_which_a_case_waits_is_told_as_on_its_list() -> None:
    """It read "Awaited by, Suture 4-0: now C-9"."""
    found = Lookup(rich_plan())
    waits = Detail(what="awaited by", of="T-BASIC 1", was=None, now=("C-9", "C-10"))
    over = Detail(what="awaited by", of="T-BASIC 1", was=("C-9",), now=None)
    name = found.tray("T-BASIC")
    assert other_lines(found, (waits,)) == (f"C-9 and C-10 wait for {name}: send it out at once.",)
    assert other_lines(found, (over,)) == (f"No case waits for {name} any more.",)


def test_that_a_change_of_the_next_case_and_of_a_blank_side_reads_as_on_the_list() -> None:
    """It read "Give back, ...: now for C-9", where the list says NEEDED NEXT, and "Side: –"."""
    found = Lookup(rich_plan())
    back = Detail(what="given back for", of="T-BASIC 1", was=None, now="C-1047")
    side = Detail(what="side", of="", was="left", now=None)
    name = found.tray("T-BASIC")
    assert other_lines(found, (back,)) == (f"Needed next, {name}: now by {found.case_in_room('C-1047')}.",)
    kinds = ("reserve, after C-1 and C-2", "rush")
    conflict = Detail(what="conflict", of="T-BASIC 1", was=None, now=kinds)
    assert other_lines(found, (conflict,)) == (f"{name} is now reserve (after C-1 and C-2) and rush.",)
    (row,) = head_rows(found, (side,))
    assert (row.what, row.was, row.now) == ("Side", "left", "not stated")


def test_that_what_a_list_in_hand_asks_of_a_built_cart_stays_on_the_sheet_until_it_is_reported() -> None:
    one = replace(of_live("C-1041"), kind=CartChangeKind.UNCHANGED)
    change = replace(the_change(), carts=(one,), match=CaseMatch())
    view = the_view(change)
    assert [(line.word, line.number) for line in view.glance] == [("STILL OPEN", "1")]
    (block,) = view.carts
    assert (block.word, block.which_list) == ("STILL OPEN", "list 2 stays")
    assert block.say == "This cart was reported from list 1. Change it as follows, unless that is done already:"
    assert block.take_off
    assert not change.reports()["C-1041"].finished


def test_that_a_list_says_what_of_a_former_one_is_to_be_undone() -> None:
    """List 3 wants what was reported from list 1; who began with what list 2 asked must undo it."""
    three = replace(rich_plan(), revision=3, replaces=2)
    asked = replace(of_live("C-1041"), add=(), take_off=(), remarks=())
    one = replace(asked, revision=3, replaces=2, takes_back=True)
    block = list_change(Lookup(three), one, 3)
    assert block
    assert block.say == (
        "Undo what else list 2 asked, if it is done already. The items stay as they were reported from list 1."
    )
    assert kind_word(one) == "CHANGE"


def test_that_a_set_that_is_not_ready_goes_to_sterile_processing_and_not_onto_its_shelf() -> None:
    plan = rich_plan()
    dirty = replace(plan.sets[0], id="BASIC-09", state=SetState.DIRTY)
    found = Lookup(replace(plan, sets=(*plan.sets, dirty)))
    off = of_live("C-1041").take_off
    assert [row.place for row in to_take_off(found, off) if row.which == "BASIC-09"] == ["sterile processing"]


def test_that_a_set_to_add_names_its_giving_cart_once_and_its_shelf() -> None:
    plan = rich_plan()
    line = next(one for one in of_live("C-1041").add if one.piece.set_id)
    there = replace(line, piece=replace(line.piece, fetch="on the cart of case C-1098", home="T-4-4"), cart="C-1098")
    (row,) = to_add(Lookup(plan), (there,))
    assert (row.cart, row.place) == ("C-1098", "T-4-4")
