"""What one run of the page has before it: the site's folder, the papers, files just handed in, and running work."""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import date, datetime
from itertools import count
from pathlib import Path
from threading import Lock

from picklist.model.built import BuiltCart
from picklist.model.plan import Plan
from picklist.problems import Problem
from picklist.server.work import Lane, LongTask, Workshop
from picklist.tasks.beside_site import days_to_build, write_mark
from picklist.tasks.build import Built, Wanted, build_day
from picklist.tasks.cart_form import report_mark
from picklist.tasks.errors import WrongUse
from picklist.tasks.papers import read_plan_of
from picklist.tasks.read_folder import cases_over, days_ahead, list_files, load_folder
from picklist.tasks.scanning import Scanner

MOST_SCANNERS = 24
MOST_NOTES = 40
MOST_SHOWN = 400  # reports over which a form may still be open
TRAY = "picklist-page-"  # of the folder for what comes in; the number of the process follows
FAILED = "the program failed while reading the folder; see the messages in its window"
BUILDING, CHECKING = "Building the lists", "Reading the folder"


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """The folder as it was read: its problems, the days with cases and those with cases to come, and its files.

    ``over`` says how many are cancelled or done, ``refused`` why it could not be read at all.
    """

    files: tuple[tuple[str, int, int], ...]
    problems: tuple[Problem, ...] = ()
    days: tuple[date, ...] = ()
    ahead: tuple[date, ...] | None = None
    over: str = ""
    refused: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HowToBuild:
    """What a build may do differently from the site's settings."""

    paper: str | None = None
    clock: int | None = None
    with_chance: bool = True


