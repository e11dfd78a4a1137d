"""Whatever the order of arrival, messages make one schedule: the one of their own times."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import lru_cache
from itertools import permutations

from hypothesis import given, settings
from hypothesis import strategies as st

from picklist.messages.events import Event
from picklist.messages.history import Kept, outdated
from tests.messages.words import ARRIVED, CODES, SETTINGS, code, event, kinds, only_row, schedule, siu
from tests.patience import tries

WEEK = datetime(2026, 11, 23, 6, 0)  # noqa: DTZ001 (a wall time)


def test_that_a_reschedule_that_comes_first_still_wins() -> None:
    booked = siu(msh7="20261125100000")
    moved = siu("S13", msh7="20261125110000", control="MSG2", start="20261126103000", places="AIL|1||^OR2")
    for order in permutations((booked, moved)):
        row = only_row(*order)
        assert (str(row["start"]), row["room"]) == ("10:30:00", "OR 2")


def test_that_a_cancellation_before_its_late_booking_stays() -> None:
    booked = siu(msh7="20261125100000")
    cancelled = siu("S15", msh7="20261125110000", control="MSG2", services="", places="", people="")
    for order in permutations((booked, cancelled)):
        assert only_row(*order)["status"] == "cancelled"


def test_that_a_new_booking_after_a_cancellation_stands() -> None:
    cancelled = siu("S15", msh7="20261125110000", control="MSG2")
    again = siu(msh7="20261125120000", control="MSG3")
    assert only_row(siu(msh7="20261125100000"), cancelled, again)["status"] == "planned"


def test_that_a_deleted_case_leaves_the_schedule_and_an_unknown_one_makes_no_row() -> None:
    assert schedule(siu(msh7="20261125100000"), siu("S17", control="MSG2"))[0] == []
    rows, problems = schedule(siu("S15"))
    assert rows == []
    assert kinds(problems) == {"unknown appointment"}
    assert schedule(siu("S14"))[0] != []
    assert "unknown appointment" in kinds(schedule(siu("S14"))[1])


def test_that_what_a_change_does_not_send_stays_and_what_it_deletes_goes() -> None:
    changed = siu("S14", msh7="20261125130000", control="MSG2", start="", minutes="", services="", people="")
    row = only_row(siu(), changed)
    assert (str(row["start"]), row["minutes"], row["surgeon"], row["procedures"]) == ("07:30:00", 90, "S01", ("KNEE",))
    deleted = siu("S14", msh7="20261125130000", control="MSG2", minutes='""')
    assert only_row(siu(), deleted)["minutes"] is None


def test_that_action_codes_change_single_parts() -> None:
    two = "AIS|1|A|29881\rAIS|2|A|49505"
    removed = siu("S14", msh7="20261125130000", control="MSG2", services="AIS|1|D|29881", places="", people="")
    assert only_row(siu(services=two), removed)["procedures"] == ("HERNIA",)
    added = siu("S18", msh7="20261125130000", control="MSG2", services="AIS|2||49505", places="", people="")
    assert only_row(siu(), added)["procedures"] == ("KNEE", "HERNIA")
    gone = siu("S20", msh7="20261125140000", control="MSG3", services="AIS|2||49505", places="", people="")
    assert only_row(siu(), added, gone)["procedures"] == ("KNEE",)


def test_that_all_parts_without_action_codes_are_the_whole() -> None:
    fewer = siu("S14", msh7="20261125130000", control="MSG2", services="AIS|1||49505")
    assert only_row(siu(services="AIS|1||29881\rAIS|2||49505"), fewer)["procedures"] == ("HERNIA",)


def test_that_a_new_booking_says_anew_for_what_reason() -> None:
    """The procedure of the first one stood in its reason alone; the second has none, so that its case must stop."""
    first = siu(msh7="20261125100000", services="").replace("ORSYS|||||||90", "ORSYS|||||29881||90")
    by_reason = code("SCH-7", "29881", "procedure", "KNEE")
    assert only_row(first, codes=(*CODES, by_reason))["procedures"] == ("KNEE",)
    again = siu(control="MSG2", services="")
    assert only_row(first, again, codes=(*CODES, by_reason))["procedures"] == ()


def test_that_equal_numbers_of_two_systems_are_two_cases() -> None:
    rows, _ = schedule(siu(), siu(control="MSG2", filler="77001^OTHER"))
    assert len({row["case"] for row in rows}) == 2


def test_that_a_placers_number_finds_the_case_of_the_filler() -> None:
    booked = siu(placer="P9^WARD", msh7="20261125100000")
    cancelled = siu("S15", placer="P9^WARD", filler="", control="MSG2")
    for order in permutations((booked, cancelled)):
        assert only_row(*order)["status"] == "cancelled"


def test_that_a_constant_in_the_placers_place_joins_nothing() -> None:
    rows, _ = schedule(siu(placer="1"), siu(placer="1", filler="77002^ORSYS", control="MSG2"))
    assert [row["case"] for row in rows] == ["77001", "77002"]


def test_that_two_messages_of_one_second_are_named() -> None:
    moved = siu("S13", control="MSG2", start="20261126103000")
    assert "same time" in kinds(schedule(siu(), moved)[1])


def test_that_an_offset_of_the_messages_own_time_orders_it() -> None:
    booked = siu(msh7="20261125120000-0600")
    earlier = siu("S13", msh7="20261125123000-0500", control="MSG2", start="20261126103000")
    assert str(only_row(earlier, booked)["start"]) == "07:30:00"


@lru_cache
def shape(trigger: str, services: str, places: str) -> Event:
    """An event of that kind, read once; the rest is set for each message."""
    return event(siu(trigger, services=services, places=places))


def a_life(draw: random.Random, number: int) -> list[Event]:
    """Messages of one case over the week, at times of its own."""
    at = WEEK + timedelta(minutes=draw.randrange(6000), seconds=draw.randrange(60))
    day = WEEK.date() + timedelta(days=draw.randrange(1, 7))
    found = []
    for step in range(draw.randrange(1, 9)):
        trigger = "S12" if step == 0 else draw.choice(("S13", "S14", "S14", "S15", "S12", "S18", "S17"))
        at += timedelta(seconds=draw.randrange(1, 40_000))
        some = draw.random() < 0.4
        services = f"AIS|1|{draw.choice(('', 'A', 'U'))}|{draw.choice(('29881', '49505'))}" if some else ""
        places = f"AIL|1||^{draw.choice(('OR1', 'OR2'))}" if some or step == 0 else ""
        one = replace(
            shape(trigger, services, places),
            control=f"M{number}-{step}",
            filler=(str(70000 + number), "ORSYS"),
            at=at.isoformat(),
            start=f"{day}T{draw.randrange(7, 17):02d}:30:00" if trigger != "S14" or some else "",
            duration=str(draw.randrange(30, 300)) if some else "",
        )
        found.append(one)
    return found


@settings(max_examples=tries(25))
@given(st.integers(0, 10_000), st.randoms(use_true_random=False))
def test_that_any_order_of_a_few_cases_gives_one_schedule(seed: int, draw: random.Random) -> None:
    events = [one for number in range(3) for one in a_life(random.Random(seed + number), number)]
    shuffled = events.copy()
    draw.shuffle(shuffled)
    assert schedule(*shuffled)[0] == schedule(*events)[0]


def test_that_any_order_of_ten_thousand_messages_of_a_week_gives_one_schedule() -> None:
    draw = random.Random(7)
    events: list[Event] = []
    number = 0
    while len(events) < 10_000:
        events += a_life(draw, number)
        number += 1
    expected, _ = schedule(*events)
    assert len(expected) > 1000
    for _ in range(2):
        draw.shuffle(events)
        assert schedule(*events)[0] == expected
    assert schedule(*events, *events[:500])[0] == expected  # repeated ones change nothing


def test_that_a_code_added_later_does_not_let_an_old_message_overtake() -> None:
    old = siu(msh7="20261125100000", places="AIL|1||^OR9")
    new = siu("S13", msh7="20261125110000", control="MSG2", places="AIL|1||^OR2")
    codes = (code("AIL-3", "OR9", "room", "OR 9"), code("AIL-3", "OR2", "room", "OR 2"))
    assert only_row(old, new, codes=codes[1:])["room"] == "OR 2"
    assert only_row(old, new, codes=codes)["room"] == "OR 2"


def test_that_a_message_counts_no_more_once_all_of_its_case_is_over() -> None:
    """Moved from 26 Nov to 10 Dec: the first message stays with the second, which may come again or be changed."""
    moved = siu("S13", msh7="20261125130000", control="MSG2", start="20261210073000")
    other = siu(control="MSG3", filler="77002^ORSYS")
    kept = [Kept(serial=n, arrived=ARRIVED, event=event(text)) for n, text in enumerate((siu(), moved, other), start=1)]
    clock = SETTINGS.site_clock
    assert [outdated(kept, clock, date(2026, *day)) for day in ((11, 26), (11, 27), (12, 10), (12, 11))] == [
        [], [3], [3], [1, 3, 2],
    ]  # fmt: skip
