"""What writes: the commands whose every point fails once, and what is there afterwards."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

import openpyxl

from picklist.evening.keep_counted import GIVEN_UP
from picklist.evening.keep_facts import built_carts
from picklist.messages.door import Door
from picklist.model.built import BuiltCart
from picklist.problems import Problem
from picklist.store.keep_messages import door_key
from picklist.store.state import open_state, state_path
from picklist.tasks.crew import tell_by_scan_file, tell_by_workbook
from picklist.tasks.day_after import settle_day, tell_used
from picklist.tasks.errors import WrongUse, opened_state, refusals
from picklist.tasks.fix_cell import fix_cell
from picklist.tasks.listen import Listener
from picklist.tasks.offices import ApprovedBy, approve_cards, take_cards, undo_cards, waiting
from picklist.tasks.own_export import learn_export, look_at_export, take_export, with_codes
from picklist.tasks.read_folder import load_folder
from picklist.upkeep.change_log import LogEntry, read_history
from tests.hard.evening import NOW, Evening, build
from tests.inputs.folders import DAY
from tests.messages.words import siu

LATER = datetime(2026, 11, 26, 20, 0)  # noqa: DTZ001 - the site's wall time
BY = ApprovedBy(name="R. Vale", reason="asked by the office", effective=DAY)
ARRIVED = datetime(2026, 11, 25, 20, 0, tzinfo=UTC)


COME_TO = ("built_", "settlement", "card_write", "sqlite_")  # tables of which only what they come to is compared


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """A command: what must have happened before, and what it does."""

    before: Callable[[Evening], object] = lambda _: None
    do: Callable[[Evening], object]


def _scanned(evening: Evening) -> None:
    tell_by_scan_file(evening.site, evening.place / "came" / "scans.txt", NOW, DAY)


def _used(evening: Evening) -> None:
    _scanned(evening)
    tell_used(evening.site, evening.place / "came" / "used.csv", DAY, LATER)


def _returned(evening: Evening) -> None:
    take_cards(evening.site, evening.place / "came" / "office.xlsx", NOW)


def _approve(evening: Evening) -> None:
    for proposal in waiting(evening.site):
        approve_cards(evening.site, proposal, BY, NOW)


def _approved(evening: Evening) -> None:
    _returned(evening)
    _approve(evening)


def _mistyped(evening: Evening) -> None:
    book = openpyxl.load_workbook(evening.site / "schedule.xlsx")
    heads = [cell.value for cell in book["Schedule"][1]]
    book["Schedule"].cell(2, heads.index("room") + 1).value = "OR 11"
    book.save(evening.site / "schedule.xlsx")


def _room(evening: Evening) -> Problem:
    problems = load_folder(evening.site, NOW).problems
    found = [one for one in problems if one.where.column == "room" and one.nearest]
    if not found:
        raise WrongUse("the room is right")
    return found[0]


def _fix(evening: Evening) -> None:
    problem = _room(evening)
    with refusals():
        fix_cell(evening.site, problem, problem.nearest[0], NOW)


def _no_schedule(evening: Evening) -> None:
    for path in evening.site.glob("schedule*"):
        path.unlink()


def _learn(evening: Evening) -> None:
    look = look_at_export(evening.site, evening.place / "came" / "export.csv")
    with refusals():
        learn_export(evening.site, look, with_codes(look, {}), NOW)
        take_export(evening.site, look, NOW)


def _listen(evening: Evening) -> None:
    """Two messages, the first repeated; then the schedule is written."""
    with opened_state(evening.site) as state:
        listener = Listener(state=state, door=Door(key=door_key(state)), now=lambda: ARRIVED, say=lambda _: None)
        for text in (siu("S12"), siu("S12"), siu("S15", control="MSG9", msh7="20261125140000")):
            frames = listener.answer(text.encode())
            if any(b"|AE" in one or b"|AR" in one for one in frames):
                raise WrongUse("a message was not stored")
    for problem in load_folder(evening.site, NOW).problems:
        if problem.kind in ("schedule not written", "messages not read"):
            raise WrongUse(problem.message)


ACTS: dict[str, Act] = {
    "build": Act(before=_scanned, do=lambda evening: build(evening, datetime(2026, 11, 25, 19, 0))),  # noqa: DTZ001
    "carts": Act(do=lambda evening: tell_by_workbook(evening.site, evening.place / "came" / "carts.xlsx", NOW)),
    "scan": Act(do=_scanned),
    "used": Act(before=_scanned, do=lambda e: tell_used(e.site, e.place / "came" / "used.csv", DAY, LATER)),
    "settle": Act(before=_used, do=lambda evening: settle_day(evening.site, DAY, LATER, write=True)),
    "cards take": Act(do=_returned),
    "cards approve": Act(before=_returned, do=_approve),
    "cards undo": Act(before=_approved, do=lambda evening: undo_cards(evening.site, 1, BY, NOW, whole=True)),
    "fix": Act(before=_mistyped, do=_fix),
    "export": Act(before=_no_schedule, do=_learn),
    "listen": Act(do=_listen),
}


def run_act(act: Act, evening: Evening) -> str:
    """Do it; what was refused, in words, or nothing."""
    try:
        with refusals():
            act.do(evening)
    except WrongUse as wrong:
        return str(wrong)
    return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What is there: each file, what the state says, and what is kept of former files."""

    files: tuple[tuple[str, bytes], ...]
    rows: tuple[tuple[str, str], ...]
    reports: tuple[BuiltCart, ...]
    log: tuple[LogEntry, ...]
    kept: frozenset[bytes]

    def differs_from(self, right: Standing) -> list[str]:
        """How this differs from what it should be."""
        mine, other = dict(self.files), dict(right.files)
        names = sorted(name for name in mine.keys() | other.keys() if mine.get(name) != other.get(name))
        rows = sorted(set(self.rows) ^ set(right.rows))
        found = [*names, *(f"{table}: {row[:300]}" for table, row in rows)]
        found += [] if self.reports == right.reports else ["what was reported of carts"]
        found += [] if self.log == right.log else ["the log of cards"]
        return found + ([] if self.kept == right.kept else ["what is kept of former files"])


