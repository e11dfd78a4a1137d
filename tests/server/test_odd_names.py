"""Case numbers with spaces and other signs can be marked, linked, tried and asked about like any other."""

from __future__ import annotations

import re
from datetime import datetime
from html import unescape

import openpyxl
import pytest

from picklist.server.cart_pages import FormTold
from picklist.server.desk import Desk
from picklist.server.trying import TriedChanges
from picklist.tasks.cart_reports import carts_told
from tests.kept import without_remedies
from tests.server.forms import fields_of
from tests.server.site import DOOR, LAST_DAY, at, build, changed_once, client_of, work_of

ODD = ("C 4121", "Ü/41\u00df", "007", "50%", "#9", "..", "a&b=c?d", "<b>1</b>", 'it\'s "7"', "A/../B", "100%20")


def number_oddly(fresh: Desk) -> None:
    """The small evening with its first cases renumbered, built."""
    book = openpyxl.load_workbook(fresh.folder / "schedule.xlsx")
    sheet, numbers = book["Schedule"], iter(ODD)
    heads = {head.value: number for number, head in enumerate(sheet[1], start=1)}
    for row in range(2, sheet.max_row + 1):
        day = sheet.cell(row, heads["day"]).value
        if isinstance(day, datetime) and day.date() == LAST_DAY and (number := next(numbers, None)):
            sheet.cell(row, heads["case"]).value = number
    assert next(numbers, None) is None
    book.save(fresh.folder / "schedule.xlsx")
    with without_remedies():
        build(fresh)


@pytest.fixture
def odd_evening(fresh: Desk) -> Desk:
    """The evening once that was done."""
    return changed_once(fresh, "odd evening", number_oddly)


def test_a_case_of_any_number_can_be_marked_linked_tried_and_asked_about(odd_evening: Desk) -> None:
    client = client_of(odd_evening)
    plan = odd_evening.plan()
    assert plan is not None
    assert set(ODD) <= {cart.case.number for cart in plan.carts}
    links = [unescape(link) for link in re.findall(r'href="([^"]*carts/case[^"]*)"', client.get(at("carts")).text)]
    pages = {client.get(link).text: link for link in links}
    papers = [unescape(link) for link in re.findall(r'href="([^"]*/papers/[^"]+)"', client.get(at("papers")).text)]
    assert all(client.get(link).status_code == 200 for link in papers)
    assert len(papers) > 2 * len(plan.carts)
    for number in ODD:
        [page] = [text for text in pages if f"<h1>Cart {escaped(number)}</h1>" in text]
        form = fields_of(page) | {"by": "QX", "state": "done"}
        work = work_of(odd_evening, client.post(pages[page], data=form).headers["location"])
        assert isinstance(work.result, FormTold), (number, work.refused)
        assert carts_told(odd_evening.folder, plan.day).built[number].by == "QX"
        tried = client.post(at("try"), data={"token": DOOR.token, "0-case": number, "0-time": "19:45"})
        work = work_of(odd_evening, tried.headers["location"])
        assert isinstance(work.result, TriedChanges), (number, work.refused)
        [edit] = work.result.answer.tried.edits
        assert edit.case == number
        assert escaped(number) in client.get(at(work.next)).text
        why = client.get(at("why"), params={"case": number, "thing": "T-BASIC"})
        assert why.status_code == 200, number


def escaped(text: str) -> str:
    """As a page holds it."""
    signs = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&#34;", "'": "&#39;"}
    return "".join(signs.get(sign, sign) for sign in text)


def test_a_case_that_is_not_there_is_no_page(odd_evening: Desk) -> None:
    client = client_of(odd_evening)
    for number in ("", "C", "C 4121 ", "../C 4121", "\x00"):
        assert client.get(at("carts/case"), params={"case": number}).status_code == 404, number
