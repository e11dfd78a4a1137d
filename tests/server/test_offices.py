"""An office's workbook goes out, comes back with a mistake, and what is clear in it waits for someone's word."""

from __future__ import annotations

import io
from pathlib import Path

import openpyxl
import pytest
from starlette.testclient import TestClient

from picklist.model.cards import ThingKind
from picklist.server.desk import Desk
from picklist.server.work import Lane
from picklist.tasks.office_desk import look_at_offices
from picklist.tasks.offices import ApprovalResult, TakenBack
from picklist.tasks.read_folder import load_folder
from picklist.upkeep.proposals import CardChange
from picklist.upkeep.slots import RowKey
from tests.server.office_book import asking, filled, first_card
from tests.server.site import DOOR, NOW, at, client_of, ended, work_of
from tests.server.test_files_in import swelling_workbook
from tests.upkeep.office import forget_sent, row_of

SURGEON = "S01"


def sent(client: TestClient) -> bytes:
    """The workbook of Dr. Quill's office, as the page gives it."""
    answer = client.post(at("offices/workbook"), data={"token": DOOR.token, "office": SURGEON})
    assert answer.status_code == 200, answer.text
    assert "attachment" in answer.headers["content-disposition"]
    content: bytes = answer.content
    return content


def hand_back(desk: Desk, content: bytes, page: str = "offices", name: str = "Dr Quill.xlsx") -> tuple[TakenBack, str]:
    """What a return comes to, and its page."""
    client = client_of(desk)
    answer = client.post(at(page), data={"token": DOOR.token}, files={"file": (name, content)})
    work = work_of(desk, answer.headers["location"])
    assert isinstance(work.result, TakenBack), work.refused
    return work.result, at(work.next)


@pytest.mark.parametrize("page", ["offices", "input"])
def test_a_mistyped_quantity_goes_back_marked_wherever_the_workbook_was_dropped(fresh: Desk, page: str) -> None:
    client = client_of(fresh)
    taken, result = hand_back(fresh, filled(sent(client), open="two or so"), page)
    assert taken.back is not None
    text = client.get(result).text
    assert "two or so" not in text  # a page names the place; what was typed could be anything
    assert "(Open)" in text
    assert "Dr. Quill (S01)" in text
    marked = client.get(f"{result}/workbook")
    assert "to%20fix" in marked.headers["content-disposition"]
    book = openpyxl.load_workbook(io.BytesIO(marked.content))
    sheet, item = first_card(book)
    cell = sheet.cell(row_of(sheet, item), 3)
    assert cell.value == "two or so"
    assert cell.comment is not None


def test_a_clean_change_waits_and_counts_only_once_it_is_approved(fresh: Desk) -> None:
    client = client_of(fresh)
    cards = (fresh.folder / "cards.xlsx").read_bytes()
    taken, result = hand_back(fresh, filled(sent(client), open=7))
    assert taken.back is None
    assert taken.proposal is not None
    [change] = taken.proposal.changes
    assert change.after is not None
    assert change.after.open == 7
    assert "7 open" in client.get(result).text
    assert (fresh.folder / "cards.xlsx").read_bytes() == cards

    [waiting] = look_at_offices(fresh.folder, NOW).waiting
    way = f"offices/proposal/{waiting.proposal.id}/approve"
    form = {"token": DOOR.token, "number": "1", "reason": "asked for", "effective": "2026-11-25"}
    assert client.post(at(way), data=form | {"by": "R. Vane", "effective": "soon"}).status_code == 422
    nobody = client.post(at(way), data=form | {"by": " "})
    assert "enter who approves" in work_of(fresh, nobody.headers["location"]).refused
    answer = client.post(at(way), data=form | {"by": "R. Vane"})
    work = work_of(fresh, answer.headers["location"])
    assert not work.refused
    assert client.get(at(work.next)).headers["location"].startswith(at("offices"))

    site = load_folder(fresh.folder, NOW).site
    assert site is not None
    own = [line for line in site.card_lines if line.surgeon == SURGEON and line.thing == change.after.thing]
    assert any(line.open == 7 for line in own)
    desk = look_at_offices(fresh.folder, NOW)
    assert not desk.waiting
    assert "R. Vane" in desk.history[0][0]