class Desk:
    """The things on it; safe to use from several threads."""

    def __init__(self, folder: Path, out: Path, now: Callable[[], datetime]) -> None:
        self.folder, self.out, self.now = folder, out, now
        self.workshop = Workshop()
        self.built: Built | None = None
        self.exports: dict[str, Path] = {}  # a hospital's own exports whose headers are asked for, by number
        self._lock = Lock()
        self._notes: dict[str, tuple[str, ...]] = {}
        self._shown: dict[str, BuiltCart | None] = {}
        self._checked: Checked | None = None
        self._known: dict[str, tuple[object, LongTask]] = {}
        self._plan: tuple[tuple[int, int], Plan] | None = None
        self._numbers = count(1)
        self._tray: Path | None = None
        self._scanners: dict[str, Scanner] = {}

    def keep_notes(self, sentences: Sequence[str]) -> str:
        """Sentences to say at the head of the page to which a window is sent, and the word by which it asks."""
        with self._lock:
            word = str(next(self._numbers))
            self._notes[word] = tuple(sentences)
            while len(self._notes) > MOST_NOTES:
                self._notes.pop(next(iter(self._notes)))
        return word

    def take_notes(self, word: str) -> tuple[str, ...]:
        """What is to be said; it is said once."""
        with self._lock:
            return self._notes.pop(word, ())

    def version(self) -> str:
        """A short word that changes with all that a page shows: files, papers, what is recorded, a build under way."""
        seen: list[object] = [list_files(self.folder), write_mark(self.folder)]
        with suppress(OSError):
            seen.append((self.out / "plan.json").stat().st_mtime_ns)
        building = self.workshop.running(Lane.PLAN)
        seen.append(building.id if building else "")
        return hashlib.sha256(repr(seen).encode()).hexdigest()[:16]

    def remember_shown(self, facts: BuiltCart | None) -> None:
        """Keep the report over which a form is filled in, for the case that another is made meanwhile."""
        with self._lock:
            self._shown[report_mark(facts)] = facts
            while len(self._shown) > MOST_SHOWN:
                self._shown.pop(next(iter(self._shown)))

    def shown(self, mark: str) -> BuiltCart | None:
        """The report over which a form was filled in."""
        return self._shown.get(mark)

    def checked(self) -> Checked | None:
        """The check of the folder as it is there now, None while there is none yet."""
        checked = None if self.workshop.running_titled(CHECKING) else self._checked
        return checked if checked and checked.files == list_files(self.folder) else None

    def check(self) -> LongTask | None:
        """See to it that the folder is checked; the work to wait for, if any."""
        return None if self.checked() else self.workshop.start(CHECKING, Lane.CHECK, self._check, "", once=True)

    def _check(self, progress: Callable[[str], None]) -> None:
        progress("file by file")
        files = list_files(self.folder)
        self._checked = Checked(files=files, refused=FAILED)  # unless it comes to an end below
        try:
            loaded = load_folder(self.folder, self.now())
            days = days_to_build(loaded)
        except WrongUse as wrong:
            self._checked = Checked(files=files, refused=str(wrong))
            return
        ahead, over = days_ahead(loaded), cases_over(loaded)
        self._checked = Checked(files=files, problems=loaded.problems, days=days, ahead=ahead, over=over)

    def known(self, title: str, key: object, doing: Callable[[], object]) -> object:
        """What ``doing`` gave for this key; the work to wait for, or that was refused, when it gave nothing yet."""
        kept = self._known.get(title)
        if kept is None or kept[0] != key or kept[1].forgotten:
            if former := self.workshop.running_titled(title):  # it looks at what was there before
                return former
            work = self.workshop.start(title, Lane.CHECK, lambda _progress: doing(), "", once=True)
            self._known[title] = kept = (key, work)
        work = kept[1]
        return work if work.running or work.refused else work.result

    def build(self, day: date | None, answers: dict[str, str], how: HowToBuild = HowToBuild()) -> LongTask:
        """Begin a build, or give back the one that runs."""

        def doing(progress: Callable[[str], None]) -> None:
            wanted = Wanted(folder=self.folder, out=self.out, now=self.now(), day=day, answers=answers, **asdict(how))
            self.built = build_day(wanted, progress, self._handed_out)

        return self.workshop.start(BUILDING, Lane.PLAN, doing, "", once=True)

    def _handed_out(self, built: Built) -> None:
        """The lists lie there: windows go on to them, though the build does too."""
        self.built, work = built, self.workshop.running(Lane.PLAN)
        if work:
            work.first = True

    def plan(self) -> Plan | None:
        """The plan of the papers that are there, whoever built them."""
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
        """Files of the folder that are not as they were read for the papers; of others' papers, the younger ones."""
        plan, mine, there = self.plan(), self.built, list_files(self.folder)
        if plan and mine and mine.plan and (mine.plan.day, mine.plan.revision) == (plan.day, plan.revision):
            return tuple(sorted({name for name, _, _ in {*there} ^ {*mine.files}}))
        try:
            built = (self.out / "plan.json").stat().st_mtime_ns
        except OSError:
            return ()
        return tuple(name for name, moment, _ in there if moment > built)

    def new_file(self) -> Path:
        """A place of our own for a file that comes in."""
        with self._lock:
            if self._tray is None:
                self._tray = Path(tempfile.mkdtemp(prefix=f"{TRAY}{os.getpid()}-"))
            return self._tray / f"in-{next(self._numbers)}"

    def new_place(self) -> Path:
        """A new folder of our own, for a file that keeps its name."""
        place = self.new_file()
        place.mkdir()
        return place

    def files(self) -> tuple[tuple[str, int, int], ...]:
        """The files of the folder as they are there now."""
        return list_files(self.folder)

    def new_scanner(self, day: date) -> str:
        """The number of a window that begins to scan the carts of a day. Raises WrongUse."""
        scanner = Scanner(self.folder, self.now, day)
        with self._lock:
            number = f"{day.isoformat()}-{next(self._numbers)}"
            self._scanners[number] = scanner
            while len(self._scanners) > MOST_SCANNERS:
                self._scanners.pop(next(iter(self._scanners)))
        return number

    def scanner(self, number: str) -> Scanner | None:
        """The scanner of a window; None when there is none, or too many windows were opened since."""
        return self._scanners.get(number)

    def clear(self) -> None:
        """Remove what is in the page's own folder."""
        if self._tray:
            shutil.rmtree(self._tray, ignore_errors=True)


def clear_left_behind() -> None:
    """Remove what came in at runs of this user that were killed: nothing that was handed in outlives its run."""
    for tray in Path(tempfile.gettempdir()).glob(f"{TRAY}*"):
        number = tray.name.removeprefix(TRAY).partition("-")[0]
        if number.isdigit() and tray.is_dir() and not _runs(int(number)):
            shutil.rmtree(tray, ignore_errors=True)


def _runs(process: int) -> bool:
    """Whether a process of this number runs; yes where that cannot be known."""
    if os.name != "posix":  # there a signal of 0 would end it
        return process == os.getpid()
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True
