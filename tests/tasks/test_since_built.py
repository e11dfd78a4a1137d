"""The morning after the schedule changed and nobody built again: what is cancelled is no cart to deliver."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pytest

from picklist.evening.since_built import Gone
from picklist.tasks.build import Wanted, build_day
from picklist.tasks.morning import Morning, print_morning
from tests.cli.run import FINE, run
from tests.tasks.small_folder import tell_by_scans, write_folder

THURSDAY, FRIDAY = date(2026, 11, 26), date(2026, 11, 27)
ROWS = [f"M{n},2026-11-26,OR {n},{6 + n:02d}:30,60,S{n},P1,none,planned" for n in (1, 2, 3)]
M1, M2, M3 = ROWS
SETS = "set,tray,side,state,in case,place\n" + "".join(f"WR-0{n},T-WR,,on shelf,,A-1-{n}\n" for n in range(1, 6))


def at(wall: str, day: int = 25) -> datetime:
    return datetime.strptime(f"2026-11-{day} {wall}", "%Y-%m-%d %H:%M")  # noqa: DTZ007 (site wall time)


def write(where: Path, *rows: str) -> None:
    write_folder(where / "site", *rows, Sets=SETS)


@pytest.fixture
def where(tmp_path: Path) -> Path:
    """Three carts for Thursday; the first is built, the second started."""
    write(tmp_path, *ROWS)
    stages: list[str] = []
    wanted = Wanted(folder=tmp_path / "site", out=tmp_path / "out", now=at("18:00"), with_chance=False)
    build_day(wanted, stages.append)
    tell_by_scans(tmp_path / "site", ["CART M1", "BY ab", "WR-01", "DONE"], at("20:00"), THURSDAY)
    tell_by_scans(tmp_path / "site", ["CART M2", "BY ab", "WR-02"], at("20:10"), THURSDAY)
    return tmp_path


def morning(where: Path) -> Morning:
    return print_morning(where / "site", where / "morning.pdf", at("06:00", 26), THURSDAY)


def gone(found: Morning) -> list[tuple[str, Gone, str]]:
    return [(one.case.number, one.why, one.state) for one in found.points.since.gone]


def to_finish(found: Morning) -> list[str]:
    return [one.case for one in found.points.carts]


def test_a_schedule_that_did_not_change_is_not_mentioned(where: Path) -> None:
    found = morning(where)
    assert not found.points.since
    assert (to_finish(found), found.notices) == (["M2", "M3"], ())


def test_a_day_wholly_cancelled_leaves_no_cart_and_gives_the_put_backs(where: Path) -> None:
    write(where, *(row.replace("planned", "cancelled") for row in ROWS))
    found = morning(where)
    assert gone(found) == [
        ("M1", Gone.CANCELLED, "built"),
        ("M2", Gone.CANCELLED, "started"),
        ("M3", Gone.CANCELLED, "not started"),
    ]
    points = found.points
    assert (points.carts, points.missing, points.sets, points.decisions, points.stopped) == ((), (), (), (), ())
    assert [(one.case, one.set_id, one.home) for one in points.put_backs] == [
        ("M1", "WR-01", "A-1-1"),
        ("M2", "WR-02", "A-1-2"),
    ]
    [said] = found.notices
    assert said.startswith("3 carts not counted, cases cancelled: M1 in OR 1")


def test_the_command_says_how_many_carts_are_not_to_be_delivered(where: Path) -> None:
    write(where, *(row.replace("planned", "cancelled") for row in ROWS))
    words = ("morning", str(where / "site"), "--out", str(where / "m.pdf"), "--now", "2026-11-26 06:00")
    code, said, _ = run(*words)
    assert code == FINE
    assert "0 carts to finish" in said
    assert "3 carts not counted, cases cancelled" in said
    assert run(*words)[1].splitlines()[:2] == said.splitlines()[:2], "a second page says the same"


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (M1.replace("planned", "cancelled"), Gone.CANCELLED),
        (M1.replace("11-26", "11-27"), Gone.OTHER_DAY),
        (M1.replace("planned", "done"), Gone.DONE),
        (M1.replace("planned", "running"), Gone.RUNNING),
        ("", Gone.NOT_THERE),
    ],
)
def test_a_case_that_needs_its_cart_no_more_is_named_with_the_reason(where: Path, row: str, why: Gone) -> None:
    write(where, *([row] if row else []), M2, M3)
    found = morning(where)
    assert [(case, reason) for case, reason, _ in gone(found)] == [("M1", why)]
    assert to_finish(found) == ["M2", "M3"]
    expected = {"M1"} if why in (Gone.CANCELLED, Gone.OTHER_DAY, Gone.NOT_THERE) else set()
    assert {one.case for one in found.points.put_backs} == expected


def test_a_case_moved_within_the_day_stays_counted_and_is_named(where: Path) -> None:
    write(where, M1.replace("07:30", "11:00"), M2, M3)
    found = morning(where)
    assert (gone(found), to_finish(found)) == ([], ["M2", "M3"])
    [said] = found.notices
    assert said == "1 case changed, list not yet: M1: now in OR 1 11:00, planned in OR 1 07:30"


def test_an_added_case_is_named_as_one_without_a_list(where: Path) -> None:
    write(where, *ROWS, "A9,2026-11-26,OR 2,13:00,60,S2,P1,none,planned")
    found = morning(where)
    assert to_finish(found) == ["M2", "M3"]
    assert "1 case without a list: A9 in OR 2 13:00" in found.notices


def test_a_row_that_cannot_be_read_is_no_cancelled_case(where: Path) -> None:
    write(where, M1.replace("07:30", "half past"), M2, M3)
    found = morning(where)
    assert (gone(found), found.points.since.unread, found.points.put_backs) == ([], ("M1",), ())


def test_a_row_that_was_unreadable_for_the_plan_and_is_read_again_at_another_time_is_a_case_without_a_list(
    where: Path,
) -> None:
    """M3's list is of the first plan; the second was built while its start could not be read."""
    write(where, M1, M2, M3.replace("09:30", "half past"))
    stages: list[str] = []
    build_day(Wanted(folder=where / "site", out=where / "out", now=at("21:00"), with_chance=False), stages.append)
    write(where, M1, M2, M3.replace("09:30", "11:00"))
    since = morning(where).points.since
    assert ([case.number for case in since.added], since.moved) == (["M3"], ())


def test_a_new_row_that_cannot_be_read_is_named(where: Path) -> None:
    write(where, *ROWS, "B9,2026-11-26,OR 2,nine,60,S2,P1,none,planned")
    assert "1 case without a list: B9: day, room or start is unreadable" in morning(where).notices


@pytest.mark.parametrize("harm", ["no folder", "no schedule", "no row of the day"])
def test_a_folder_that_cannot_be_read_is_said_and_the_page_is_of_what_is_kept(where: Path, harm: str) -> None:
    if harm == "no folder":
        (where / "site").rename(where / "elsewhere")
        (where / "site").write_text("no folder any more", encoding="utf-8")
    elif harm == "no schedule":
        (where / "site" / "Schedule.csv").write_bytes(b"\x00\x01\x02")
    else:
        write(where, *(row.replace("11-26", "11-27").replace("M", "F") for row in ROWS))
    found = morning(where)
    assert found.points.since.not_seen
    assert to_finish(found) == ["M2", "M3"]
    assert any(one.startswith("Not compared with the schedule: the ") for one in found.notices)
    assert (where / "morning.pdf").read_bytes().startswith(b"%PDF")
