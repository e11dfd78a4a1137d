"""Texts that look as if they told who the patient is, and texts that only look so to a careless eye."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from picklist.tables.private import LABELLED, LETTERS, PHONE, PROVIDER, WORDS, Kind, looks_private

TODAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    "text",
    [
        "MRN 12345",
        "mrn: A-77",
        "dob 3/4",
        "Date of Birth known",
        "med rec 5512",
        "chart no 12",
        "patient: Adams",
        "pt. Adams",
        "Mrs Adams",
        "12345678",
        "123-45-6789",
        "3/4/1957",
        "04.03.57",
        "1957-03-04",
        "2026-11-25",  # could be a newborn
        "Zebedee Quimbly, 72 y",
        "Quimbly, Zebedee 74y",
        "Zebedee Quimbly (age 74)",
        "Zebedee Quimbly aged 74",
        "Mr. QUIMBLY",
        "MR QUIMBLY",
        "mr quimbly",
        "QUIMBLY^ZEBEDEE",
        "Name: Zebedee Quimbly",
        "ask z.q@example.org",
    ],
)
def test_suspects(text: str) -> None:
    assert looks_private(text, TODAY)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "bring the spare battery",
        "patient is tall",
        "pt has a pacemaker",
        "second case in OR 12",
        "loan set comes 2026-11-26",
        "loan set comes 27/11/2026",
        "call 4471 before start",
        "suture 2-0 and 3-0, 75 cm",
        "Dr. Quill wants the long drill",
        "MR conditional implant",
        "MR scan before",
        "Elastic Bandage 12",
        "Small Fragment Set 3 Y plates",
        "set name: Wrist",
    ],
)
def test_plain_notes(text: str) -> None:
    assert not looks_private(text, TODAY)


def test_that_a_cards_note_may_hold_a_catalogue_number() -> None:
    assert not looks_private("order 1002450071, agreed on 3/4/2025", TODAY, Kind.NOTE)
    assert looks_private("as for MRN 1", TODAY, Kind.NOTE)


def test_that_without_a_day_every_full_date_is_suspect() -> None:
    assert looks_private("2099-01-01")


@given(st.text(alphabet="aAbdDeEhlLmMnNoOpPrRsStT#.-+/0159 ", min_size=1, max_size=14))
@example("mrn77")
@example("m.r.n.4")
@example("+/EB")
@example("Mr Li")
def test_that_a_code_of_few_letters_is_looked_at_no_less(text: str) -> None:
    """Words are looked for only where three letters stand together, or several words: none tells whom with less."""
    looked_at = len(text.split()) > 1 or LETTERS.search(text)
    assert looked_at or not any(words.search(text) for words in (PROVIDER, LABELLED, WORDS, PHONE))
