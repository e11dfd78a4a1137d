"""The moment of a command: how it may be typed, what is said of a wrong one, and when it is asked about."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.main import get_command

from picklist.cli.command_line import app
from tests.cli.run import FINE, HOSPITAL, NOW, WRONG_USE, run
from tests.tasks.small_folder import write_folder

CASE = "M1,2026-11-26,OR 1,07:30,60,S1,P1,none,planned"
# Every command that takes --now and works on a schedule or on the papers of one.
COMMANDS = {
    "check": ("check", "{site}"),
    "build": ("build", "{site}", "--out", "{home}/out"),
    "why": ("why", "{site}", "M1", "T-WR"),
    "why a set": ("why", "{site}", "WR-01"),
    "try": ("try", "{site}", "cancel M1"),
    "carts": ("carts", "{site}", "{home}/papers/carts.xlsx"),
    "scan": ("scan", "{site}", "{home}/scans.txt"),
    "morning": ("morning", "{site}", "--out", "{home}/morning.pdf"),
    "calendar": ("calendar", "{site}", "--out", "{home}/calendars"),
    "used": ("used", "{site}", "{home}/papers/used.xlsx", "--day", "2026-11-26"),
    "settle": ("settle", "{site}", "--day", "2026-11-26"),
    "cards send": ("cards", "send", "{site}", "S1", "--out", "{home}/S1.xlsx"),
    "cards list": ("cards", "list", "{site}"),
    "cards history": ("cards", "history", "{site}"),
    "cards tidy": ("cards", "tidy", "{site}"),
}


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small site of which the lists were built once."""
    where = tmp_path_factory.mktemp("now")
    site = write_folder(where / "site", CASE)
    run("build", str(site), "--now", NOW, "--out", str(where / "papers"), "--no-chance")
    (where / "scans.txt").write_text("CART M1\nBY ab\n", encoding="utf-8")
    return where


def files(home: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in home.rglob("*") if path.is_file()}


@pytest.mark.parametrize("words", COMMANDS.values(), ids=COMMANDS)
@pytest.mark.parametrize("now", ["2062-11-25 18:00", "2001-11-25 18:00"])
def test_a_time_years_from_the_schedule_is_asked_about_by_every_command(
    home: Path, now: str, words: tuple[str, ...]
) -> None:
    said = [word.format(site=home / "site", home=home) for word in words]
    before = files(home)
    code, out, told = run(*said, "--now", now)
    assert code == WRONG_USE, out + told
    assert 'use --far as well. If not, correct the clock or use --now "2026-11-25 18:00"' in told
    assert files(home) == before
    assert "use --far as well" not in run(*said, "--now", now, "--far")[2]


def test_every_command_that_takes_a_time_can_be_told_that_it_is_meant() -> None:
    found = dict(all_commands(get_command(app)))
    asked = {name for name, one in found.items() if "now" in one}
    assert {"build", "check", "cards approve", "receive", "open"} <= asked
    without_a_schedule = {"blank", "demo", "headers"}  # they write a new site, or read only an export's headers
    assert {name for name in asked if "far" not in found[name]} == without_a_schedule


def all_commands(of: Any, name: str = "") -> Iterator[tuple[str, set[str | None]]]:
    """Each command by its words, with the names of what it takes."""
    for word, one in getattr(of, "commands", {}).items():
        yield from all_commands(one, f"{name} {word}".strip())
    yield name, {taken.name for taken in of.params}


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("tomorrow", 'use a day and a time, as "2026-11-25 18:00"'),
        ("2026-11-25", "the time is missing"),
        ("18:00", "the day is missing"),
        ("2026-11-31 18:00", 'did you mean "2026-11-30 18:00"?'),
        ("2026-25-11 18:00", 'did you mean "2026-11-25 18:00"?'),
        ("2026-11-25 25:00", 'did you mean "2026-11-25 01:00"?'),
        ("11/12/2026 18:00", 'did you mean "2026-12-11 18:00" or "2026-11-12 18:00"?'),
        ("2626-11-25 18:00", "is in the year 2626"),
    ],
)
def test_a_wrong_time_is_named_with_the_nearest_right_one(typed: str, says: str) -> None:
    code, _, told = run("check", str(HOSPITAL), "--now", typed)
    assert (code, says in told) == (WRONG_USE, True), told


def test_a_time_that_the_spring_change_skips_is_named_with_the_next_one_there_is(tmp_path: Path) -> None:
    """In Chicago the clock goes from 02:00 to 03:00 on 14 March 2027 (IANA time zone database)."""
    night = "M1,2027-03-14,OR 1,07:30,60,S1,P1,none,planned"
    settings = "setting,value\nsite,Example Hospital\ntime zone,America/Chicago\n"
    site = write_folder(tmp_path / "site", night, Settings=settings)
    code, _, told = run("check", str(site), "--now", "2027-03-14 02:30")
    assert (code, 'did you mean "2027-03-14 03:00"?' in told) == (WRONG_USE, True), told
    assert "did you mean" not in run("check", str(site), "--now", "2027-03-14 03:00")[2]
    assert "did you mean" not in run("check", str(site), "--now", "2027-03-14T02:30-06:00")[2]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("Thursday", "use a day, as 2026-11-26"),
        ("2026-11-31", "did you mean 2026-11-30?"),
        ("11/12/2026", "did you mean 2026-12-11 or 2026-11-12?"),
    ],
)
def test_a_wrong_day_is_named_with_the_nearest_right_one(typed: str, says: str) -> None:
    code, _, told = run("build", str(HOSPITAL), "--out", "x", "--now", NOW, "--day", typed)
    assert (code, says in told) == (WRONG_USE, True), told


@pytest.mark.parametrize(
    "typed", ["2026-11-25T18:00", "2026-11-25 18:00:00", "2026-11-26T00:00Z", "25 Nov 2026 6 pm", "25.11.2026 18:00"]
)
def test_a_time_may_be_typed_in_any_form_that_can_be_read_in_one_way_only(tmp_path: Path, typed: str) -> None:
    site = tmp_path / "hospital"
    shutil.copytree(HOSPITAL, site)
    assert run("check", str(site), "--now", typed)[0] == FINE
