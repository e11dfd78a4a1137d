"""Codes become rooms, people and procedures; what has no meaning stops its case and is named, never guessed."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import pytest

from picklist.problems import Problem, Severity
from picklist.settings import MessageMinutes, MessageTimes
from tests.messages.words import (
    CODES,
    LIKE_A_CONTRADICTION,
    LIKE_A_SURGICAL_S14,
    LIKE_CHAPTER_10,
    PUBLISHED_S12,
    code,
    event,
    kinds,
    only_row,
    schedule,
    siu,
)


def grave(problems: tuple[Problem, ...]) -> list[Problem]:
    return [one for one in problems if one.severity is not Severity.NOTICE]


def test_that_a_message_becomes_the_row_of_a_case() -> None:
    rows, problems = schedule(siu(people="AIP|1||Q77^QUILL\rAIP|2||N12^TARN"))
    assert problems == ()
    assert rows == [
        {
            "case": "77001",
            "day": date(2026, 11, 26),
            "start": time(7, 30),
            "room": "OR 1",
            "minutes": 90,
            "surgeon": "S01",
            "procedures": ("KNEE",),
            "side": ("right",),
            "team": ("N02",),
            "alerts": (),
            "status": "planned",
        }
    ]


@pytest.mark.parametrize(
    ("change", "cell", "place"),
    [
        ({"places": "AIL|1||^OR7"}, "room", "AIL 1, field AIL-3"),
        ({"people": "AIP|1||Q78"}, "surgeon", "AIP 1, field AIP-3"),
        ({"services": "AIS|1||29881\rAIS|2||29882"}, "procedures", "AIS 2, field AIS-3"),
    ],
)
def test_that_an_unknown_code_leaves_the_cell_empty_and_is_named(change: dict[str, str], cell: str, place: str) -> None:
    rows, problems = schedule(siu(**change))
    assert not rows[0][cell]
    (problem,) = problems
    assert (problem.kind, problem.where.file) == ("unknown code", f"message MSG1, {place}")
    assert problem.cases == ("77001",)
    assert problem.value in ("OR7", "Q78", "29882")
    assert problem.nearest


def test_that_one_unknown_code_of_many_cases_is_one_problem() -> None:
    rows, problems = schedule(*(siu(filler=f"7700{n}^X", control=f"M{n}", places="AIL|1||^OR7") for n in range(5)))
    assert len(rows) == 5
    assert len(problems) == 1
    assert len(problems[0].cases) == 5


def test_that_a_text_that_could_be_a_name_is_matched_but_never_shown() -> None:
    text = siu(people="AIP|1||WRENFIELD ODA")
    _, problems = schedule(text)
    assert "WRENFIELD" not in repr(problems)
    assert only_row(text, codes=(*CODES, code("AIP-3", "Wrenfield  Oda", "surgeon", "S02")))["surgeon"] == "S02"


def test_that_a_system_tells_equal_codes_apart() -> None:
    codes = (code("AIS-3", "29881", "nothing", system="LOCAL"), code("AIS-3", "29881", "procedure", "KNEE", "CPT"))
    assert only_row(siu(), codes=(*CODES[:4], *codes))["procedures"] == ("KNEE",)


def test_that_the_role_in_a_message_goes_before_the_one_in_codes() -> None:
    codes = (*CODES, code("AIP-4", "ASSIST1", "team"), code("AIP-3", "Q78", "surgeon", "S02"))
    row = only_row(siu(people="AIP|1||Q78|ASSIST1\rAIP|2||Q77"), codes=codes)
    assert (row["surgeon"], row["team"]) == ("S01", ("S02",))


def test_that_two_rooms_or_surgeons_are_nobodys_guess() -> None:
    codes = (*CODES, code("AIP-3", "Q78", "surgeon", "S02"))
    rows, problems = schedule(siu(places="AIL|1||^OR1\rAIL|2||^OR2", people="AIP|1||Q77\rAIP|2||Q78"), codes=codes)
    assert (rows[0]["room"], rows[0]["surgeon"]) == ("", "")
    assert kinds(problems) == {"several rooms", "several surgeons"}


def test_that_sides_follow_the_order_of_the_procedures() -> None:
    two = "AIS|1||29881||||||||LT\rAIS|2||49505||||||||RT"
    assert only_row(siu(services=two))["side"] == ("left", "right")
    assert only_row(siu(services="AIS|1||29881||||||||LT~RT"))["side"] == ("both",)
    assert only_row(siu(services="AIS|1||29881\rAIS|2||49505||||||||RT"))["side"] == ()


def test_that_a_standard_status_counts_whatever_its_case_and_a_local_one_by_codes() -> None:
    assert only_row(siu("S14", status="CANCELLED"))["status"] == "cancelled"
    assert only_row(siu(status="Complete"))["status"] == "done"
    rows, problems = schedule(siu(status="HOLD7"))
    assert (rows[0]["status"], kinds(problems)) == ("planned", {"unknown code"})
    known = (*CODES, code("SCH-25", "HOLD7", "status", "running"))
    assert only_row(siu(status="HOLD7"), codes=known)["status"] == "running"
    rows, problems = schedule(siu(status="Waitlist"))
    assert (rows, kinds(problems)) == ([], {"not booked"})


@pytest.mark.parametrize(
    ("change", "minutes", "said"),
    [
        ({"minutes": "90", "unit": "min"}, 90, set()),
        ({"minutes": "2", "unit": "hours"}, 120, set()),
        ({"minutes": "5400", "unit": "s"}, 90, set()),
        ({"minutes": "", "end": "20261126090000"}, 90, set()),
        ({"minutes": "60", "unit": "min", "end": "20261126081500"}, 60, {"two durations"}),
        ({"minutes": "60", "unit": ""}, 60, {"no unit"}),
        ({"minutes": "1800", "unit": ""}, 30, {"no unit"}),
        ({"minutes": "45", "unit": "", "end": "20261126081500"}, 45, set()),
        ({"minutes": "2700", "unit": "", "end": "20261126081500"}, 45, set()),
        ({"minutes": "", "services": "AIS|1||29881||30|min|75|min"}, 105, set()),
        ({"minutes": "", "more": "TQ1|1|||||30^M|20261126073000"}, 30, set()),
        ({"minutes": "90000", "unit": "min"}, None, {"strange duration"}),
        ({"minutes": ""}, None, set()),
    ],
)
def test_that_minutes_are_found_where_senders_put_them(
    change: dict[str, str], minutes: int | None, said: set[str]
) -> None:
    rows, problems = schedule(siu(**change))
    assert (rows[0]["minutes"], kinds(problems)) == (minutes, said)


def test_that_the_setting_says_what_a_duration_without_a_unit_is_in() -> None:
    rows, problems = schedule(siu(minutes="1200", unit=""), minutes=MessageMinutes.MINUTES)
    assert (rows[0]["minutes"], problems) == (1200, ())


def test_that_a_start_is_taken_from_the_services_where_the_appointment_has_none() -> None:
    assert str(only_row(siu(start="", services="AIS|1||29881|20261126081500|15|min"))["start"]) == "08:15:00"
    _, problems = schedule(siu(services="AIS|1||29881|20261125073000"))
    assert "two starts" in kinds(grave(problems))


def test_that_a_start_without_an_offset_is_the_sites_wall_clock_unless_set_otherwise() -> None:
    sent = siu(msh7="20261125120000-0500")  # the site has -0600 in November
    rows, problems = schedule(sent)
    assert (str(rows[0]["start"]), kinds(problems)) == ("07:30:00", {"other offset"})
    rows, problems = schedule(sent, times=MessageTimes.AS_SENT)
    assert (str(rows[0]["start"]), problems) == ("06:30:00", ())
    assert str(only_row(siu(start="20261126133000+0000"))["start"]) == "07:30:00"


def test_that_old_cases_leave_the_schedule() -> None:
    assert schedule(siu(msh7="20261101120000", start="20261110073000"))[0] == []


def test_that_the_example_of_chapter_10_is_read_by_its_field_table_and_not_by_itself() -> None:
    """Status, place and person stand one field off there: what the table names is empty, which stops the case."""
    rows, problems = schedule(LIKE_CHAPTER_10)
    assert [(row["case"], str(row["start"]), row["minutes"], row["status"]) for row in rows] == [
        ("51207", "10:00:00", 30, "planned")
    ]
    assert (rows[0]["room"], rows[0]["surgeon"], rows[0]["procedures"]) == ("", "", ())
    assert kinds(grave(problems)) == {"unknown code", "no procedure"}
    assert {one.where.file for one in problems if one.kind == "unknown code"} == {
        "message 81016, AIL 1, field AIL-3",
        "message 81016, AIP 1, field AIP-3",
    }


def test_that_a_surgical_message_keeps_all_its_services_and_names_what_contradicts() -> None:
    rows, problems = schedule(LIKE_A_SURGICAL_S14)
    assert [(row["room"], row["surgeon"], row["procedures"], row["team"], row["minutes"]) for row in rows] == [
        ("OR 1", "S01", ("KNEE", "HERNIA"), ("N02",), 379)
    ]
    assert "two starts" in kinds(grave(problems))
    assert all("4829130" not in str(one) for one in problems)


def test_that_durations_and_days_that_contradict_one_another_are_named() -> None:
    rows, problems = schedule(LIKE_A_CONTRADICTION)
    assert [(str(row["start"]), row["minutes"], row["room"], row["surgeon"]) for row in rows] == [
        ("08:30:00", 60, "OR 1", "S01")
    ]
    assert {"two durations", "two starts"} <= kinds(problems)


def test_that_the_published_example_needs_its_codes_first() -> None:
    old = PUBLISHED_S12.replace("20150613", "20261126").replace("20150601", "20261125").replace("20160621", "20271126")
    rows, problems = schedule(old)
    assert (rows[0]["case"], rows[0]["minutes"], rows[0]["room"]) == ("13030", 15, "")
    assert kinds(grave(problems)) == {"unknown code", "no procedure", "not a time"}
    codes = (code("AIL-3", "MainOffi", "room", "OR 1"), code("AIP-3", "JPULLEN1", "surgeon", "S01"))
    row = only_row(old, codes=codes)
    assert (row["room"], row["surgeon"]) == ("OR 1", "S01")


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        ("20261126130000+0000", "cancelled"),  # 07:00 here, before the start at 07:30
        ("20261126140000+0000", "done"),
        ("20261126071500-0800", "done"),  # 09:15 here
        ("20261126070000", "cancelled"),
    ],
)
def test_that_a_case_is_stopped_before_or_after_its_start_by_the_clock_here(sent: str, status: str) -> None:
    assert only_row(siu(), siu("S16", msh7=sent))["status"] == status


def test_that_a_stop_without_a_time_of_its_own_counts_from_its_arrival() -> None:
    stopped = replace(event(siu("S16")), at="")  # arrives the evening before
    assert only_row(siu(), stopped)["status"] == "cancelled"
