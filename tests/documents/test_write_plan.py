"""The whole folder of an evening: which papers lie in it, and which pages are drawn again."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest

from picklist.documents.page_cache import LEDGER, FormerPages
from picklist.documents.set_ahead import SetAhead
from picklist.documents.views.bulk import BulkView, in_parts
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import Printing
from picklist.documents.whole_folder import LIST, write_folder
from picklist.documents.write_plan import AS_IT_IS, Extent, PrintOrder, papers_to_set, write_plan
from picklist.model.plan import Plan
from tests.documents.findings import rich_plan
from tests.documents.test_pages import SIGN_OFF, texts

DAY_SHEETS = {
    "bulk.pdf",
    "conflicts.pdf",
    "department.pdf",
    "evening.pdf",
    "labels.pdf",
    "shortages.pdf",
    "worklist.pdf",
}


def contents(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_that_the_folder_holds_every_paper(tmp_path: Path) -> None:
    told: list[tuple[str, int, int]] = []
    written = write_plan(rich_plan(), tmp_path / "out", progress=lambda *step: told.append(step))
    lists = {name for name in written.files if name.startswith("pick-lists/")}
    assert "pick-lists/OR 3 0730 C-1041.pdf" in lists
    assert len(lists) == len(rich_plan().carts)
    others = {name for name in written.files if "/" not in name}
    assert others == DAY_SHEETS | {"board.html", "pick-lists.pdf", "plan.json", "plan.schema.json", "plan.xlsx"}
    assert told[-1][1:] == (12, 12)
    assert len(written.notices) == 2


def test_that_the_same_plan_gives_the_same_folder(tmp_path: Path) -> None:
    write_plan(rich_plan(), tmp_path / "one")
    write_plan(rich_plan(), tmp_path / "two")
    assert contents(tmp_path / "one") == contents(tmp_path / "two")


def test_that_a_second_run_draws_nothing_again(tmp_path: Path) -> None:
    first = write_plan(rich_plan(), tmp_path / "out")
    before = contents(tmp_path / "out")
    second = write_plan(rich_plan(), tmp_path / "out")
    assert (len(first.drawn), len(first.kept)) == (5, 0)
    assert (len(second.drawn), len(second.kept)) == (0, 5)
    assert contents(tmp_path / "out") == before


def test_that_no_more_is_counted_as_printed_than_there_is_to_print(tmp_path: Path) -> None:
    """Sheets set ahead for the plan without its remedies were counted too: "Printing, 10 of 7 done"."""
    told: list[tuple[int, int]] = []
    with SetAhead() as ahead:
        ahead.start(papers_to_set(rich_plan(shortages=(), clusters=()), tmp_path / "out", AS_IT_IS)[1])
        order = PrintOrder(ahead=(ahead,))
        write_plan(rich_plan(), tmp_path / "out", order, lambda _file, done, of: told.append((done, of)))
    assert [done for done, _ in told] == list(range(1, len(told) + 1))
    assert told[-1] == (len(told), len(told))


def test_that_a_long_bulk_sheet_is_set_in_parts_and_is_one_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    view = BulkView(Lookup(rich_plan()))
    monkeypatch.setattr("picklist.documents.views.bulk.MOST_ROWS", view.rows // 2)
    parts = in_parts(view)
    assert len(parts) >= 2
    assert max(part.rows for part in parts) <= view.rows // 2
    assert [row for part in parts for group in part.groups for row in group.rows] == [
        row for group in view.groups for row in group.rows
    ]
    assert [row for part in parts for group in part.sets for row in group.rows] == [
        row for group in view.sets for row in group.rows
    ]
    write_plan(rich_plan(), tmp_path / "out")
    whole = " ".join(texts((tmp_path / "out" / "bulk.pdf").read_bytes()))
    for number in range(1, len(parts) + 1):
        assert f"Bulk sheet, part {number} of {len(parts)} Page 1 of " in whole
    assert whole.count(SIGN_OFF) == len(parts)
    before = (tmp_path / "out" / "bulk.pdf").read_bytes()
    write_plan(rich_plan(), tmp_path / "out", progress=lambda file, *_: pytest.fail(f"{file} was set again"))
    assert (tmp_path / "out" / "bulk.pdf").read_bytes() == before


def later(plan: Plan) -> Plan:
    """The next revision, in which one cart wants one more of something."""
    cart = plan.carts[2]
    line = cart.sundries[0]
    more = replace(line, picks=(replace(line.picks[0], open=9),))
    changed = replace(cart, sundries=(more, *cart.sundries[1:]))
    carts = tuple(changed if one is cart else one for one in plan.carts)
    return replace(plan, revision=3, replaces=2, carts=carts)


def test_that_a_later_revision_keeps_the_lists_that_did_not_change(tmp_path: Path) -> None:
    plan = rich_plan()
    write_plan(plan, tmp_path / "out")
    before = contents(tmp_path / "out")
    kept = {c.case.number: Printing(revision=2, printed=plan.now, replaces=1) for c in plan.carts}
    del kept["C-1060"]
    written = write_plan(later(plan), tmp_path / "out", PrintOrder(printings=kept))
    after = contents(tmp_path / "out")
    assert written.drawn == ("C-1060",)
    lists = [name for name in after if name.startswith("pick-lists/")]
    assert [name for name in lists if after[name] != before[name]] == ["pick-lists/OR 2 0900 C-1060.pdf"]
    with pypdfium2.PdfDocument(tmp_path / "out" / "pick-lists-changed.pdf") as document:
        assert "Revision 3" in document[0].get_textpage().get_text_bounded()
        assert len(document) == len(pypdfium2.PdfDocument(after["pick-lists/OR 2 0900 C-1060.pdf"]))


@pytest.mark.parametrize(
    "extents", [(Extent.ALL,), (Extent.LISTS, Extent.SHEETS, Extent.ALL)], ids=["at once", "in steps"]
)
def test_that_a_list_that_stays_is_the_same_on_paper_and_as_html(tmp_path: Path, extents: tuple[Extent, ...]) -> None:
    """A case of 45 minutes takes 60 now, which prints no list again: the HTML said 1 h beside a PDF of 45 min."""
    plan, html = rich_plan(), tmp_path / "out" / "html" / "OR 2 0900 C-1060.html"
    write_plan(plan, tmp_path / "out")
    before = html.read_bytes()
    assert b"45 min planned" in before
    carts = tuple(
        replace(cart, case=replace(cart.case, minutes=60)) if cart.case.number == "C-1060" else cart
        for cart in plan.carts
    )
    kept = {cart.case.number: Printing(revision=2, printed=plan.now, replaces=1) for cart in carts}
    for extent in extents:
        write_plan(later(replace(plan, carts=carts)), tmp_path / "out", PrintOrder(printings=kept, extent=extent))
        assert html.read_bytes() == before


def test_that_a_list_follows_its_case_to_another_room(tmp_path: Path) -> None:
    """The former pages are not kept under the new room's name when the list is printed anew."""
    plan = rich_plan()
    write_plan(plan, tmp_path / "out")
    cart = plan.carts[2]
    moved = replace(cart, case=replace(cart.case, room="OR 9"))
    carts = tuple(moved if one is cart else one for one in plan.carts)
    written = write_plan(replace(plan, carts=carts, revision=3, replaces=2), tmp_path / "out")
    assert "pick-lists/OR 9 0900 C-1060.pdf" in written.files
    assert "pick-lists/OR 2 0900 C-1060.pdf" not in written.files


