"""Scheduling messages of other systems taken in from files, and the schedule that they make."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from picklist.grouping import grouped
from picklist.inputs import read_door
from picklist.messages.door import Door, is_mark
from picklist.messages.events import Answer
from picklist.messages.history import Kept, outdated
from picklist.messages.hl7_reader import CUT_OFF, decode_message, split_file
from picklist.messages.messages_to_rows import COLUMNS, KEPT_DAYS, MESSAGE, schedule_of
from picklist.messages.take import Taken, take_fhir, take_hl7
from picklist.model.site import Site
from picklist.problems import Problem, Severity, Where
from picklist.settings import Settings
from picklist.store.keep_messages import (
    Keeping,
    door_key,
    forget_messages,
    has_messages,
    keep_messages,
    kept_messages,
    mark_schedules,
    refused_messages,
    written_schedules,
)
from picklist.store.state import StateFile, open_state, state_path
from picklist.store.state_errors import StateError
from picklist.tables.csv_files import csv_bytes
from picklist.tables.files import (
    BusyError,
    check_not_open,
    digest_now,
    digest_of,
    is_passed_over,
    keep_former,
    replace_file,
)
from picklist.tables.folder import FROM_MESSAGES
from picklist.tables.private import Kind, looks_private
from picklist.tasks.errors import WrongUse, check_folder, opened_state

REFUSED = "message refused"
FILE = f"{FROM_MESSAGES}.csv"
EMPTY = csv_bytes(COLUMNS, ())
LARGEST = 256 << 20  # bytes of a file of messages


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """What became of the messages of some files."""

    new: int = 0
    repeated: int = 0
    refused: int = 0
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """The schedule of the messages was brought up to date: whether its file changed, and what is wrong."""

    changed: bool = False
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MessagesSeen:
    """What other systems sent so far: messages about cases, when the last one arrived, and those refused lately."""

    about_cases: int
    last: datetime
    refused: int


def messages_seen(folder: Path, now: datetime) -> MessagesSeen | None:
    """What was received so far, by files or over the network; None where nothing was. Raises WrongUse."""
    if not state_path(folder).exists():
        return None
    with opened_state(folder) as state:
        kept = kept_messages(state)
        refused = refused_messages(state, now - timedelta(days=KEPT_DAYS))
    arrived = [*(one.arrived for one in kept), *(one.arrived for one in refused)]
    return MessagesSeen(about_cases=len(kept), last=max(arrived), refused=len(refused)) if arrived else None


class WatchedFiles:
    """Files of messages: one, or those of a folder; which of them are new or have changed since the last look."""

    def __init__(self, source: Path) -> None:
        """Take a file or a folder."""
        self._source = source
        self._taken: dict[Path, tuple[int, int]] = {}
        self._seen: dict[Path, tuple[int, int]] = {}

    def new_files(self, *, settled: bool = False) -> list[Path]:
        """Files to take in, the oldest first; ``settled``: only those that did not change since the last look.

        A file is named at every look until ``took`` says that it was taken in as it is. Raises WrongUse when there is
        nothing to look at.
        """
        if not self._source.exists():
            raise WrongUse(f"there is no file or folder {self._source}")
        listed = self._source.iterdir() if self._source.is_dir() else [self._source]
        looks: dict[Path, tuple[int, int]] = {}
        for path in listed:
            with suppress(OSError):
                if path.is_file() and not is_passed_over(path.name):
                    stat = path.stat()
                    looks[path] = (stat.st_mtime_ns, stat.st_size)
        before, self._seen = self._seen, looks
        return [
            path
            for path, look in sorted(looks.items(), key=lambda one: (one[1], one[0].name))
            if self._taken.get(path) != look and (not settled or before.get(path) == look)
        ]

    def took(self, files: Iterable[Path]) -> None:
        """Remember that files were taken in as they were at the last look."""
        self._taken |= {path: self._seen[path] for path in files}


def look_at_messages(folder: Path, file: Path) -> Received:
    """What ``receive_from`` would take in of a file if nothing had come before; nothing is kept. Raises WrongUse."""
    check_folder(folder)
    with opened_state(folder) as state:
        taken, problems = _read_file(file, file.name, open_door(folder, state))
    refused_ones = sum(one.answer is not Answer.ACCEPT for one in taken)
    said = _said(file.name, taken, [Keeping.NEW] * len(taken))
    return Received(new=len(taken) - refused_ones, refused=refused_ones, problems=(*problems, *said))


def open_door(folder: Path, state: StateFile) -> Door:
    """The door of a site, by its settings. Raises WrongUse when they cannot be read."""
    settings, systems = read_door(folder)
    if settings is None:
        raise WrongUse(f"the Settings of {folder} cannot be read; picklist check {folder} says why")
    return Door(key=door_key(state), hide_ids=settings.hide_message_numbers, id_systems=systems)


def receive_from(folder: Path, files: Iterable[Path], arrived: datetime) -> Received:
    """Take in the messages of files into the site's state; each is kept whole before the next. Raises WrongUse."""
    check_folder(folder)
    done = Received()
    with opened_state(folder) as state:
        door = open_door(folder, state)
        for path in files:
            name = "a file here" if looks_private(path.stem, kind=Kind.FILE_NAME) else path.name
            taken, problems = _read_file(path, name, door)
            keeping = keep_messages(state, taken, arrived)
            done = Received(
                new=done.new + sum(one is not Keeping.REPEATED for one in keeping),
                repeated=done.repeated + keeping.count(Keeping.REPEATED),
                refused=done.refused + sum(one.answer is not Answer.ACCEPT for one in taken),
                problems=(*done.problems, *problems, *_said(name, taken, keeping)),
            )
    return done


