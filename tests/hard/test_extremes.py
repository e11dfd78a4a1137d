"""Days at the edge of what a site may hold: nothing on their papers is cut off, laid over other words, or lost."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, TypeAlias

import openpyxl
import pypdfium2
import pytest
from playwright.sync_api import Browser, expect
from playwright.sync_api import Page as Window

from picklist.documents.templates import END, ISOLATE, as_typed, isolated
from picklist.server.desk import Desk
from picklist.tasks.build import Wanted, build_day
from picklist.tasks.errors import WrongUse
from picklist.tasks.offices import send_cards
from picklist.tasks.read_folder import load_folder
from tests.hard.extremes import ARABIC, EXTREMES, HEBREW, LINES, LONG, cancelled, long_name, one_case
from tests.inputs.folders import Rows
from tests.server.browsing import opening
from tests.server.site import at, client_of, ended

Papers: TypeAlias = dict[str, "list[Page]"]
Box: TypeAlias = tuple[float, float, float, float]  # left, bottom, right, top in points
EDGE = 4 / 25.4 * 72  # nothing is printed nearer to the edge of the paper than 4 mm


class Page:
    """What is printed on a page: its text, and each run of text with its box."""

    def __init__(self, page: Any) -> None:
        text = page.get_textpage()
        self.size = page.get_size()
        self.text = re.sub(r"\s+", " ", text.get_text_bounded().replace("\u200b", "").replace("\ufffe", ""))
        self.runs: list[tuple[str, Box]] = []
        for number in range(text.count_rects()):
            box = text.get_rect(number)
            self.runs.append((text.get_text_bounded(*box).strip(), box))

    def off_the_paper(self) -> list[str]:
        """Runs of text that reach over the edge of the paper or into what no printer prints."""
        wide, high = self.size
        return [
            said
            for said, (left, bottom, right, top) in self.runs
            if left < EDGE or bottom < EDGE or right > wide - EDGE or top > high - EDGE
        ]

    def overlaid(self) -> list[tuple[str, str]]:
        """Runs of text that lie over one another."""
        found = []
        downwards = sorted(self.runs, key=lambda run: -run[1][3])
        for n, (one, here) in enumerate(downwards):
            for other, there in downwards[n + 1 :]:
                if there[3] < here[1]:  # it and all that follow are further down
                    break
                wide = min(here[2], there[2]) - max(here[0], there[0])
                if wide > 3 and there[3] - max(here[1], there[1]) > 3:
                    found.append((one, other))
        return found


PapersOf: TypeAlias = Callable[[str], Papers]


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("extremes")


@pytest.fixture(scope="module")
def papers_of(place: Path) -> PapersOf:
    """The papers of each extreme day, built once."""

    @cache
    def papers(name: str) -> Papers:
        extreme, folder = EXTREMES[name], place / name
        folder.mkdir()
        extreme.write(folder / "site")
        return _built(folder, name)

    return papers


def _built(folder: Path, name: str) -> Papers:
    extreme = EXTREMES[name]
    wanted = Wanted(folder=folder / "site", out=folder / "out", now=extreme.now, day=extreme.day, with_chance=False)
    built = build_day(wanted, lambda _: None)
    assert built.written is not None, built.problems
    files = {path.relative_to(folder / "out").as_posix(): path for path in (folder / "out").rglob("*.pdf")}
    files.pop("pick-lists.pdf", None)  # the lists are looked at one by one
    return {file: pages(path) for file, path in files.items()}


def pages(path: Path) -> list[Page]:
    with pypdfium2.PdfDocument(path) as document:
        return [Page(page) for page in document]


def whole(paper: list[Page]) -> str:
    return " ".join(page.text for page in paper)


def faults(papers: Papers) -> Iterator[str]:
    """Everything on these papers that is cut off or covered."""
    for file, found in papers.items():
        for number, page in enumerate(found, start=1):
            place = f"{file}, page {number}"
            yield from (f"{place}: off the paper: {said}" for said in page.off_the_paper())
            yield from (f"{place}: {one!r} lies over {other!r}" for one, other in page.overlaid())


def one_cancelled(rows: Rows) -> None:
    """The only case of the day is called off."""
    one_case(rows)
    cancelled(rows)


def squeezed(text: str) -> str:
    """Without gaps, which line ends take the place of."""
    return re.sub(r"\s", "", text)


@pytest.mark.parametrize("name", [name for name in EXTREMES if name not in ("no case", "all cancelled")])
def test_nothing_is_cut_off_or_covered(name: str, papers_of: PapersOf) -> None:
    assert list(faults(papers_of(name))) == []


def test_a_list_of_four_hundred_lines_has_them_all_and_names_its_case_on_each_page(papers_of: PapersOf) -> None:
    papers = papers_of("long card")
    (long,) = [paper for file, paper in papers.items() if file.endswith("C-1.pdf")]
    assert [page.text.count(f"Page {n} of {len(long)}") for n, page in enumerate(long, start=1)] == [1] * len(long)
    assert all("C-1" in page.text and "LEFT" in page.text for page in long)
    for paper in (long, papers["bulk.pdf"]):
        assert {int(one) for one in re.findall(r"Suture number (\d+) 2\d{5}", whole(paper))} == set(range(LINES))
    assert LINES / 40 < len(long) < LINES / 25


def test_names_of_two_hundred_characters_are_printed_to_their_end(papers_of: PapersOf) -> None:
    papers = papers_of("long names")
    (knee,) = [squeezed(whole(paper)) for file, paper in papers.items() if file.endswith("C-1.pdf")]
    for name in ("Knee repair", "Knee basic", "Knee pack", "Check the lock"):
        assert squeezed(long_name(name)) in knee, name
    for name in ("Dr. Quill", "Bring the battery", "Glove 7.5"):
        assert long_name(name, gaps=name == "") in knee, name
    assert whole(papers["labels.pdf"]).count("…") == 6  # of each label surgeon and procedure
    for paper in papers.values():
        assert (
            all(page.text.count("local policy and licensed staff decide.") for page in paper)
            or paper == papers["labels.pdf"]
        )


def test_a_form_is_as_wide_as_its_columns_and_its_rows_as_high_as_their_names(papers_of: PapersOf, place: Path) -> None:
    """Print is made as small as the widest line asks for: a title beside the table made it too small to read."""
    papers_of("long names")
    book = openpyxl.load_workbook(place / "long names" / "out" / "carts.xlsx")
    trays, cautions = book["Trays"], book["Cautions"]
    assert [str(one) for one in trays.merged_cells.ranges] == ["A1:G1"]
    names = [trays.cell(row, 4).value for row in (4, 5, 6)]
    assert [len(str(name)) for name in names] == [LONG] * 3
    assert all((trays.row_dimensions[row].height or 0) >= 4 * 15 for row in (4, 5, 6))  # 50 characters to a line
    assert (cautions.column_dimensions["A"].width, cautions.row_dimensions[1].height) == (80, 34)


def test_ids_as_long_as_they_may_be_are_printed_whole(papers_of: PapersOf) -> None:
    papers = papers_of("long ids")
    knee = "".join(squeezed(whole(paper)) for file, paper in papers.items() if file.startswith("pick-lists/"))
    for name, most in (("T-KNEE", 60), ("KNEE-01", 60), ("100002", 60), ("C-2", 40)):
        assert long_name(name, gaps=False, most=most) in knee
    for name, most in (("OR 2", 40), ("A-02", 60), ("BASIC-01", 60), ("steam", 60)):
        assert squeezed(long_name(name, most=most)) in knee


def test_an_id_too_long_for_the_papers_is_a_problem_of_its_cell(tmp_path: Path) -> None:
    def longer(rows: Rows) -> None:
        rows["Places"][1]["place"] = "A" * 61
        rows["Schedule"][0]["room"] = "O" * 41

    replace(EXTREMES["one case"], change=longer).write(tmp_path)
    problems = load_folder(tmp_path, EXTREMES["one case"].now).problems
    places = {(one.where.sheet, one.where.cell, one.expected) for one in problems if one.kind == "too long"}
    assert places == {("Places", "A3", "at most 60"), ("Schedule", "C2", "at most 40")}


def test_names_in_scripts_without_glyphs_are_problems_and_printed_as_numbers(
    tmp_path: Path, papers_of: PapersOf
) -> None:
    EXTREMES["other scripts"].write(tmp_path)
    problems = load_folder(tmp_path, EXTREMES["other scripts"].now).problems
    found = [(one.where.sheet, one.where.row, one.where.column) for one in problems if one.kind == "not on paper"]
    assert found == [
        ("Schedule", 2, "notes"),
        ("Procedures", 2, "name"),
        ("Procedures", 3, "name"),
        ("Staff", 2, "name"),
        ("Items", 2, "name"),
        ("Trays", 2, "name"),
        ("Places", 2, "place"),
    ]
    papers = papers_of("other scripts")
    knee, hernia = (whole(papers[f"pick-lists/{name}.pdf"]) for name in ("OR 1 0730 C-1", "OR 2 0800 C-2"))
    numbers = "".join(f"[U+{ord(one):04X}]" for one in ARABIC.split()[0])
    assert numbers in squeezed(knee)
    assert "[U+68DA]-01" in knee
    assert "Dr. Tárn-Łęcki Ωραίος Жуков" in hernia
    assert "Éponge, 10 pack" in unicodedata.normalize("NFC", hernia)


def test_a_day_of_one_case_prints_no_heading_without_rows(papers_of: PapersOf) -> None:
    papers = papers_of("one case")
    assert {file: len(paper) for file, paper in papers.items() if len(paper) > 1} == {"worklist.pdf": 2}
    assert "No conflicts." in whole(papers["conflicts.pdf"])
    assert "No set has to be turned around" in whole(papers["department.pdf"])
    evening = whole(papers["evening.pdf"])
    assert "1 cart to build" in evening
    assert "See the conflict sheet" not in evening


@pytest.mark.parametrize(("name", "cases"), [("no case", "1 case"), ("all cancelled", "3 cases")])
def test_a_day_without_a_case_prints_nothing_and_says_why(name: str, cases: str, tmp_path: Path) -> None:
    EXTREMES[name].write(tmp_path / "site")
    with pytest.raises(WrongUse, match=rf"the schedule has none \({cases}, cancelled or done\)"):
        _built(tmp_path, name)
    assert not (tmp_path / "out").exists()
    page = client_of(desk := Desk(tmp_path / "site", tmp_path / "out", lambda: EXTREMES[name].now))
    if checking := desk.check():
        ended(checking)
    assert f"The schedule has no case to come ({cases}, cancelled or done). Drop" in page.get(at()).text


def test_a_day_that_is_called_off_after_its_lists_were_printed_prints_what_to_put_back(tmp_path: Path) -> None:
    EXTREMES["one case"].write(tmp_path / "site")
    _built(tmp_path, "one case")
    replace(EXTREMES["one case"], change=one_cancelled).write(tmp_path / "site")
    papers = _built(tmp_path, "one case")
    assert not any(file.startswith("pick-list") for file in papers)
    assert "No carts to build." in whole(papers["evening.pdf"])
    assert "Carts in order of completion" not in whole(papers["evening.pdf"])
    assert "No carts to build, so no labels." in whole(papers["labels.pdf"])
    assert "C-1" in whole(papers["changes.pdf"])
    assert list(faults(papers)) == []


def test_times_after_midnight_bear_their_day(papers_of: PapersOf) -> None:
    """The case ends at 01:00, its set is out of the room by then plus 10 minutes of transport, wanted at 04:30."""
    papers = papers_of("over midnight")
    conflict = whole(papers["conflicts.pdf"])
    assert "needed Fri 27 Nov 04:30" in conflict
    assert "decide by Fri 27 Nov 04:30" in conflict
    (knee,) = [whole(paper) for file, paper in papers.items() if file.endswith("C-1.pdf")]
    assert "out of the room Fri 27 Nov 01:25" in knee
    assert "ready for use by Fri 27 Nov 04:00 (to be made ready here: in decontamination by 01:05)" in conflict
    assert "Start case C-3 in OR 2 at Fri 27 Nov 07:00 instead of 05:00" in conflict
    assert "Start case C-1 in OR 1 at 22:25 instead of 22:30" in conflict


def test_a_set_that_comes_after_midnight_from_a_case_of_the_day_is_counted(papers_of: PapersOf) -> None:
    """It leaves the room of the day's last case at 01:00 and is 25 minutes early for the case that waits."""
    assert "When each set is ready 2 more sets of the day: ready in time." in whole(
        papers_of("over midnight")["department.pdf"]
    )


