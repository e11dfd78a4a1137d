"""The command writes calendars of what was built, and what a later build changes or drops is changed or cancelled."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
import vobject

from picklist.tasks.errors import WrongUse
from picklist.tasks.exports import write_calendars
from tests.tasks.test_cancelled_day import at, build, folder


def events(out: Path, name: str) -> dict[str, Any]:
    calendar = vobject.readOne((out / name).read_text(encoding="utf-8"))
    return {one.summary.value: one for one in calendar.contents.get("vevent", ())}


def write(where: Path, now: datetime) -> tuple[str, ...]:
    return write_calendars(where / "site", where / "calendars", now)[0]


def test_that_a_case_that_is_cancelled_in_a_later_schedule_is_cancelled_in_its_rooms_calendar(tmp_path: Path) -> None:
    folder(tmp_path, "planned")
    build(tmp_path)
    assert set(write(tmp_path, at("18:05"))) == {"Department.ics", "Coordinator.ics", "Room OR 1.ics", "Room OR 2.ics"}
    first = events(tmp_path / "calendars", "Room OR 1.ics")["M1: cart complete"]
    assert first.status.value == "CONFIRMED"
    folder(tmp_path, "cancelled")
    build(tmp_path, "21:00")
    write(tmp_path, at("21:05"))
    later = events(tmp_path / "calendars", "Room OR 1.ics")["M1: cart complete"]
    assert (later.status.value, later.sequence.value, later.uid.value) == ("CANCELLED", "1", first.uid.value)
    assert later.dtstamp.value > first.dtstamp.value


def test_that_a_site_without_lists_and_a_folder_of_others_are_refused(tmp_path: Path) -> None:
    folder(tmp_path, "planned")
    with pytest.raises(WrongUse, match="no lists were built"):
        write(tmp_path, at("18:05"))
    build(tmp_path)
    (tmp_path / "calendars").mkdir()
    (tmp_path / "calendars" / "holidays.ics").write_text("mine", encoding="utf-8")
    with pytest.raises(WrongUse):
        write(tmp_path, at("18:05"))
    assert (tmp_path / "calendars" / "holidays.ics").read_text(encoding="utf-8") == "mine"
