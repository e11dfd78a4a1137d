"""What one run of the page has before it: the site's folder, the papers, files just handed in, and running work."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from itertools import count
from pathlib import Path
from threading import Lock

from picklist.model.plan import Plan
from picklist.problems import Problem
from picklist.server.work import Lane, Work, Workshop
from picklist.tasks.build import Built, Wanted, build_day
from picklist.tasks.folder import load_folder, planned_days
from picklist.tasks.papers import read_plan_of
from picklist.tasks.take_file import Trial, try_file

MOST_HANDED_IN = 12
BUILDING, CHECKING = "Building the lists", "Reading the folder"


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """The folder as it was read: its problems, the days that it has cases on, and the files it had."""

    problems: tuple[Problem, ...]
    days: tuple[date, ...]
    at: datetime
    files: tuple[tuple[str, int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedIn:
    """A file that was dropped on the page and is not kept yet, with what it would do."""

    file: Path
    trial: Trial


class Desk:
    """The things on it; safe to use from several threads."""

    def __init__(self, folder: Path, out: Path, now: Callable[[], datetime]) -> None:
        self.folder, self.out, self.now = folder, out, now
        self.workshop = Workshop()
        self.built: Built | None = None
        self._lock = Lock()
        self._notes: list[str] = []
        self._checked: Checked | None = None
        self._plan: tuple[tuple[int, int], Plan] | None = None
        self._numbers = count(1)
        self._tray: Path | None = None
        self._handed_in: dict[str, HandedIn] = {}

    def note(self, sentence: str) -> None:
        """Something to say at the head of the next page."""
        with self._lock:
            self._notes.append(sentence)

    def take_notes(self) -> tuple[str, ...]:
        """What is to be said; it is said once."""
        with self._lock:
            notes, self._notes = tuple(self._notes), []
        return notes

    def checked(self) -> Checked | None:
        """The check of the folder as it lies there now, None while there is none yet."""
        checked = self._checked
        return checked if checked and checked.files == list_files(self.folder) else None

    def check(self) -> Work | None:
        """See to it that the folder is checked; the work to wait for, if any."""
        return None if self.checked() else self.workshop.start(CHECKING, Lane.CHECK, self._check, "")

    def _check(self, progress: Callable[[str], None]) -> None:
        progress(CHECKING)
        files, now = list_files(self.folder), self.now()
        loaded = load_folder(self.folder, now)
        days = planned_days(loaded.site) if loaded.site else ()
        self._checked = Checked(problems=loaded.problems, days=days, at=loaded.now, files=files)

    def build(self, day: date | None, answers: dict[str, str]) -> Work:
        """Begin a build, or give back the one that runs."""

        def doing(progress: Callable[[str], None]) -> None:
            wanted = Wanted(folder=self.folder, out=self.out, now=self.now(), day=day, answers=answers)
            self.built = build_day(wanted, progress)

        return self.workshop.start(BUILDING, Lane.PLAN, doing, "")

    def plan(self) -> Plan | None:
        """The plan of the papers that lie there, whoever built them."""
        try:
            facts = (self.out / "plan.json").stat()
        except OSError:
            return None
        key = (facts.st_mtime_ns, facts.st_size)
        with self._lock:
            if self._plan is None or self._plan[0] != key:
                plan = read_plan_of(self.out)
                self._plan = (key, plan) if plan else None
            return self._plan[1] if self._plan else None

    def changed_since_built(self) -> tuple[str, ...]:
        """Files of the folder that are younger than the papers."""
        try:
            built = (self.out / "plan.json").stat().st_mtime_ns
        except OSError:
            return ()
        return tuple(name for name, moment, _ in list_files(self.folder) if moment > built)

    def new_file(self) -> Path:
        """A place of our own for a file that comes in."""
        with self._lock:
            if self._tray is None:
                self._tray = Path(tempfile.mkdtemp(prefix="picklist-"))
            return self._tray / f"in-{next(self._numbers)}"

    def hand_in(self, number: str, file: Path, name: str) -> None:
        """Try a file under a name, and keep it at hand under a number. Raises WrongUse."""
        try:
            trial = try_file(self.folder, file, name, self.now())
        except BaseException:
            file.unlink(missing_ok=True)
            raise
        with self._lock:
            self._handed_in[number] = HandedIn(file=file, trial=trial)
            while len(self._handed_in) > MOST_HANDED_IN:
                self._handed_in.pop(next(iter(self._handed_in))).file.unlink(missing_ok=True)

    def handed_in(self, number: str) -> HandedIn | None:
        """A file that was handed in and is not kept or dropped."""
        return self._handed_in.get(number)

    def put_aside(self, number: str) -> None:
        """Forget a file that was handed in."""
        with self._lock:
            gone = self._handed_in.pop(number, None)
        if gone:
            gone.file.unlink(missing_ok=True)

    def clear(self) -> None:
        """Remove what lies in our own place."""
        if self._tray:
            shutil.rmtree(self._tray, ignore_errors=True)


def list_files(folder: Path) -> tuple[tuple[str, int, int], ...]:
    """The files that are read, with their time and size."""
    found = []
    for path in folder.iterdir():
        if path.is_file() and not path.name.startswith((".", "~")):
            facts = path.stat()
            found.append((path.name, facts.st_mtime_ns, facts.st_size))
    return tuple(sorted(found))