def standing(evening: Evening) -> Standing:
    """What is there, the lock and what came in left out; of reports, settlements and cards what they come to."""
    files, kept = [], set()
    for path in sorted(evening.place.rglob("*")):
        name = path.relative_to(evening.place).as_posix()
        if path.is_file() and not name.startswith(("came/", "csv/")) and ".sqlite" not in name and ".lock" not in name:
            if ".kept/" not in name:
                files.append((name, path.read_bytes()))
            elif not path.name.startswith("."):
                kept.add(path.read_bytes())
    with open_state(state_path(evening.site)) as state:
        reports = tuple(built_carts(state, DAY).values())
    rows, log = tuple(_rows(state_path(evening.site))), tuple(read_history(evening.site))
    return Standing(files=tuple(files), rows=rows, reports=reports, log=log, kept=frozenset(kept))


def _rows(state: Path) -> list[tuple[str, str]]:
    with closing(sqlite3.connect(state)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        names = [row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")]
        names = [name for name in names if not name.startswith(COME_TO)]
        found = [(name, repr(row)) for name in names for row in db.execute(f'SELECT * FROM "{name}"').fetchall()]
        settled = "SELECT how, day, counts FROM settlement WHERE how IS NOT ?"
        found += [("settlement", repr(row)) for row in db.execute(settled, (GIVEN_UP,)).fetchall()]
        return sorted(found)


def look(evening: Evening, day: date = DAY) -> None:
    """What anybody may do after a failure, before the command is given again: the folder is read."""
    load_folder(evening.site, NOW)
    with open_state(state_path(evening.site)):
        assert day == DAY
