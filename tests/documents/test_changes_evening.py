"""An evening of the sample hospital on paper: built at 18:00, again at 18:40 and at 20:15, with carts built between."""

from __future__ import annotations

import json
import re
import shutil
from contextlib import closing
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pypdfium2
import pytest

from tests.cli.run import FINE, HOSPITAL, PROBLEMS, WRONG_USE, run
from tests.documents.later_schedules import first_edit, second_edit, thin_schedule
from tests.kept import few_lists, without_remedies

READ = ("C-4109", "C-4121", "C-4301")  # the cases whose lists on paper are read below


@dataclass(frozen=True)
class Built:
    """One build: its papers, what it said as facts, and its exit code."""

    papers: Path
    facts: dict[str, Any]
    code: int

    def text(self, file: str) -> str:
        """All text of a PDF, with line breaks as spaces."""
        return " ".join(self.pages(file))

    def pages(self, file: str) -> list[str]:
        with pypdfium2.PdfDocument(self.papers / file) as document:
            return [re.sub(r"\s+", " ", page.get_textpage().get_text_bounded()) for page in document]

    def rows(self) -> list[dict[str, str]]:
        """The table of changes."""
        return changes_in(self.papers / "plan.xlsx")

    def acts(self, case: str) -> set[tuple[str, str]]:
        return {(row["Act"], row["Set or lot"]) for row in self.rows() if row["Case"] == case and row["Act"]}

    def list_of(self, case: str) -> str:
        assert case in READ
        (found,) = [path for path in (self.papers / "pick-lists").iterdir() if case in path.name]
        return self.text(f"pick-lists/{found.name}")


@cache
def changes_in(book: Path) -> list[dict[str, str]]:
    """The table of changes of a workbook, which is read once."""
    with closing(openpyxl.load_workbook(book, read_only=True)) as opened:
        heads, *rows = opened["Changes"].iter_rows(min_row=2, values_only=True)
    return [dict(zip(map(str, heads), (str(cell or "") for cell in row), strict=True)) for row in rows]


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Built]:
    home = tmp_path_factory.mktemp("changes")
    site = home / "hospital"
    shutil.copytree(HOSPITAL, site)
    thin_schedule(site)
    built = {"18:00": build(home, "18:00")}
    missing = item_of(built["18:00"], "C-4113")
    scan(home, "18:30", "C-4109", "C-4116", "C-4121", "C-4114", f"C-4113\nMISSING {missing} 1")
    first_edit(site)
    built["18:40"] = build(home, "18:40")
    second_edit(site)
    built["20:15"] = build(home, "20:15", "--same", "C-4126=C-4126")
    code, said, _ = run("morning", str(site), "--out", str(home / "morning.pdf"), "--now", "2026-11-25 22:30")
    assert code == FINE, said
    built["22:30"] = Built(home, {"said": said}, code)
    return built


def build(home: Path, hour: str, *more: str) -> Built:
    out = home / "out"
    words = ("--now", f"2026-11-25 {hour}", "--out", str(out), "--no-chance", "--json")
    with without_remedies(), few_lists(*READ):
        code, said, told = run("build", str(home / "hospital"), *words, *more)
    assert code in (FINE, PROBLEMS), told
    kept = home / hour.replace(":", "")
    shutil.copytree(out, kept)
    return Built(kept, json.loads(said), code)


def scan(home: Path, hour: str, *carts: str) -> None:
    lines = home / "scans.txt"
    lines.write_text("\n".join(f"CART {cart}\nBY mk\nDONE" for cart in carts), encoding="utf-8")
    code, _, told = run("scan", str(home / "hospital"), str(lines), "--now", f"2026-11-25 {hour}")
    assert code == FINE, told


def item_of(built: Built, case: str) -> str:
    """A thing of which a cart's list opens one or more."""
    plan = json.loads((built.papers / "plan.json").read_text(encoding="utf-8"))
    cart = next(one for one in plan["carts"] if one["case"]["number"] == case)
    return str(next(line for line in cart["sundries"] if line["need"]["open"])["need"]["thing"])


def test_that_the_first_build_has_no_sheet_of_changes(evening: dict[str, Built]) -> None:
    assert not (evening["18:00"].papers / "changes.pdf").exists()
    assert "CHANGED since" not in evening["18:00"].text("pick-lists.pdf")
    changed = {
        hour: [path for path in (evening[hour].papers / "html").iterdir() if "CHANGED since" in path.read_text("utf-8")]
        for hour in ("18:00", "18:40")
    }
    assert changed["18:00"] == []
    assert changed["18:40"]


def test_that_the_first_page_puts_every_cart_under_what_becomes_of_it(evening: dict[str, Built]) -> None:
    first = evening["18:40"].pages("changes.pdf")[0]
    assert "Revision 2 replaces revision 1" in first
    order = [first.index(word) for word in ("ASK FIRST", "CANCELLED", "CHANGE ", "NEW CART", "UNCHANGED")]
    assert order == sorted(order)
    assert "C-4301 OR 7 09:40" in first
    assert 'build again with --same "C-4126=C-4126"' in first


