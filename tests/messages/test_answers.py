"""Acknowledgements follow the rule of HL7 v2.9.1, 2.8.2 and 2.8.3 (original and enhanced mode)."""

from __future__ import annotations

from datetime import UTC, datetime

import hl7
import pytest

from picklist.messages.answers import answers_to
from picklist.messages.events import Answer
from tests.messages.words import siu, taken

NOW = datetime(2026, 11, 25, 21, 0, 5, tzinfo=UTC)


def answered(text: str, answer: Answer | None = None, *, original: bool = False) -> list[hl7.Message]:
    one = taken(text)
    assert one.header is not None
    made = answers_to(one.header, answer or one.answer, NOW, "A1", original=original, place=one.place)
    return [hl7.parse(each) for each in made]


def test_that_the_answer_swaps_the_applications_and_keeps_processing_and_version() -> None:
    (ack,) = answered(siu())
    msh, msa = ack.segment("MSH"), ack.segment("MSA")
    assert [str(msh[n]) for n in (3, 4, 5, 6)] == ["PL", "H", "ORSYS", "H"]
    assert [str(msh[n]) for n in (7, 9, 10, 11, 12)] == ["20261125210005+0000", "ACK^S12^ACK", "A1", "P", "2.5"]
    assert [str(msa[n]) for n in (1, 2)] == ["AA", "MSG1"]


@pytest.mark.parametrize(("version", "kind"), [("2.3", "ACK"), ("2.3.1", "ACK^S12^ACK"), ("2.8", "ACK^S12^ACK")])
def test_that_the_structure_is_named_from_version_2_3_1_on(version: str, kind: str) -> None:
    assert str(answered(siu(version=version))[0].segment("MSH")[9]) == kind


def test_that_an_error_names_the_field_and_no_value() -> None:
    (ack,) = answered(siu(filler="", more="ZZZ|WRENFIELD"))
    assert str(ack.segment("MSA")[1]) == "AE"
    assert str(ack.segment("ERR")[2]) == "SCH^1^1"
    assert "WRENFIELD" not in str(ack)


@pytest.mark.parametrize(
    ("accept", "application", "answer", "codes"),
    [
        ("", "", Answer.ACCEPT, ["AA"]),
        ("", "", Answer.REJECT, ["AR"]),
        ("AL", "NE", Answer.ACCEPT, ["CA"]),
        ("AL", "NE", Answer.ERROR, ["CE"]),
        ("AL", "NE", Answer.REJECT, ["CR"]),
        ("AL", "AL", Answer.ACCEPT, ["CA", "AA"]),
        ("ER", "NE", Answer.ACCEPT, []),
        ("ER", "NE", Answer.ERROR, ["CE"]),
        ("SU", "SU", Answer.ERROR, []),
        ("NE", "AL", Answer.ACCEPT, ["AA"]),
        ("NE", "NE", Answer.REJECT, []),
    ],
)
def test_that_each_mode_answers_as_the_sender_asks(
    accept: str, application: str, answer: Answer, codes: list[str]
) -> None:
    found = answered(siu(accept=accept, application=application), answer)
    assert [str(one.segment("MSA")[1]) for one in found] == codes


def test_that_a_listener_can_answer_in_original_mode_always() -> None:
    found = answered(siu(accept="AL", application="NE"), original=True)
    assert [str(one.segment("MSA")[1]) for one in found] == ["AA"]


def test_that_the_answer_uses_the_senders_own_separators() -> None:
    one = taken(siu().replace("^~\\&", "%!?$").replace("|", "*").replace("^", "%"))
    assert one.header is not None
    text = answers_to(one.header, one.answer, NOW, "A1")[0]
    assert text.startswith("MSH*%!?$*PL*H*ORSYS*H*")
    assert "\rMSA*AA*MSG1\r" in text