def test_a_worklist_says_where_it_ends_and_who_has_the_rest(papers_of: PapersOf, place: Path) -> None:
    """The knee set is washed and sterilized after the case until 01:00, and again after that of 05:00: four loads."""
    night, day = (whole(papers_of(name)["worklist.pdf"]) for name in ("over midnight", "one case"))
    told = "It ends at midnight; the worklist of Fri 27 Nov has the later loads, 4 so far."
    assert told in night
    assert "It ends at midnight; no load starts later." in day
    book = openpyxl.load_workbook(place / "over midnight" / "out" / "plan.xlsx")
    assert told in str(book["Worklist"]["A1"].value)


@pytest.mark.parametrize(
    ("name", "case", "ready", "on_the_axis"),
    [
        # 23:00 and 4 hours: 04:00 when the hour from 02:00 to 03:00 is left out, 02:00 when that before it comes twice;
        # then 10 min of transport, 60 of washing, 70 of steam and 45 of cooling
        ("spring", "Sat 13 Mar 23:00 for 4 h 00 min", "07:05", "23:00 00:00 01:00 03:00 04:00"),
        ("autumn", "Sat 31 Oct 23:00 for 4 h 00 min", "05:05", "23:00 00:00 01:00 CDT 01:00 CST 02:00"),
    ],
)
def test_hours_are_counted_over_a_change_of_the_clock(
    name: str, case: str, ready: str, on_the_axis: str, papers_of: PapersOf
) -> None:
    conflict = whole(papers_of(name)["conflicts.pdf"])
    assert case in conflict
    assert f"is ready {ready} at usual pace" in conflict
    assert on_the_axis in conflict


