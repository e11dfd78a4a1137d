"""The printed pages read back: text, numbering, bar codes, and names that look like markup."""

from __future__ import annotations

import json
import re
import shutil
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from html import unescape
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import typst
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from picklist.documents.html_lists import pick_list_html
from picklist.documents.missing_characters import CharacterCheck
from picklist.documents.pages import Sheet, draw, join
from picklist.documents.templates import fonts_of_sheets, template_folder
from picklist.documents.typesetters import draw_all
from picklist.documents.views.bulk import BulkView
from picklist.documents.views.finished_words import as_data
from picklist.documents.views.labels import LabelsView, label_bars
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.stamp import printing_of
from picklist.evening.scan_book import ScanBook
from picklist.labels.reading import without_marks
from picklist.model.built import read_cart_code
from picklist.model.plan import Plan
from picklist.model.site import Site
from picklist.settings import Paper, Settings
from tests.documents.carts import NASTY
from tests.documents.findings import rich_plan
from tests.documents.sheets import all_views, otherwise
from tests.patience import THOROUGH, tries

TEMPLATES = {"pick-list-stopped": "pick-list", "pick-list-waiting": "pick-list", "pick-list-changed": "pick-list"}
A4, LETTER = (595, 842), (612, 792)


def sheet_of(name: str, view: Any, plan: Plan) -> Sheet:
    data = CharacterCheck(fonts_of_sheets()).everywhere(as_data(view))
    for label in data.get("labels", ()):
        label["bars"] = label_bars(label["code"], label["gs1"])
    return Sheet(file=f"{name}.pdf", template=TEMPLATES.get(name, name), data=data, made=plan.now)


@cache
def pdf_of(name: str) -> bytes:
    plan = rich_plan()
    return draw(sheet_of(name, all_views(plan)[name], plan))


def texts(pdf: bytes) -> list[str]:
    """The text of each page with line breaks as spaces."""
    with pypdfium2.PdfDocument(pdf) as document:
        return [re.sub(r"\s+", " ", page.get_textpage().get_text_bounded()) for page in document]


@pytest.mark.parametrize("name", sorted(all_views(rich_plan())))
def test_that_every_page_says_which_it_is_of_how_many(name: str) -> None:
    pages = texts(pdf_of(name))
    for number, text in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in text
        assert "Revision 2, printed Wed 25 Nov 20:15, replaces revision 1" in text


def test_that_every_page_of_a_list_names_case_side_and_alerts() -> None:
    pages = texts(pdf_of("pick-list"))
    assert len(pages) >= 4
    for text in pages:
        assert "C-1041" in text
        assert "LEFT" in text
        assert "LATEX" in text
        assert "not a record of sterility or release" in text


def test_that_every_line_of_the_long_list_is_on_paper() -> None:
    cart = rich_plan().carts[0]
    whole = " ".join(texts(pdf_of("pick-list")))
    lines = cart.goods
    assert len(lines) > 50
    for line in lines:
        assert line.need.thing in whole
        for pick in line.picks:
            assert pick.lot in whole
            assert pick.place in whole
    for tray in cart.trays:
        assert (tray.set_id or "NO SET") in whole


def test_that_heads_are_repeated_where_a_table_runs_on() -> None:
    pages = texts(pdf_of("pick-list"))
    running = [text for text in pages if "Sundries in walking order" in text]
    assert len(running) >= 2
    for text in running:
        assert "Place Item Lot Expiry Open Hold Found" in text
        assert re.search(r"Aisle [ABC]", text)


@pytest.mark.parametrize("name", ["pick-list", "pick-list-waiting"])
def test_that_headings_and_cautions_read_the_same_on_paper_and_on_the_html_page(name: str) -> None:
    page = pick_list_html(all_views(rich_plan())[name])
    said = re.findall(r"<h2>(.*?)</h2>|<p class=\"caution\">(.*?)</p>|<p class=\"holds\"><b>(.*?)</b>", page)
    words = {unescape(text) for found in said for text in found if text and not text.startswith("Sign-off")}
    assert len(words) >= 3  # the sign-off stands in two lines, beside the names
    printed = re.sub(r"\W", "", " ".join(texts(pdf_of(name))))  # a line may break at a hyphen
    assert [text for text in sorted(words) if re.sub(r"\W", "", text) not in printed] == []


def test_that_no_name_is_read_as_markup() -> None:
    plan = rich_plan()
    view = PickListView(Lookup(plan), plan.carts[3], printing_of(plan))
    whole = " ".join(texts(draw(sheet_of("pick-list", view, plan))))
    assert whole.count(NASTY) >= 3
    assert '#eval("1")' in whole
    assert "=HYPERLINK(" in whole