def _read_file(path: Path, name: str, door: Door) -> tuple[list[Taken], list[Problem]]:
    try:
        data = path.read_bytes() if path.stat().st_size <= LARGEST else None
    except OSError as error:
        return [], [_problem("cannot open", name, f"the file cannot be opened ({error.strerror})")]
    if data is None:
        return [], [_problem("too large", name, "the file is too large for messages; it was not read")]
    text = decode_message(data)
    if text.lstrip()[:1] in ("{", "[", "<"):
        return take_fhir(text, door), []
    messages, doubts = split_file(text)
    told = (one for one in doubts if one is not CUT_OFF)
    problems = [_problem(one.kind, _place(name, one.place), one.message, grave=one.grave) for one in told]
    if not messages:
        problems.append(_problem("no messages", name, "there is no message in this file", grave=False))
    taken = [take_hl7(one, door) for one in messages]
    if CUT_OFF in doubts:
        taken[-1] = replace(taken[-1], answer=Answer.ERROR, event=None, place=CUT_OFF.place, why=CUT_OFF.message)
    return taken, problems


def _said(name: str, taken: Iterable[Taken], keeping: Iterable[Keeping]) -> list[Problem]:
    """What is to be said of messages: refused ones, those about no case, and other contents under a known id."""
    said = []
    for number, (one, kept) in enumerate(zip(taken, keeping, strict=True), start=1):
        control = f"message {one.control}" if one.control and not is_mark(one.control) else f"message no. {number}"
        where = _place(f"{name}, {control}", one.place)
        if one.answer is not Answer.ACCEPT:
            said.append(_problem(REFUSED, where, f"{one.why}; it was not applied"))
        elif one.event is None:
            said.append(
                _problem(
                    "not a case", where, "this is about time slots, not about a case; it was not applied", grave=False
                )
            )
        elif kept is Keeping.OTHER_CONTENT:
            message = "a message with this control id but other contents came before; both count"
            said.append(_problem("same control id", where, message, grave=False))
    return said


def _place(name: str, place: str) -> str:
    return f"{name}, {place}" if place else name


def _problem(kind: str, where: str, message: str, *, grave: bool = True, expected: str = "") -> Problem:
    severity = Severity.TO_FIX if grave else Severity.NOTICE
    return Problem(kind=kind, severity=severity, where=Where(file=where), message=message, expected=expected)


