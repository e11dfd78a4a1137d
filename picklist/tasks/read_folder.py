"""Read a site's folder whole: the model and every problem in it."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from threading import Lock

from picklist import wording
from picklist.checks import check_cards, check_site
from picklist.clock import SiteClock
from picklist.documents.missing_characters import check_names
from picklist.evening.keep_counted import unfinished
from picklist.evening.write_tables import finish_unfinished
from picklist.inputs import Scheduled, Standing, read_schedule, read_standing
from picklist.letters import natural_key
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.problems import Problem, must_be_fixed
from picklist.store.kept_readings import find_reading, keep_reading
from picklist.store.lock import hold_tables
from picklist.store.state import StateFile, open_state, state_path
from picklist.store.state_errors import StateError
from picklist.tables.files import BusyError, forget_former, is_passed_over
from picklist.tables.folder import ScheduleFile, may_hold_tables, schedule_files
from picklist.tasks.errors import WrongUse
from picklist.tasks.message_files import ensure_schedule, lay_messages
from picklist.tasks.moment import ask_if_meant, to_instant, typed_moment
from picklist.upkeep.approval import catch_up

NOON = 12
MOST_KNOWN = 2  # folders: the site's, and a copy in which a change is tried
Digests = Mapping[str, str]
ListedFiles = tuple[tuple[str, int, int], ...]  # of each its name, time and size
ListedStarts = Mapping[date, Sequence[datetime]]
NO_LISTS: ListedStarts = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """A site as read at ``now``; ``site`` is None when nothing can be planned from the folder.

    ``files`` are those of the folder just before they were read, so that one saved meanwhile counts as changed.
    """

    folder: Path
    now: datetime
    site: Site | None
    problems: tuple[Problem, ...]
    files: ListedFiles

    @property
    def exit_code(self) -> int:
        """0 when there is nothing to fix, else 1."""
        return int(self.site is None or must_be_fixed(self.problems))


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptReading:
    """What was found in the files of a folder: by the mark of all that stays, what the schedule adds to that.

    ``of_cards`` is what was wrong with the cards on a day, once they were looked at.
    """

    standing: str
    scheduled: Scheduled
    of_cards: tuple[date, tuple[Problem, ...]] | None = None


@dataclass(slots=True, kw_only=True)
class FolderRead:
    """What was read of a folder, and what the last checks of it found, at their time.

    ``mark`` is of all that reading depends on; empty when that changed meanwhile, so that nothing is kept.
    """

    site: Site | None
    found: KeptReading
    mark: str
    checked: tuple[datetime, tuple[Problem, ...]] | None = None

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What is wrong with the tables themselves."""
        return self.found.scheduled.problems

    def check(self, site: Site, now: datetime) -> tuple[Problem, ...]:
        """What is wrong with the sense of the site, looked for once at a time; in its cards once a day."""
        today, of_cards = site.settings.site_clock.day(now), self.found.of_cards
        if of_cards is None or of_cards[0] != today:
            of_cards = today, check_cards(site, today)
            self.found = replace(self.found, of_cards=of_cards)
            self.keep()
        if self.checked is None or self.checked[0] != now:
            self.checked = now, (*check_site(site, now, of_cards[1]), *check_names(site))
        return self.checked[1]

    def keep(self) -> None:
        """Keep it for later runs of the program."""
        if self.mark:
            keep_reading(self.mark, self.found)


class KnownFolders:
    """The folders read last, so that one whose files are the same to the byte is not read again.

    A page asks for the same folder at every click, and one command comes after the other. Whatever reading depends
    on is in the mark: the name and the bytes of each file, and the day. A site is never changed once it is read.
    """

    def __init__(self) -> None:
        self._known: OrderedDict[str, FolderRead] = OrderedDict()
        self._lock = Lock()

    def read(self, folder: Path, now: datetime) -> FolderRead:
        """A folder as ``read_site`` reads it."""
        files = _digests(folder)
        mark = _mark(files, now)
        with self._lock:
            if mark in self._known:
                self._known.move_to_end(mark)
                return self._known[mark]
        known = _read_earlier(mark) or _read(folder, files, now)
        if known.mark:
            with self._lock:
                self._known[mark] = known
                while len(self._known) > MOST_KNOWN:
                    self._known.popitem(last=False)
        return known


def _read_earlier(mark: str) -> FolderRead | None:
    """What an earlier run of the program read of the same files."""
    found: KeptReading | None = find_reading(mark) if mark else None
    if found is None:
        return None
    if not found.scheduled.can_be_planned:
        return FolderRead(site=None, found=found, mark=mark)
    standing: Standing | None = find_reading(found.standing)
    return FolderRead(site=standing.with_schedule(found.scheduled), found=found, mark=mark) if standing else None