def test_that_others_may_add_their_files(tmp_path: Path) -> None:
    written = write_plan(rich_plan(), tmp_path / "out", PrintOrder(extra={"rota.html": lambda: b"<p>rota</p>"}))
    assert "rota.html" in written.files
    assert (tmp_path / "out" / "rota.html").read_bytes() == b"<p>rota</p>"


def test_that_two_cases_with_like_names_keep_their_own_files(tmp_path: Path) -> None:
    plan = rich_plan()
    cart = plan.carts[2]
    twins = tuple(replace(cart, case=replace(cart.case, number=number)) for number in ("A/1", "A:1", "a1"))
    written = write_plan(replace(plan, carts=twins), tmp_path / "out")
    lists = [name for name in written.files if name.startswith("pick-lists/")]
    assert lists == [
        "pick-lists/OR 2 0900 A1 (2).pdf", "pick-lists/OR 2 0900 A1 (3).pdf", "pick-lists/OR 2 0900 a1.pdf",
    ]  # fmt: skip


def test_that_an_evening_without_carts_still_prints(tmp_path: Path) -> None:
    plan = replace(
        rich_plan(), carts=(), clusters=(), shortages=(), reuses=(), assignments=(), department=None, chance=None
    )
    written = write_plan(plan, tmp_path / "out")
    assert set(written.files) >= DAY_SHEETS
    assert json.loads((tmp_path / "out" / "plan.json").read_text())["carts"] == []


@pytest.mark.parametrize("spoil", [("append", "one.pdf"), ("remove", "one.pdf"), ("remove", LEDGER), ("remove", LIST)])
def test_that_a_list_is_kept_only_as_it_was_written(tmp_path: Path, spoil: tuple[str, str]) -> None:
    def make(folder: Path) -> None:
        (folder / "one.pdf").write_bytes(b"pages")
        (folder / LEDGER).write_text('{"one.pdf": ["digest", "C-1", 2]}', encoding="utf-8")

    write_folder(tmp_path / "out", make)
    former = FormerPages(tmp_path / "out")
    assert former.kept_list("C-1", 2) == ("digest", b"pages")
    assert (former.kept_list("C-1", 1), former.kept_list("C-2", 2)) == (None, None)
    act, file = spoil
    path = tmp_path / "out" / file
    if act == "append":
        path.write_bytes(path.read_bytes() + b" ")
    else:
        path.unlink()
    assert FormerPages(tmp_path / "out").kept_list("C-1", 2) is None