def test_that_a_sign_outside_the_font_is_shown_by_its_number_and_reported() -> None:
    plan = rich_plan()
    signs = CharacterCheck(fonts_of_sheets())
    shown = signs.everywhere(as_data(PickListView(Lookup(plan), plan.carts[3], printing_of(plan))))
    assert shown["procedures"][1] == "Eye [U+65E5] [U+200D] test"
    assert [sentence[:20] for sentence in signs.report()] == ["the character U+200D", "the character U+65E5"]


@pytest.mark.parametrize("name", sorted(all_views(rich_plan())))
def test_that_the_typesetter_finds_every_glyph_and_a_tagged_structure(name: str) -> None:
    """PDF/UA-1 refuses a sign without a glyph, a page without a title and a picture without words."""
    plan = rich_plan()
    assert draw(sheet_of(name, all_views(plan)[name], plan), accessible_only=True).startswith(b"%PDF")


@pytest.mark.parametrize(("paper", "points"), [(Paper.A4, A4), (Paper.LETTER, LETTER)])
def test_that_the_site_chooses_its_paper(paper: Paper, points: tuple[int, int]) -> None:
    plan = rich_plan(settings=Settings(site="Example Hospital", time_zone="America/New_York", paper=paper))
    for name, view in all_views(plan).items():
        with pypdfium2.PdfDocument(draw(sheet_of(name, view, plan))) as document:
            for page in document:
                assert (round(page.get_width()), round(page.get_height())) == points


@pytest.mark.parametrize("name", sorted(all_views(rich_plan())))
def test_that_nothing_is_smaller_than_ten_points(name: str) -> None:
    with pypdfium2.PdfDocument(pdf_of(name)) as document:
        for number, page in enumerate(document, start=1):
            text = page.get_textpage()
            sizes = [pypdfium2.raw.FPDFText_GetFontSize(text, sign) for sign in range(text.count_chars())]
            printed = [size for size in sizes if size > 1]  # gaps that the reader adds have the size 1
            assert len(printed) > 20
            assert min(printed) > 9.9, f"page {number}"


@pytest.mark.parametrize("paper", Paper)
def test_that_no_time_is_torn_from_its_am_or_pm(paper: Paper) -> None:
    plan = rich_plan(settings=Settings(site="Example Hospital", time_zone="America/New_York", paper=paper, clock=12))
    for name, view in all_views(plan).items():
        with pypdfium2.PdfDocument(draw(sheet_of(name, view, plan))) as document:
            raw = "\n".join(page.get_textpage().get_text_bounded() for page in document)
        assert re.search(r"\d:\d\d [ap]m\b", raw) or name == "shortages", name
        assert not re.search(r"\d:\d\d\s*[\r\n]\s*[ap]m\b", raw), name


@pytest.mark.usefixtures("typeset_afresh")
def test_that_the_same_data_gives_the_same_bytes() -> None:
    plan = rich_plan()
    sheet = sheet_of("labels", all_views(plan)["labels"], plan)
    assert draw(sheet) == draw(sheet)


def test_that_joined_lists_keep_their_own_numbers_and_the_same_bytes() -> None:
    pdfs = [pdf_of("pick-list"), pdf_of("pick-list-stopped"), pdf_of("pick-list-waiting")]
    made = rich_plan().now
    whole = join(pdfs, made)
    assert whole == join(pdfs, made)
    apart = [text for pdf in pdfs for text in texts(pdf)]
    assert texts(whole) == apart
    assert b"D:20261126011500+00'00'" in whole


def test_that_the_labels_can_be_scanned_from_the_printed_page() -> None:
    """Zint draws the code and ZXing reads it off the page: two programs of different people, in one package."""
    plan = rich_plan()
    view = LabelsView(Lookup(plan), lambda _: printing_of(plan))
    with pypdfium2.PdfDocument(draw(sheet_of("labels", view, plan))) as document:
        image = document[0].render(scale=150 / 72, grayscale=True).to_pil()
    found = {code.text for code in zxingcpp.read_barcodes(image)}
    assert found == {label.code for label in view.labels}
    assert {read_cart_code(text) for text in found} == {
        ("C-1041", 2), ("C-1060", 2), ("C-1070", 2), ("C-1047", 2),
    }  # fmt: skip