def _read(folder: Path, files: Digests, now: datetime) -> FolderRead:
    """Read the schedule of a folder, and all else where no earlier run of the program has read just that."""
    schedule = _schedule_files(folder)
    stays = _mark({**files, **{one.name: one.besides for one in schedule}}, now, "what stays") if files else ""
    standing: Standing | None = find_reading(stays) if stays else None
    if standing is None:
        standing = read_standing(folder, now=now, leave={one.name for one in schedule})
        to_keep = standing
        if standing.has_schedule:  # which is kept as what it adds: its rows hold more than goes on
            stays, to_keep = _mark(files, now, "with the schedule"), replace(standing, rows={})
        if stays and files == _digests(folder):
            keep_reading(stays, to_keep)
    grids = [grid for one in schedule for grid in one.grids]
    found = KeptReading(standing=stays, scheduled=read_schedule(standing, grids))
    mark = _mark(files, now) if files == _digests(folder) else ""  # nobody wrote while it was read
    known = FolderRead(site=standing.with_schedule(found.scheduled), found=found, mark=mark)
    if known.site is None:
        known.keep()  # else it is kept with what its check finds
    return known


KNOWN = KnownFolders()


def _schedule_files(folder: Path) -> tuple[ScheduleFile, ...]:
    try:
        return schedule_files(folder)
    except OSError:
        return ()


def _digests(folder: Path) -> Digests:
    """Of the bytes of each file that may hold tables, by name; of others the name alone. None where one is closed."""
    try:
        return {path.name: _content_digest(path) for path in folder.iterdir() if path.is_file()}
    except OSError:
        return {}


def _mark(files: Digests, now: datetime, of: str = "all") -> str:
    """A mark of all that decides how a folder is read; empty without any file."""
    return hashlib.sha256(repr((of, now.date(), sorted(files.items()))).encode()).hexdigest() if files else ""


def _content_digest(path: Path) -> str:
    if not may_hold_tables(path):
        return ""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def load_folder(folder: Path | str, now: datetime | str) -> Loaded:
    """Read and check a folder. ``now`` naive is the site's wall time, aware an instant; a text is read as ``--now``.

    A change of cards that a crash cut short is finished first, and the schedule of messages brought up to
    date. Raises WrongUse when there is no such folder, and when ``now`` is so far from the cases that it is
    hardly meant (see ``ask_if_meant``).
    """
    folder, now = Path(folder), typed_moment(now) if isinstance(now, str) else now
    if not folder.is_dir():
        raise WrongUse(f"there is no folder {folder}; picklist demo or picklist blank makes one")
    finished = finish_writes(folder)
    caught_up = catch_up(folder)
    rewritten = ensure_schedule(folder, now)
    files, known = list_files(folder), KNOWN.read(folder, to_instant(now, "UTC"))
    site, problems = known.site, known.problems
    if site is not None:
        laid = lay_messages(folder, site, to_instant(now, site.settings.time_zone))
        if laid.changed:
            files, known = list_files(folder), KNOWN.read(folder, to_instant(now, "UTC"))
            site, problems = known.site, known.problems
        problems = (*problems, *laid.problems)
    problems = (*finished, *rewritten, *problems, *caught_up)
    if site is None:
        return Loaded(folder=folder, now=to_instant(now, "UTC"), site=None, problems=problems, files=files)
    instant = to_instant(now, site.settings.time_zone)
    ask_if_meant(now, (case.day for case in site.cases if case.is_live), site.settings.site_clock)
    problems += known.check(site, instant)
    return Loaded(folder=folder, now=instant, site=site, problems=problems, files=files)


def list_files(folder: Path) -> ListedFiles:
    """The files that are read, with their time and size; none of a folder that is gone or cannot be reached."""
    found = []
    with suppress(OSError):
        for path in folder.iterdir():
            with suppress(FileNotFoundError):  # another program has just taken it away
                if path.is_file() and not is_passed_over(path.name):
                    facts = path.stat()
                    found.append((path.name, facts.st_mtime_ns, facts.st_size))
    return tuple(sorted(found))


def load_site(folder: Path | str, now: datetime | str) -> tuple[Loaded, Site]:
    """A folder that can be planned from, with its site. Raises WrongUse for one that cannot."""
    loaded = load_folder(folder, now)
    if loaded.site is None:
        raise WrongUse(f"{folder} cannot be read; picklist check {folder} says why")
    forget_former(loaded.folder, loaded.site.settings.keep_former_files)
    return loaded, loaded.site


