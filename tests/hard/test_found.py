"""What spoiled inputs have found, one by one: each is answered or reported where it stands."""

from __future__ import annotations

import json
import re
from pathlib import Path

import openpyxl
import pytest

from picklist.letters import natural_key, whole_number
from picklist.messages.events import Answer
from picklist.messages.take import take_fhir
from picklist.model.built import read_cart_code
from picklist.tables.file_safety import DAMAGED
from picklist.tables.nearest import Candidates
from picklist.tables.workbooks import read_sheets, sheet_names
from picklist.tasks.offices import take_cards
from tests.hard.evening import APPOINTMENT, NOW
from tests.messages.words import DOOR
from tests.tables.packages import alter_part
from tests.upkeep.clinic import write_clinic
from tests.upkeep.office import send

THOUSANDS = "9" * 5000  # digits; Python reads no number of more than 4,300
NO_ENCODING = '<?xml version="1.0" encoding="x-none"?>'


def test_a_number_of_thousands_of_digits_is_no_number_anybody_typed() -> None:
    assert [whole_number(text) for text in ("12", "007", "", "-1", "²", "٣", THOUSANDS)] == [12, 7, *[None] * 5]
    assert read_cart_code("C-1.R2") == ("C-1", 2)
    assert read_cart_code(f"C-1.R{THOUSANDS}") is None
    assert sorted([f"A{THOUSANDS}", "A2", "A10"], key=natural_key)[:2] == ["A2", "A10"]
    (one,) = take_fhir(f'{{"resourceType": "Appointment", "minutesDuration": {THOUSANDS}}}', DOOR)
    assert one.answer is Answer.ERROR


def test_half_a_character_in_a_message_is_a_question_mark() -> None:
    """A JSON text may name one half of a pair; whole pairs stay as they are."""
    coded = r'{"system": "\ud800", "code": "OK-\uD83D\uDE00"}'
    entry = json.dumps(APPOINTMENT).replace(json.dumps(APPOINTMENT["serviceType"][0]["coding"][0]), coded)
    assert coded in entry
    broken, clean = (take_fhir(one, DOOR)[0] for one in (entry, entry.replace(r"\ud800", "?")))
    assert broken.event == clean.event is not None


def test_a_word_without_an_end_is_near_nothing_and_takes_no_time() -> None:
    """A scanner that sticks sends hundreds of thousands of signs; looking for one slip takes the square of them."""
    known = Candidates({"KNEE": "Knee repair", "K" * 300_000: ""})
    assert known.nearest("x" * 300_000) == ()
    assert known.nearest("k" * 300_000) == ("K" * 300_000,)
    assert known.nearest("KNE") == ("KNEE",)


def test_an_office_workbook_with_a_broken_part_is_sent_again(tmp_path: Path) -> None:
    """Its cells can be read, but no copy can be marked and sent back."""
    clinic = write_clinic(tmp_path / "clinic")
    book = send(clinic, tmp_path / "quill.xlsx")
    assert take_cards(clinic, book, NOW, ours=True).compared
    alter_part(book, "docProps/core.xml", lambda xml: re.sub(r">[0-9]{4}-[^<]*<", ">26 Nov<", xml))
    back = take_cards(clinic, book, NOW, ours=True)
    assert [(one.kind, one.where.file) for one in back.problems] == [(DAMAGED.kind, "quill.xlsx")]
    assert not back.compared


@pytest.mark.parametrize("part", ["xl/workbook.xml", "xl/worksheets/sheet1.xml", "xl/styles.xml"])
def test_a_part_in_an_encoding_that_there_is_not_is_read_or_damage(part: str, tmp_path: Path) -> None:
    book = workbook(tmp_path / "a.xlsx")
    alter_part(book, part, lambda xml: NO_ENCODING + re.sub(r"^<[?].*?[?]>", "", xml))
    _, fault = sheet_names(book)
    sheets, faults = ([], [("", fault)]) if fault else read_sheets(book, lambda _: True)
    assert [one for _, one in faults] == [DAMAGED] or [sheet.rows for sheet in sheets] == [[["case"], ["C-1"]]]


def test_a_part_whose_name_is_no_text_is_damage(tmp_path: Path) -> None:
    book = workbook(tmp_path / "a.xlsx")
    data = book.read_bytes()
    where = data.rindex(b"PK\x01\x02")  # the last part in the list at the end of the file
    flags = data[: where + 8] + b"\x00\x08" + data[where + 10 :]  # its name is said to be UTF-8
    book.write_bytes(flags[: where + 46] + b"\xc5" + flags[where + 47 :])
    assert sheet_names(book) == ((), DAMAGED)


def workbook(path: Path) -> Path:
    book = openpyxl.Workbook()
    sheet = book.create_sheet("A", 0)
    sheet["A1"], sheet["A2"] = "case", "C-1"
    del book["Sheet"]
    book.save(path)
    return path