@pytest.mark.parametrize("paper", Paper)
def test_that_labels_of_a_site_with_a_company_prefix_are_gs1_and_open_their_carts(paper: Paper) -> None:
    """9506000 is a prefix of the GS1 examples; Zint draws, ZXing reads the page, and the scan engine takes the scan.

    A mark of the symbol in front, ]d2 for GS1 DataMatrix, is what a scanner adds (GS1 General Specifications 5).
    """
    settings = Settings(site="Example Hospital", time_zone="UTC", paper=paper, gs1_company_prefix="9506000")
    plan = rich_plan(settings=settings)
    view = LabelsView(Lookup(plan), lambda _: printing_of(plan))
    assert all(label.gs1 for label in view.labels)
    with pypdfium2.PdfDocument(draw(sheet_of("labels", view, plan))) as document:
        image = document[0].render(scale=150 / 72, grayscale=True).to_pil()
    read = zxingcpp.read_barcodes(image, text_mode=zxingcpp.TextMode.Plain)
    assert {code.symbology_identifier for code in read} == {"]d2"}
    book = ScanBook(plan=plan, site=Site(settings=settings), revisions={}, today=plan.day)
    opened = {book.opens(without_marks(f"]d2{code.text}\r\n")) for code in read}
    assert opened == {("C-1041", 2), ("C-1060", 2), ("C-1070", 2), ("C-1047", 2)}
    assert opened == {book.opens(label.code) for label in view.labels}  # as it is printed beside the code


def test_that_a_number_that_gs1_cannot_say_stays_in_code_128() -> None:
    """A GS1 identifier has at most 30 characters of 82 signs: no blank, and no case number of 24."""
    plan = rich_plan(settings=Settings(site="Example Hospital", time_zone="UTC", gs1_company_prefix="9506000"))
    carts = [
        replace(c, case=replace(c.case, number=n)) for c, n in zip(plan.carts, ("A 7", "C(1)", "X" * 24), strict=False)
    ]
    made = LabelsView(Lookup(replace(plan, carts=tuple(carts))), lambda _: printing_of(plan)).labels
    assert {(label.code, label.gs1) for label in made} <= {
        ("A 7.R2", False),
        ("C(1).R2", False),
        ("X" * 24 + ".R2", False),
    }
    assert made


def test_that_no_type_is_smaller_than_ten_points() -> None:
    for name in all_views(rich_plan()):
        with pypdfium2.PdfDocument(pdf_of(name)) as document:
            for page in document:
                sizes = {size for size in text_sizes(page) if size}
                assert min(sizes) >= 9.95, f"{name}: {sorted(sizes)[:3]}"


def text_sizes(page: Any) -> set[float]:
    """The drawn size of every text object of a page in points."""
    sizes = set()
    for thing in page.get_objects(filter=(pypdfium2.raw.FPDF_PAGEOBJ_TEXT,), max_depth=5):
        height = pypdfium2.raw.c_float()
        pypdfium2.raw.FPDFTextObj_GetFontSize(thing, height)
        sizes.add(round(height.value * abs(thing.get_matrix().d), 2))
    return sizes


@settings(max_examples=tries(25))
@given(st.text(max_size=40), st.text(st.characters(min_codepoint=0x20, max_codepoint=0x2FFF), max_size=60))
def test_that_any_text_at_all_can_be_printed(name: str, note: str) -> None:
    """The typesetter refuses a sign without a glyph here, so that none can vanish from a page."""
    plan = rich_plan()
    view = PickListView(Lookup(plan), plan.carts[2], printing_of(plan))
    odd = otherwise(view, surgeon=name, procedures=(note, name), notes=note, room=name, case=note)
    assert draw(sheet_of("pick-list", odd, plan), accessible_only=True).startswith(b"%PDF")


HEADS = (
    "Trays", "Custom pack", "Sundries in walking order", "Peel packs", "Gloves and gowns by person",
    "Check in the room", "Implants and consigned items", "For reference only, not picked", "Short on this cart",
    "Merged from several procedures", "Notes", "Sign-off by",
)  # fmt: skip
CAUTIONS = r"(Before it goes|Take the lot named|Not on the cart|Licensed staff|Inform the room|A: )[^0-9]*\. "
COLUMNS = r"(Place Item Lot Expiry Open Hold Found|What Missing Stand-in Informed Time)"
STRANDED = re.compile(rf"({'|'.join(HEADS)}) ({CAUTIONS})?({COLUMNS} )?((Aisle [ABC]|Dr [A-Z]\w+ \w+, surgeon) )?$")


@pytest.mark.parametrize("count", range(0, 48, 3))
def test_that_no_heading_is_left_alone_at_the_foot_of_a_page(count: int) -> None:
    plan = rich_plan()
    cart = replace(plan.carts[0], sundries=plan.carts[0].sundries[:count])
    pages = texts(draw(sheet_of("pick-list", PickListView(Lookup(plan), cart, printing_of(plan)), plan)))
    for text in pages:
        body, foot, _ = text.partition("Pick list C-1041 · OR 3")
        assert foot
        assert not STRANDED.search(body), body[-200:]


