"""Is this the case that had another number? The page asks until it is answered, also after it was closed."""

from __future__ import annotations

from datetime import datetime, time

import openpyxl
import pytest

from picklist.server.desk import Desk
from picklist.tasks.cart_reports import carts_told
from tests.kept import without_remedies
from tests.server.site import DOOR, LAST_DAY, NOW, at, build, changed_once, client_of, desk_of, work_of
from tests.tasks.small_folder import tell_by_scans

OLD, NEW = "C-4122", "X 9/1"


def renumber(evening: Desk) -> None:
    """The cart of a case is built, then the case comes with another number at another hour; built again."""
    assert tell_by_scans(evening.folder, [f"CART {OLD}", "BY mk", "DONE"], NOW, LAST_DAY).kept
    book = openpyxl.load_workbook(evening.folder / "schedule.xlsx")
    sheet = book["Schedule"]
    heads = {head.value: number for number, head in enumerate(sheet[1], start=1)}
    [row] = [n for n in range(2, sheet.max_row + 1) if sheet.cell(n, heads["case"]).value == OLD]
    sheet.cell(row, heads["case"]).value = NEW
    start = sheet.cell(row, heads["start"]).value
    late = time(19, 15)
    sheet.cell(row, heads["start"]).value = datetime.combine(start, late) if isinstance(start, datetime) else late
    book.save(evening.folder / "schedule.xlsx")
    with without_remedies():
        build(evening)


@pytest.fixture
def renumbered(evening: Desk) -> Desk:
    """The evening once that was done."""
    return changed_once(evening, "renumbered evening", renumber)


def test_a_question_is_asked_again_after_the_page_was_closed_and_opened(renumbered: Desk) -> None:
    for desk in (renumbered, desk_of(renumbered.folder)):
        page = client_of(desk).get(at()).text
        assert f"Did {NEW} (" in page
        assert f'name="answer-{NEW}" value="old:{OLD}"' in page
        assert "the same surgeon" in page


@pytest.mark.parametrize(("answer", "of_old"), [(f"old:{OLD}", True), ("new", False)])
def test_its_answer_after_a_restart_settles_whose_cart_it_is(renumbered: Desk, answer: str, of_old: bool) -> None:
    desk = desk_of(renumbered.folder)
    client = client_of(desk)
    form = {"token": DOOR.token, f"answer-{NEW}": answer}
    work = work_of(desk, client.post(at("build"), data=form).headers["location"])
    assert not work.refused, work.refused
    assert f"Did {NEW} (" not in client.get(at()).text
    built = carts_told(desk.folder, LAST_DAY).built
    assert (NEW in built) is of_old
    assert OLD not in built