def choose_day(site: Site, now: datetime, asked: date | None, listed: ListedStarts = NO_LISTS) -> date:
    """The day to build carts for: the one asked for, else the next with a live case.

    That is today for a shift that works past midnight: before noon, while most of today's cases
    are still to begin. Else it is the first later day with a case, or today where there is none.

    ``listed`` are the starts for which lists were printed. A day of those on which no case is left
    is chosen as if its cases stood, so that what was made for it is put back. Where the schedule
    has no row of that day, it may be one of other days only: that must be asked for.

    Raises WrongUse, naming the days that the schedule has, when there is none.
    """
    clock = site.settings.site_clock
    live = _starts(case for case in site.cases if case.is_live)
    called_off = _called_off(site, listed)
    named = ", ".join(day.isoformat() for day in sorted(live)) or f"none{_over(site.cases)}"
    if asked is not None:
        if asked not in live and asked not in called_off:
            over = _over(case for case in site.cases if case.day == asked) if live else ""
            raise WrongUse(f"no case is planned on {asked}{over}; the schedule has {named}{_on_hold(site)}")
        return asked
    day = day_in_hand(clock, now, {**live, **called_off})
    if day is None:
        held = _on_hold(site)
        none = f"no case starts after {clock.stamp(now)}; the schedule has {named}{held}"
        none += "" if held else ". Put the schedule of the next days into the folder"
        raise WrongUse(none if live or not held else f"no case can be planned{held}")
    if day in called_off and all(case.day != day for case in site.cases):
        other = f"; to build another day, use --day with that day ({named})" if live else ""
        raise WrongUse(
            f"lists were printed for {clock.day_text(day)}, but the schedule no longer has a row for that day. "
            f"If all its cases are cancelled, use --day {day.isoformat()} to print what to put back{other}"
        )
    return day


def day_in_hand(clock: SiteClock, now: datetime, listed: ListedStarts) -> date | None:
    """Of some days the one whose carts are being built; None where no case is still to begin.

    That is today before noon, while most of its cases are still to begin, else the first later one on which a case
    begins, or today.
    """
    return _next_day(listed, clock.day(now), now, before_noon=clock.wall(now).hour < NOON)


def _on_hold(site: Site) -> str:
    """Which cases have no place in the plan, since their rows cannot be read; empty without any."""
    known = {case.number for case in site.cases}
    held = sorted(site.unread.cases - known, key=natural_key)
    if not held and not site.unread.schedule:
        return ""
    whose = f"case {wording.listed(held)} {'is' if len(held) == 1 else 'are'} on hold" if held else "rows are on hold"
    return f"; {whose}, because the schedule cannot be read there: picklist check says what to fix"


def _over(cases: Iterable[Case]) -> str:
    """How many of some cases are cancelled or done, in brackets; empty for none."""
    number = sum(not case.is_live for case in cases)
    return f" ({wording.counted(number, 'case')}, cancelled or done)" if number else ""


def _next_day(starts: ListedStarts, today: date, now: datetime, *, before_noon: bool) -> date | None:
    ahead = {day: sum(start > now for start in found) for day, found in starts.items()}
    if before_noon and 2 * ahead.get(today, 0) > len(starts.get(today, ())):
        return today
    coming = [day for day, count in ahead.items() if count]
    return min([day for day in coming if day > today] or coming, default=None)


def _called_off(site: Site, listed: ListedStarts) -> dict[date, Sequence[datetime]]:
    """The days for which lists were printed and on which no case is left, planned, running or done."""
    left = {case.day for case in site.cases if not case.is_cancelled}
    return {day: starts for day, starts in listed.items() if day not in left}


def _starts(cases: Iterable[Case]) -> dict[date, tuple[datetime, ...]]:
    found: dict[date, tuple[datetime, ...]] = {}
    for case in cases:
        found[case.day] = (*found.get(case.day, ()), case.start)
    return found


def days_ahead(loaded: Loaded) -> tuple[date, ...] | None:
    """The days on which a live case is still to start; None where the folder cannot be planned from."""
    if loaded.site is None:
        return None
    cases = (case for case in loaded.site.cases if case.is_live and case.start > loaded.now)
    return tuple(sorted({case.day for case in cases}))


def cases_over(loaded: Loaded) -> str:
    """How many cases are cancelled or done, in brackets; empty for none."""
    return _over(loaded.site.cases) if loaded.site else ""


def planned_days(site: Site, listed: ListedStarts = NO_LISTS) -> tuple[date, ...]:
    """The days that can be built, in order: those with a live case, and those called off that have lists."""
    live = {case.day for case in site.cases if case.is_live}
    return tuple(sorted(live | _called_off(site, listed).keys()))


def finish_writes(folder: Path) -> tuple[Problem, ...]:
    """Finish what an earlier command began to write into the tables, and say so.

    Raises WrongUse when that is not possible now: the tables hold half of it and must not be read.
    A state file that cannot be opened is left to whoever needs it.
    """
    if not state_path(folder).exists():
        return ()
    try:
        with open_state(state_path(folder)) as state:
            return _finish(state, folder) if unfinished(state) else ()
    except StateError:
        return ()


def _finish(state: StateFile, folder: Path) -> tuple[Problem, ...]:
    try:
        with hold_tables(folder):
            return finish_unfinished(state, folder)
    except (BusyError, StateError) as busy:
        raise WrongUse(f"an earlier settle was cut short and cannot be finished now: {busy}") from None
    except OSError as refused:
        why = f"{refused.filename or folder}: {refused.strerror}"
        raise WrongUse(f"an earlier settle was cut short and cannot be finished now ({why})") from None