SIGN_OFF = "Sign-off by"
EVERY = 4 if THOROUGH else 7  # lines more on each list that is tried
ENDS = ("remarks", "merged", "shorts", "reference_only", "implants", "room_checks", "people", "peel_packs", "sundries")


@pytest.mark.parametrize("left", range(len(ENDS)))
def test_that_no_page_bears_the_sign_off_alone(left: int) -> None:
    """Whatever section a list ends with, and however far its lines reach down the last page."""
    plan = rich_plan()
    cart = plan.carts[0]
    nothing: dict[str, Any] = dict.fromkeys(ENDS[:left], ())
    lonely = Counter[int]()
    for count in range(2, 40, EVERY):
        view = PickListView(Lookup(plan), replace(cart, sundries=cart.sundries[:count]), printing_of(plan))
        pages = texts(draw(sheet_of("pick-list", otherwise(view, **nothing), plan)))
        body = pages[-1].partition("Pick list C-1041 · OR 3")[0]
        before = body.partition(SIGN_OFF)[0].partition("LATEX")[2]
        assert SIGN_OFF in body
        assert len(before) > 60, body
        lonely[len(pages)] += 1
    assert len(lonely) >= 2, "the lines never went over to a further page"


LINES = (36, 42, 46, 52, 56)  # of the lists that are set with close rows and without
PICKED = re.compile(r"\b[A-Z]-\d+-\d+\b")


def test_that_notes_and_sign_off_stand_on_a_page_with_things_to_pick() -> None:
    """A list that ends with a few checks and notes; its last page has a place to pick from, wherever the page ends."""
    plan = rich_plan()
    cart = replace(plan.carts[0], peel_packs=(), implants=())
    lengths = set()
    for count in (6, 20, 27, 34, 42, 49):
        view = PickListView(Lookup(plan), replace(cart, sundries=cart.sundries[:count]), printing_of(plan))
        last = texts(draw(sheet_of("pick-list", otherwise(view, merged=(), shorts=(), trays=()), plan)))
        lengths.add(len(last))
        assert PICKED.search(last[-1]), last[-1]
    assert len(lengths) > 1


def test_that_the_search_for_a_lonely_heading_would_find_one() -> None:
    assert STRANDED.search("… Peel packs Place Item Lot Expiry Open Hold Found ")
    assert STRANDED.search("… Sundries in walking order Take the lot named. Check package, dryness and expiry. ")
    assert not STRANDED.search("… Peel packs Place Item Lot Expiry Open Hold Found D-1-03 Clamp 1 – ")


def list_of_lines(lines: int) -> Sheet:
    """A list of C-1060 with so many lines of sundries."""
    plan = rich_plan()
    (cart,) = [cart for cart in plan.carts if cart.case.number == "C-1060"]
    longer = replace(cart, sundries=tuple(cart.sundries[n % len(cart.sundries)] for n in range(lines)))
    return sheet_of("pick-list", PickListView(Lookup(replace(plan, carts=(longer,))), longer, printing_of(plan)), plan)


def set_by(folder: Path, sheet: Sheet) -> list[str]:
    """The pages of a sheet set with the templates of a folder; the typesetter came to one answer about them."""
    pdf, warnings = typst.compile_with_warnings(
        str(folder / f"{sheet.template}.typ"),
        root=str(folder),
        font_paths=[str(template_folder() / "fonts")],
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(sheet.data)},
    )
    assert not warnings, [warning.message for warning in warnings]
    return texts(bytes(pdf))


def test_that_a_list_is_set_closer_rather_than_print_a_page_of_next_to_nothing(tmp_path: Path) -> None:
    """From some number of lines on a list takes a page more; the numbers just beyond that are saved it."""
    ours, plain = template_folder() / "typst", tmp_path / "plain"
    shutil.copytree(ours, plain)
    written = (plain / "pick-list.typ").read_text(encoding="utf-8")
    assert written.count("nearly_empty = 380pt") == 1
    (plain / "pick-list.typ").write_text(
        written.replace("nearly_empty = 380pt", "nearly_empty = 0pt"), encoding="utf-8"
    )
    sheets = [list_of_lines(lines) for lines in LINES]
    counts = [(len(set_by(ours, sheet)), len(set_by(plain, sheet))) for sheet in sheets]
    saved = sum(drawn < wide for drawn, wide in counts)
    assert all(drawn <= wide for drawn, wide in counts)
    assert 0 < saved < len(LINES), counts