def of_messages(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Those of a site's problems that come from messages or from the schedule made of them, but for refused ones."""
    ours = (one for one in problems if one.where.file == FILE or one.where.file.startswith(f"{MESSAGE} "))
    return tuple(one for one in ours if one.kind != REFUSED)


def ensure_schedule(folder: Path, stamp: datetime) -> tuple[Problem, ...]:
    """Where there are messages, make sure that the file of the schedule is there and is picklist's own.

    A missing one is made, still empty, as a site needs a Schedule. One that a hand changed is kept under
    ``stamp`` and said: it is written anew from the messages, and could hold anything.
    """
    path = folder / FILE
    if not state_path(folder).exists():
        return ()
    try:
        with open_state(state_path(folder)) as state:
            current = digest_now(path)
            if not has_messages(state) or current in (*written_schedules(state), digest_of(EMPTY)):
                return ()
            said: tuple[Problem, ...] = ()
            if current:
                check_not_open(path)
                kept = keep_former(folder, FILE, path.read_bytes(), stamp)
                message = f"the file was changed by hand, and is written anew from messages; it is kept as {kept.name}"
                said = (_problem("changed by hand", FILE, message, grave=False),)
            replace_file(path, EMPTY)
            return said
    except (StateError, BusyError, OSError):
        return ()  # whoever lays the messages says why


def lay_messages(folder: Path, site: Site, now: datetime) -> Laid:
    """Bring the file of the schedule up to date with all messages and the codes of the site."""
    if not state_path(folder).exists():
        return Laid()
    try:
        with open_state(state_path(folder)) as state:
            laid = _lay(state, folder, site, now) if has_messages(state) else Laid()
            return replace(laid, problems=(*laid.problems, *_refused(state, now)))
    except StateError as error:
        return Laid(problems=(_problem("messages not read", FILE, f"{error}; the schedule may be older than them"),))
    except (BusyError, OSError) as error:
        why = error if isinstance(error, BusyError) else f"{FILE} cannot be written ({error.strerror})"
        return Laid(problems=(_problem("schedule not written", FILE, f"{why}; newer messages are not in it"),))


def _lay(state: StateFile, folder: Path, site: Site, now: datetime) -> Laid:
    settings = site.settings
    door = Door(key=door_key(state))
    kept = kept_messages(state)
    rows, problems = schedule_of(kept, site.codes, settings, door, settings.site_clock.day(now))
    _forget_old(state, kept, settings, now)
    problems = (*problems, *_beside(site))
    data = csv_bytes(COLUMNS, rows)
    path = folder / FILE
    if digest_now(path) == digest_of(data):
        return Laid(problems=problems)
    check_not_open(path)
    mark_schedules(state, (*written_schedules(state), digest_of(data)))
    replace_file(path, data)
    mark_schedules(state, (digest_of(data),))
    return Laid(changed=True, problems=problems)


def _forget_old(state: StateFile, kept: list[Kept], settings: Settings, now: datetime) -> None:
    """Remove what is kept of messages about days that are long over."""
    before = now - timedelta(days=settings.keep_messages)
    clock = settings.site_clock
    forget_messages(state, outdated(kept, clock, clock.day(before)), before)


def _refused(state: StateFile, now: datetime) -> tuple[Problem, ...]:
    """Messages of the last days that were refused: those that are alike as one, by the first of them.

    What was meant for others (AR: another kind of message, one for training) is worth knowing and no more.
    """
    alike = grouped(
        ((one.answer, one.place, one.why), one) for one in refused_messages(state, now - timedelta(days=KEPT_DAYS))
    )
    found = []
    for (answer, place, why), some in alike.items():
        first = some[0]
        named = f"{MESSAGE} {first.control}" if first.control and not is_mark(first.control) else ""
        where = _place(named or f"{MESSAGE} no. {first.serial}", place)
        many = f" (so in {len(some)} messages)" if len(some) > 1 else ""
        said = f"{why}; it was not applied{many}"
        expected = f"it corrected and sent again; it is listed for {KEPT_DAYS} days"
        found.append(_problem(REFUSED, where, said, grave=answer is not Answer.REJECT, expected=expected))
    return tuple(found)


def _beside(site: Site) -> tuple[Problem, ...]:
    """A problem when cases of another schedule are beside those of the messages."""
    others = sorted({case.where.file for case in site.cases} - {FILE})
    if not others:
        return ()
    message = f"cases come from messages and from {', '.join(others)}; all were read, also a case that is in both"
    return (_problem("two schedules", FILE, message),)
