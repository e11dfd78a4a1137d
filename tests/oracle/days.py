"""The days that the oracle knows, each as a folder of text files: what is planned, printed and said."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

from openpyxl import load_workbook
from typer.testing import CliRunner

from picklist.cli.command_line import app
from picklist.documents.plan_json import plan_from_json
from tests.board.days import big_day as day_of_200_cases
from tests.examples.test_examples import DAYS, lay_out, plan_of
from tests.kept import FOLDER, folder_once
from tests.oracle.facts import plan_lines
from tests.oracle.papers import cell_lines, html_lines, page_lines

SAMPLES = Path(__file__).parents[2] / "sample_inputs"
EVENING = "2026-11-25 18:00"
LATER = "2026-11-25 20:30"

Texts = dict[str, list[str]]


def sample_evening(folder: Path) -> Texts:
    """The sample's first build: plan, every page, every workbook, the board, and what the terminal says."""
    texts = {"build": _evening_built(folder)}
    return texts | {"check": _say("check", folder / "hospital", "--now", EVENING)} | _all_of(folder / "out")


def sample_revised(folder: Path) -> Texts:
    """The same evening after one case was cancelled and one moved: what changes, and the morning."""
    _evening_built(folder)
    site = folder / "hospital"
    _change_schedule(site / "schedule.xlsx")
    texts = {"build": _say("build", site, "--now", LATER, "--out", folder / "out", "--no-chance")}
    changed = ("changes.pdf", "evening.pdf", "pick-lists-changed.pdf")
    texts |= {name: page_lines(folder / "out" / name) for name in changed}
    said = _say("morning", site, "--now", "2026-11-26 05:00", "--out", folder / "morning.pdf")
    return texts | {"morning": said, "morning.pdf": page_lines(folder / "morning.pdf")}


def _evening_built(folder: Path) -> list[str]:
    """Put the sample and the papers of its first build, which is made once in a run, into a folder; what was said."""

    def make(place: Path) -> None:
        site = _copy(SAMPLES / "hospital", place / "hospital")
        said = _say("build", site, "--now", EVENING, "--out", place / "out")
        (place / "said.txt").write_text("\n".join(said), encoding="utf-8")

    if FOLDER in os.environ:
        shutil.copytree(folder_once("sample evening", make), folder, dirs_exist_ok=True)
    else:  # outside a run of the tests
        make(folder)
    return (folder / "said.txt").read_text(encoding="utf-8").splitlines()


def broken(folder: Path) -> Texts:
    """What ``check`` says of the broken sample."""
    return {"check": _say("check", _copy(SAMPLES / "broken", folder / "broken"), "--now", EVENING)}


def big_day(_: Path) -> Texts:
    """A day of 200 cases over 60 rooms, planned without remedies and chances (benchmarks measure those)."""
    return {"plan": plan_lines(day_of_200_cases())}


def examples(folder: Path) -> Texts:
    """The worked examples, each day's facts."""
    texts = {}
    for day in DAYS:
        expected = json.loads((day / "expected.json").read_text(encoding="utf-8"))
        place = folder / day.name
        place.mkdir(parents=True)
        plan = plan_of(
            lay_out(day, place), datetime.fromisoformat(expected["now"][0]), date.fromisoformat(expected["day"])
        )
        texts[day.name] = plan_lines(plan)
    return texts


ORACLE: dict[str, Callable[[Path], Texts]] = {
    "sample": sample_evening,
    "sample revised": sample_revised,
    "broken": broken,
    "200 cases": big_day,
    "examples": examples,
}


def _all_of(out: Path) -> Texts:
    readers: dict[str, Callable[[Path], list[str]]] = {".pdf": page_lines, ".xlsx": cell_lines, ".html": html_lines}
    texts = {path.name: readers[path.suffix](path) for path in sorted(out.iterdir()) if path.suffix in readers}
    return texts | {"plan": plan_lines(plan_from_json((out / "plan.json").read_bytes()))}


def _change_schedule(path: Path) -> None:
    """C-4107 is cancelled, C-4112 starts at 13:45."""
    book = load_workbook(path)
    sheet = book["Schedule"]
    columns = {str(value).lower(): place for place, value in enumerate(next(sheet.values), 1)}
    rows = {str(sheet.cell(row, columns["case"]).value): row for row in range(2, sheet.max_row + 1)}
    sheet.cell(rows["C-4107"], columns["status"]).value = "cancelled"
    sheet.cell(rows["C-4112"], columns["start"]).value = "13:45"
    book.save(path)


def _copy(source: Path, target: Path) -> Path:
    return Path(shutil.copytree(source, target))


def _say(*words: str | Path) -> list[str]:
    """What a command prints, without its progress, nor that lists came first; paths as ``...``."""
    where = {str(Path(word).parent) for word in words if isinstance(word, Path)}
    run = CliRunner().invoke(app, list(map(str, words)), env={"COLUMNS": "200"})
    lines = [
        line
        for line in (run.stdout + run.stderr).splitlines()
        if not line.endswith(" ...") and not line.startswith("Handed out: ")
    ]
    for place in sorted(where, key=len, reverse=True):
        lines = [line.replace(place, "...") for line in lines]
    return [*lines, f"exit code {run.exit_code}"]