def test_a_name_from_right_to_left_stands_apart_on_page_board_and_list(papers_of: PapersOf, place: Path) -> None:
    """A browser would show "Glove 7.5 for <name>: 1 open" with the 1 in front of the name."""
    papers_of("other scripts")
    evening, name = place / "other scripts", f"{ISOLATE}{ARABIC}{END}"
    page = client_of(Desk(evening / "site", evening / "out", lambda: EXTREMES["other scripts"].now))
    assert f"Glove 7.5 for {name}: 1 open" in page.get(at("decisions")).text
    assert name in (evening / "out" / "board.html").read_text(encoding="utf-8")
    assert f"{name} knee" in (evening / "out" / "html" / "OR 1 0730 C-1.html").read_text(encoding="utf-8")
    asked = page.get(at("carts"), params={"find": name})
    assert "C-1" in asked.text
    assert ISOLATE * 2 not in asked.text


def test_that_only_what_runs_from_right_to_left_is_marked() -> None:
    assert isolated("Gown for Dr. Tárn: 1") == "Gown for Dr. Tárn: 1"
    assert isolated(f"1 {HEBREW} left") == f"1 {ISOLATE}ברך ימין{END} 12 left"
    assert isolated(f"{ARABIC} knee, {ARABIC}") == f"{ISOLATE}{ARABIC}{END} knee, {ISOLATE}{ARABIC}{END}"
    assert isolated(isolated(ARABIC)) == isolated(ARABIC)
    assert as_typed(f"x {isolated(ARABIC)}") == f"x {ARABIC}"