@pytest.mark.usefixtures("typeset_afresh")
def test_that_a_list_is_the_same_however_many_are_drawn_at_once() -> None:
    plan = rich_plan()
    sheets = [sheet_of("pick-list", all_views(plan)[name], plan) for name in sorted(TEMPLATES)] * 3
    assert draw_all(sheets, workers=4) == draw_all(sheets, workers=1)


def names_on_paper(name: str, view: Any, names: Iterable[str]) -> list[str]:
    """Those of some names that are not on any page of a sheet."""
    whole = " ".join(texts(draw(sheet_of(name, view, rich_plan()))))
    return [one for one in names if one not in whole]


def test_that_however_many_carts_there_are_each_is_on_the_paper() -> None:
    """No side is stated in the schedule and 90 carts are on hold; 600 carts change; none of 900 is built."""
    views, numbers = all_views(rich_plan()), [f"C-{number}" for number in range(20_000, 20_900)]
    on_hold = tuple((f"{one} in OR 1", "schedule.xlsx, sheet Schedule, column side") for one in numbers[:90])
    evening = otherwise(views["evening"], stopped=on_hold)
    assert names_on_paper("evening", evening, numbers[:90]) == []
    kind = otherwise(views["changes"].glance[0], carts=tuple((f"{one} OR 12 07:30", False) for one in numbers[:600]))
    assert names_on_paper("changes", otherwise(views["changes"], glance=(kind,)), numbers[:600]) == []
    carts = otherwise(views["morning"].carts[0], carts=tuple(numbers))
    assert names_on_paper("morning", otherwise(views["morning"], carts=(carts,)), numbers) == []
    put_backs = tuple((one, "BASIC-09, SAW-02 to cart C-1047, 4 other items") for one in numbers[:150])
    assert names_on_paper("morning", otherwise(views["morning"], put_backs=put_backs), numbers[:150]) == []
    group = views["bulk"].groups[0]
    row = otherwise(group.rows[0], carts=tuple(f"{one} × 2" for one in numbers[:600]))
    bulk = otherwise(views["bulk"], groups=(otherwise(group, rows=(row, *group.rows[1:])),))
    assert names_on_paper("bulk", bulk, numbers[:600]) == []
    cluster = next(one for one in views["conflicts"].clusters if one.conflicts[0].strip)
    block, strip = cluster.conflicts[0], cluster.conflicts[0].strip
    sets = tuple(otherwise(strip.rows[0], name=f"SET-{number}") for number in range(100, 160))
    block = otherwise(block, strip=otherwise(strip, rows=sets))
    sheet = otherwise(views["conflicts"], clusters=(otherwise(cluster, conflicts=(block,)),))
    assert names_on_paper("conflicts", sheet, (one.name for one in sets)) == []


def test_that_a_stopped_list_has_nothing_but_the_reasons_and_nobody_signs_it() -> None:
    """Its cards have thirty things to fix besides: they stand in what check says, not on a list that nobody builds."""
    plan = rich_plan()
    cart = plan.carts[1]
    notices = tuple(replace(cart.stopped[0], message=f"card line {number} is odd") for number in range(30))
    stopped = replace(cart, needs=replace(cart.needs, notices=notices))
    view = PickListView(Lookup(plan), stopped, printing_of(plan))
    [page] = texts(draw(sheet_of("pick-list-stopped", view, plan)))
    assert "ON HOLD" in page
    assert not [word for word in ("Sign-off", "Picked by", "is odd") if word in page]
    assert "is odd" not in pick_list_html(view)


def test_that_a_bulk_sheet_without_anything_to_fetch_says_so_and_asks_for_no_sign_off() -> None:
    """Every cart is built: the sheet was a title over an empty sign-off."""
    plan = replace(rich_plan(), carts=())
    pdf = pypdfium2.PdfDocument(draw(sheet_of("bulk", BulkView(Lookup(plan)), plan)))
    text = pdf[0].get_textpage().get_text_bounded()
    assert "Nothing to fetch." in text
    assert "Picked by" not in text


def test_that_what_a_cart_still_lacks_is_on_the_sheet_of_changes_though_only_its_list_is_new() -> None:
    view = all_views(rich_plan())["changes"]
    lacks = next(row for one in view.carts for row in one.add if not row.is_set)
    only_list = otherwise(view.carts[0], work=False, missing=(lacks,))
    said = (f"STILL MISSING {lacks.total} × {lacks.name}", lacks.thing)
    assert names_on_paper("changes", otherwise(view, carts=(), lists=(only_list,)), said) == []