def test_that_a_built_cart_of_another_surgeon_says_why_and_what_goes_on_and_comes_off(
    evening: dict[str, Built],
) -> None:
    second = evening["18:40"]
    acts = {act for act, _ in second.acts("C-4121")}
    assert {"ADD", "TAKE OFF", "SAYS"} <= acts
    text = second.text("changes.pdf")
    assert "Why a built cart must change" in text
    assert "Surgeon: Dr. Oakenspur (was Dr. Fernwhistle)" in text
    on_list = second.list_of("C-4121")
    assert "CHANGED since list 1 BUILT" in on_list
    assert on_list.count("ADD") > 5


def test_that_what_a_cart_lacks_stays_on_its_papers_until_it_is_there(evening: dict[str, Built]) -> None:
    missing = item_of(evening["18:00"], "C-4113")
    told = {(row["Case"], row["Id"]) for row in evening["20:15"].rows() if row["Act"] == "STILL MISSING"}
    assert told == {("C-4113", missing)}
    assert "1 open (reported by mk)" in evening["22:30"].text("morning.pdf")


def test_that_a_start_that_moves_changes_the_list_and_nothing_on_the_cart(evening: dict[str, Built]) -> None:
    acts = {act for act, _ in evening["18:40"].acts("C-4109")}
    assert acts == {"SAYS"}
    assert "Start: 07:45 (was 07:30)" in evening["18:40"].list_of("C-4109")


def test_that_a_cancelled_cart_that_was_built_is_put_back_place_by_place(evening: dict[str, Built]) -> None:
    second = evening["18:40"]
    rows = [row for row in second.rows() if row["Case"] == "C-4116" and row["Act"]]
    assert {row["Act"] for row in rows} >= {"PUT BACK"}
    assert all(row["Place"] for row in rows)
    sets = {row["Id"]: row["Place"] for row in rows if row["Id"].startswith("T-")}
    assert sets == {"T-SCOPEK": "T-3-2", "T-ARTHCAM": "T-3-3"}
    assert "This cart is built: take all of this off." in second.text("changes.pdf")


def test_that_an_add_on_names_what_it_takes_from_which_cart(evening: dict[str, Built]) -> None:
    taken = [row for row in evening["18:40"].rows() if row["Case"] == "C-4301" and row["Act"] == "TAKES"]
    assert taken
    assert all(row["Other cart"].startswith("C-4") for row in taken)
    on_list = evening["18:40"].list_of("C-4301")
    assert "NEW CART in revision 2" in on_list
    assert "FROM CART C-4" in on_list


def test_that_a_set_found_incomplete_leaves_its_built_cart_with_that_reason(evening: dict[str, Built]) -> None:
    third = evening["20:15"]
    off = [held for act, held in third.acts("C-4114") if act == "TAKE OFF"]
    assert any(held.startswith("KNEE-") for held in off)
    assert "is now recorded as incomplete" in third.text("changes.pdf")


def test_that_the_answer_on_the_paper_settles_its_question(evening: dict[str, Built]) -> None:
    third = evening["20:15"]
    assert third.facts["questions"] == ["C-4312"]
    assert not [p for p in third.facts["problems"] if p["kind"] == "unfit answer"]
    assert any(act == "TAKE OFF" for act, _ in third.acts("C-4126"))


def test_that_renumbered_split_moved_and_stopped_cases_are_named(evening: dict[str, Built]) -> None:
    third = evening["20:15"]
    text = third.text("changes.pdf")
    assert "C-4141 is now C-4311; its cart is kept." in text
    assert "C-4106 was split into C-4106 and C-4313." in text
    assert "Moved to Fri 27 Nov 2026." in text
    assert {row["What becomes of it"] for row in third.rows() if row["Case"] == "C-4122"} == {"ON HOLD"}
    assert third.code == PROBLEMS


def test_that_every_set_and_lot_of_the_table_stands_on_the_sheet(evening: dict[str, Built]) -> None:
    for hour in ("18:40", "20:15"):
        whole = evening[hour].text("changes.pdf")
        rows = [row for row in evening[hour].rows() if row["Act"] in ("ADD", "TAKE OFF", "PUT BACK", "HAND OVER")]
        assert len(rows) > 20
        for row in rows:
            assert row["Set or lot"] in whole, row


def test_that_each_thing_to_add_is_marked_on_its_list(evening: dict[str, Built]) -> None:
    second = evening["18:40"]
    added = [row for row in second.rows() if row["Case"] == "C-4121" and row["Act"] == "ADD"]
    (page,) = [path for path in (second.papers / "html").iterdir() if "C-4121" in path.name]
    body = page.read_text(encoding="utf-8").split("</section>", 2)[2]
    marked = set(re.findall(r'<span class="small">(\S+?)(?: · [^<]*)?</span> <span class="reversed">ADD\b', body))
    assert marked == {row["Id"] for row in added}
    assert len(marked) > 10


def test_that_the_morning_finds_all_that_is_open_on_one_page(evening: dict[str, Built]) -> None:
    pages = evening["22:30"].pages("morning.pdf")
    assert len(pages) == 1
    for title in ("On hold", "Missing", "Carts to finish", "Questions about cases", "not reported as put back"):
        assert title in pages[0]
    assert "C-4122 in OR 5" in pages[0]
    assert "reported by mk" in pages[0]


def test_that_the_morning_of_a_day_that_was_not_built_is_a_wrong_use(evening: dict[str, Built]) -> None:
    site = evening["22:30"].papers / "hospital"
    code, _, said = run("morning", str(site), "--day", "2026-11-27", "--now", "2026-11-25 22:30")
    assert code == WRONG_USE
    assert "no lists were built for 2026-11-27" in said