def test_an_offices_sheet_wraps_the_names_above_its_table(tmp_path: Path) -> None:
    EXTREMES["long names"].write(tmp_path / "site")
    send_cards(tmp_path / "site", "S01", tmp_path / "office.xlsx", EXTREMES["long names"].now)
    card = openpyxl.load_workbook(tmp_path / "office.xlsx")["KNEE"]
    assert {str(one)[:2] for one in card.merged_cells.ranges} == {"A1", "A2"}
    assert (card.row_dimensions[1].height or 0) >= 2 * 20  # two lines of 16 points


WIDER = """() => [...document.querySelectorAll("main, main *")].filter(one => {
    const box = one.getBoundingClientRect();
    return box.width > 1 && box.right > innerWidth + 1 }).map(one => one.className || one.tagName)"""
OUT_OF = """query => [...document.querySelectorAll(query)].filter(one => one.scrollWidth > one.clientWidth + 1)
    .map(one => one.textContent.trim().slice(0, 30))"""


@contextmanager
def _page_of(browser: Browser, evening: Path, name: str) -> Iterator[Window]:
    with opening(browser) as open_page:
        yield open_page(Desk(evening / "site", evening / "out", lambda: EXTREMES[name].now))


@pytest.mark.browser
@pytest.mark.parametrize("name", ["long ids", "long names"])
def test_no_screen_is_wider_and_no_words_reach_out_of_their_box_for_a_long_name(
    name: str, papers_of: PapersOf, place: Path, browser: Browser
) -> None:
    papers_of(name)
    ids = {"C-2": 40, "KNEE-01": 60, "100002": 60}
    case, sets, item = (long_name(one, gaps=False, most=m) if name == "long ids" else one for one, m in ids.items())
    with _page_of(browser, place / name, name) as page:
        home, wide = page.url, dict[str, list[str]]()
        for way in ("decisions", "carts", f"carts/case?case={case}", f"why?case={case}"):
            page.goto(home + way)
            for width in (768, 1280):  # a tablet, and a screen
                page.set_viewport_size({"width": width, "height": 800})
                wide[f"{way} {width}"] = page.evaluate(WIDER)
        page.goto(f"{home}scan")
        for n, scan in enumerate((f"CART {case}", sets, f"MISSING {item}", "DONE"), start=1):
            page.get_by_label("Scan", exact=True).fill(scan)
            page.keyboard.press("Enter")
            expect(page.locator("#scan-answer")).to_have_attribute("data-number", str(n))
            wide[scan] = page.evaluate(WIDER) + page.evaluate(OUT_OF, ".verdict, .verdict :not(.hidden)")
            heights = page.locator(".left tr").evaluate_all("some => some.map(one => one.offsetHeight)")
            assert max(heights, default=0) < 400, scan
        assert {way: found for way, found in wide.items() if found} == {}
        page.goto((place / name / "out" / "board.html").as_uri())
        leaves = page.locator(".leaf").evaluate_all("some => some.map(one => one.dataset.id)")
        for leaf in leaves:
            page.evaluate("id => { location.hash = id }", leaf)
            expect(page.locator(".leaf.shown")).to_have_count(1)
            assert page.evaluate(OUT_OF, "#leaves") == [], leaf
        assert len(leaves) == 6


def test_of_a_long_number_its_bar_on_the_board_shows_the_end_and_its_label_the_whole(
    papers_of: PapersOf, place: Path
) -> None:
    """It showed nothing at all; 40 characters would be ten times as wide as the bar."""
    papers_of("long ids")
    board = (place / "long ids" / "out" / "board.html").read_text(encoding="utf-8")
    number = long_name("C-2", gaps=False, most=40)
    (bar,) = re.findall(rf'<a class="case[^>]*data-key="[^"]*{number}".*?</a>', board)
    assert '<b class="n9">…xxxxxEND</b>' in bar
    assert f'aria-label="…xxxxxEND Dr. Tarn · Hernia repair; {number}; ' in bar