def test_a_proposal_can_be_weighed_and_rejected_with_a_reason(fresh: Desk) -> None:
    client = client_of(fresh)
    taken, _ = hand_back(fresh, filled(sent(client), open=7))
    assert taken.proposal is not None
    way = f"offices/proposal/{taken.proposal.id}"
    answer = client.post(at(f"{way}/effect"), data={"token": DOOR.token})
    work = work_of(fresh, answer.headers["location"])
    assert "cart C-" in client.get(at(work.next)).text
    said = {"token": DOOR.token, "by": "R. Vane", "reason": "one is enough"}
    assert client.post(at(f"{way}/reject"), data=said | {"reason": ""}).status_code == 422
    assert look_at_offices(fresh.folder, NOW).waiting
    assert client.post(at(f"{way}/reject"), data=said).status_code == 303
    assert not look_at_offices(fresh.folder, NOW).waiting
    assert "one is enough" in look_at_offices(fresh.folder, NOW).history[0][0]
    assert client.post(at(f"{way}/reject"), data=said).status_code == 422


def test_a_request_waits_on_the_page_until_it_is_answered(fresh: Desk) -> None:
    client = client_of(fresh)
    _, result = hand_back(fresh, asking(sent(client)))
    assert "Request 1: Soft retractor; not answered yet" in client.get(result).text
    [request] = look_at_offices(fresh.folder, NOW).requests
    assert request.text == "Soft retractor"
    way = at(f"offices/request/{request.number}/answer")
    said = {"token": DOOR.token, "by": "R. Vane", "answer": "ordered"}
    assert client.post(way, data=said | {"by": ""}).status_code == 422
    assert client.post(way, data=said).status_code == 303
    assert not look_at_offices(fresh.folder, NOW).requests
    assert client.post(at("offices/request/9/answer"), data=said).status_code == 422


def test_a_whole_approval_is_undone_on_the_page(fresh: Desk) -> None:
    client = client_of(fresh)
    taken, _ = hand_back(fresh, filled(sent(client), open=7))
    assert taken.proposal is not None
    said = {"token": DOOR.token, "by": "R. Vane", "reason": "mistaken", "effective": "2026-11-25", "number": "1"}
    answer = client.post(at(f"offices/proposal/{taken.proposal.id}/approve"), data=said)
    assert not work_of(fresh, answer.headers["location"]).refused
    answer = client.post(at("offices/undo"), data=said | {"whole": "yes"})
    assert not work_of(fresh, answer.headers["location"]).refused
    assert "undoes 1" in look_at_offices(fresh.folder, NOW).history[0][0]


def test_a_workbook_without_a_record_is_taken_once_somebody_says_it_is_ours(fresh: Desk) -> None:
    client = client_of(fresh)
    content = filled(sent(client), open=7)
    forget_sent(fresh.folder)
    taken, result = hand_back(fresh, content)
    assert not taken.compared
    assert "We sent it" in client.get(result).text
    answer = client.post(f"{result}/ours", data={"token": DOOR.token})
    again = work_of(fresh, answer.headers["location"]).result
    assert isinstance(again, TakenBack)
    assert again.proposal is not None


def test_a_name_that_keeps_no_cards_is_refused_with_the_nearest(fresh: Desk) -> None:
    answer = client_of(fresh).post(at("offices/workbook"), data={"token": DOOR.token, "office": "Dr. Quil"})
    assert answer.status_code == 422
    assert "did you mean" in answer.text


def test_what_is_no_office_workbook_is_said(fresh: Desk) -> None:
    taken, result = hand_back(fresh, (fresh.folder / "trays.xlsx").read_bytes())
    assert taken.proposal is None
    assert taken.problems
    assert "not taken in" in client_of(fresh).get(result).text


def test_proposals_are_found_by_their_name_only(fresh: Desk) -> None:
    client = client_of(fresh)
    (fresh.folder / "secret.json").write_text("{}")
    for name in ("..%2f..%2fsecret", "....secret", "%2e%2e"):
        answer = client.post(at(f"offices/proposal/{name}/reject"), data={"token": DOOR.token})
        assert answer.status_code in (404, 422), name
    assert (fresh.folder / "secret.json").exists()
    assert Path(fresh.folder / "cards.xlsx").exists()


def test_a_swelling_file_is_refused(fresh: Desk) -> None:
    taken, result = hand_back(fresh, swelling_workbook())
    assert taken.proposal is None
    assert "suspiciously large" in client_of(fresh).get(result).text


def test_a_change_that_is_on_the_card_already_is_said_to_be(fresh: Desk) -> None:
    """Approved in another window, or typed into the table by hand: nothing is written, and nothing is wrong."""
    item = RowKey(kind=ThingKind.ITEM, thing="100001")
    one = CardChange(number=1, procedure="HAND", slot=item, before=None, after=None)
    done = ApprovalResult(already=(one,))
    work = ended(fresh.workshop.start("Applying it", Lane.CHECK, lambda _: done, "offices/applied/{}"))
    client = client_of(fresh)
    answer = client.get(at(work.next))
    assert answer.status_code == 303
    assert "1 change is on the card already." in client.get(answer.headers["location"]).text
