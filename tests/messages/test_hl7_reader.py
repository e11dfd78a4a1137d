"""HL7 v2 messages are read as their own separators say, whatever the version, and refused by the standard's rule."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from picklist.messages.door import read_hl7_time
from picklist.messages.events import Answer, Part
from picklist.messages.hl7_reader import decode_message, split_file
from tests.messages.words import DOOR, PUBLISHED_S12, event, siu, taken


def test_that_the_published_example_is_read_as_it_stands() -> None:
    found = event(PUBLISHED_S12)
    assert (found.control, found.at, found.filler[0], found.placer[0]) == (
        "48907-45",
        "2015-06-01T14:58:23+01:00",
        "13030",
        "1209",
    )
    assert (found.start, found.end) == ("2015-06-13T14:00:00", "2016-06-21T14:15:00")
    assert (found.duration, found.unit, found.status[0].code) == ("15", "m", "Booked")
    assert [one.part for one in found.resources] == [Part.OTHER, Part.PLACE, Part.PERSON]
    person = found.resources[-1]
    assert person.codes[0].code == "JPULLEN1"
    assert (person.start, person.duration, person.duration_unit) == ("2019-04-23T14:00:00", "15", "m")


def test_that_any_separators_give_the_same_event() -> None:
    usual = siu(services="AIS|1||A7~B8^Knee^CPT")
    other = usual.replace("^~\\&", "%!?$").replace("|", "*").replace("^", "%").replace("~", "!")
    assert event(other).resources == event(usual).resources
    assert event(other).start == event(usual).start


def test_that_escapes_are_resolved_after_splitting() -> None:
    found = event(siu(services=r"AIS|1||A\T\7\S\1^Knee"))
    assert found.resources[0].codes[0].code == "A&7^1" or found.resources[0].codes[0].code.startswith("#")
    same = event(siu(services="AIS|1||A7")), event(siu(services=r"AIS|1||\X41\7"))
    assert same[0].resources[0].codes == same[1].resources[0].codes


def test_that_repetitions_and_alternatives_are_all_codes_of_one_service() -> None:
    found = event(siu(services="AIS|1||A7^a^X^B8^b^Y~C9"))
    assert [(one.code, one.system) for one in found.resources[0].codes][::2] == [
        ("A7", found.resources[0].codes[0].system),
        ("C9", ""),
    ]
    assert len(found.resources[0].codes) == 3


def test_that_each_group_keeps_its_own_services() -> None:
    more = "AIS|2||49505\rRGS|2\rAIS|1||00140\rAIP|1||N12"
    found = event(siu(more=more))
    assert [one.key for one in found.resources if one.part is Part.SERVICE] == ["1/AIS/1", "1/AIS/2", "2/AIS/1"]


def test_that_a_running_number_in_place_of_an_action_is_none() -> None:
    assert [one.action for one in event(siu(services="AIS|1|1|29881", places="AIL|1|U|^OR1")).resources[:2]] == [
        "",
        "U",
    ]


@pytest.mark.parametrize(
    ("change", "answer", "place"),
    [
        ({"filler": ""}, Answer.ERROR, "field SCH-1 or SCH-2"),
        ({"control": ""}, Answer.ERROR, "field MSH-10"),
        ({"msh7": "yesterday"}, Answer.ERROR, "field MSH-7"),
        ({"processing": "T"}, Answer.REJECT, "field MSH-11"),
        ({"processing": "D"}, Answer.REJECT, "field MSH-11"),
        ({"version": "3.0"}, Answer.REJECT, "field MSH-12"),
        ({"trigger": "S30"}, Answer.REJECT, "field MSH-9"),
    ],
)
def test_that_what_cannot_be_used_is_refused_with_its_field(change: dict[str, Any], answer: Answer, place: str) -> None:
    one = taken(siu(**change))
    assert (one.answer, one.place, one.event) == (answer, place, None)


@pytest.mark.parametrize("number", ["4829130", "MRN-4829130", "4829130-2", "A4829130"])
def test_that_an_appointments_number_made_of_the_patients_is_refused_until_numbers_are_hidden(number: str) -> None:
    """PID-3 is 4829130 in these messages; a message without PID could not be told from others, so none is kept."""
    one = taken(siu(filler=f"{number}^ORSYS"))
    assert (one.answer, one.place, one.event) == (Answer.ERROR, "field SCH-2", None)
    assert "hide message numbers" in one.why
    hidden = taken(siu(filler=f"{number}^ORSYS"), replace(DOOR, hide_ids=True))
    assert hidden.answer is Answer.ACCEPT
    assert "4829130" not in repr((hidden.event, hidden.control, hidden.appointment))


def test_that_a_message_id_made_of_the_patients_number_becomes_a_mark() -> None:
    one = taken(siu(control="482-4829130"))
    assert one.answer is Answer.ACCEPT
    assert "4829130" not in repr((one.event, one.control))
    assert taken(siu(control="48291305")).control == "48291305"


@pytest.mark.parametrize("version", ["2.3", "2.3.1", "2.4", "2.5", "2.5.1", "2.6", "2.7", "2.7.1", "2.8", "2.8.2"])
@pytest.mark.parametrize("trigger", [*(f"S{n}" for n in range(12, 23)), "S26", "S27"])
def test_that_each_event_of_each_version_is_taken(trigger: str, version: str) -> None:
    found = event(siu(trigger, version=version))
    assert (found.trigger, found.start, found.filler[0]) == (trigger, "2026-11-26T07:30:00", "77001")
    assert [one.part for one in found.resources] == [Part.SERVICE, Part.PLACE, Part.PERSON]


def test_that_a_part_of_a_longer_message_is_never_taken_for_the_whole() -> None:
    assert taken(siu(more="DSC|X7|F")).answer is Answer.ERROR


def test_that_unexpected_segments_and_fields_are_no_error() -> None:
    assert event(siu(more="ZPT|1|anything\rNTE|1||more")) == event(siu())
    assert event(siu(version="2.9")).start == event(siu()).start


def test_that_time_slots_are_accepted_and_make_no_case() -> None:
    one = taken(siu("S23"))
    assert (one.answer, one.event) == (Answer.ACCEPT, None)


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("202611260730", "2026-11-26T07:30:00"),
        ("20261126073015.0200+0100", "2026-11-26T07:30:15+01:00"),
        ("2026112607-0600", "2026-11-26T07:00:00-06:00"),
        ("20261126", ""),
        ("202611262400", ""),
        ("20261326073000", ""),
        ("19520304073000", ""),
        ("", ""),
    ],
)
def test_that_times_are_read_with_their_offset_and_need_an_hour(text: str, read: str) -> None:
    assert read_hl7_time(text) == read


def test_that_a_start_without_an_hour_is_said_and_left_out() -> None:
    found = event(siu(start="20261126"))
    assert (found.start, [one.kind for one in found.doubts]) == ("", ["not a time"])


def test_that_a_batch_a_file_and_a_row_of_messages_hold_the_same() -> None:
    two = siu(), siu(control="MSG2")
    row = "\n".join(two)
    batch = "FHS|^~\\&|A\rBHS|^~\\&|A\r" + "\r".join(two) + "\rBTS|2\rFTS|1\r"
    assert split_file(row)[0] == split_file(batch)[0] == split_file("\x0b" + "\r\x1c\r\x0b".join(two) + "\r\x1c\r")[0]
    assert split_file(batch)[1] == []
    assert [one.kind for one in split_file(batch.replace("BTS|2", "BTS|3"))[1]] == ["batch count"]


def test_that_no_byte_of_a_name_refuses_a_message() -> None:
    latin = siu(more="NTE|1||Müller").encode("cp1252")
    assert taken(decode_message(latin)).answer is Answer.ACCEPT


@settings(deadline=None)
@given(st.text(alphabet='MSHSCHAIL|^~\\&\r12A"*#%\x0b', max_size=120))
def test_that_any_text_is_answered(text: str) -> None:
    for whole in (text, f"MSH{text}", siu() + "\r" + text, siu(filler=text.replace("\r", ""))):
        assert taken(whole).answer in Answer


def test_that_a_file_without_a_line_end_may_be_cut_off() -> None:
    """Cut between two people, a message reads as whole, and the list would lack the gloves of the second one."""
    whole = siu(people="AIP|1||Q77^QUILL^A\rAIP|2||N12^TARN^C") + "\r"
    assert split_file(whole)[1] == []
    assert [(one.kind, one.grave) for one in split_file(whole[: whole.index("\rAIP|2")])[1]] == [("no line end", False)]
