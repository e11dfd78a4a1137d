"""Take a file into a site's folder: first tried in a scratch copy, then kept, with the former version put away."""

from __future__ import annotations

import re
import shutil
import tempfile
import unicodedata
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from picklist.problems import Problem, must_be_fixed
from picklist.store.lock import hold_tables
from picklist.store.state import copy_state, state_path
from picklist.store.state_errors import StateError
from picklist.tables.file_safety import workbook_fault
from picklist.tables.files import (
    BusyError,
    check_not_open,
    digest_now,
    is_device,
    is_passed_over,
    keep_former,
    replace_file,
)
from picklist.tables.folder import TEXTS, WORKBOOKS
from picklist.tables.private import Kind, looks_private
from picklist.tasks.errors import WrongUse
from picklist.tasks.moment import Meant
from picklist.tasks.read_folder import load_folder

LONGEST_NAME = 120
COPY_MARK = re.compile(r"(\s*\(\d+\)|\s+-\s+Copy)+$", re.IGNORECASE)
FORBIDDEN = set('<>:"|?*')


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What a file would do to the folder.

    ``replaces``: a file of that name is there. ``before`` and ``after`` are all problems of the
    folder without and with it; ``digest`` is that of the file it would replace, empty for none.
    """

    name: str
    replaces: bool
    same: bool
    before: tuple[Problem, ...]
    after: tuple[Problem, ...]
    digest: str

    @property
    def fresh(self) -> tuple[Problem, ...]:
        """Problems that the file brings."""
        known = set(self.before)
        return tuple(problem for problem in self.after if problem not in known)

    @property
    def gone(self) -> tuple[Problem, ...]:
        """Problems that the file fixes."""
        left = set(self.after)
        return tuple(problem for problem in self.before if problem not in left)

    @property
    def of_file(self) -> tuple[Problem, ...]:
        """What is wrong within the file itself."""
        return tuple(problem for problem in self.after if problem.where.file == self.name)

    @property
    def brings_faults(self) -> bool:
        """Whether more than notices come with it."""
        return must_be_fixed(self.fresh)


def plain_name(given: str, kinds: tuple[str, ...] = (*WORKBOOKS, *TEXTS)) -> str:
    """The bare name of a file that may stand in a site's folder, without any path before it.

    Raises WrongUse for a name that is hidden, kept by a system, too long, or of no kind that is read.
    """
    name = unicodedata.normalize("NFC", given.replace("\\", "/").rsplit("/", 1)[-1]).strip()
    reason = _unfit(name, kinds)
    if reason:
        shown = "".join(sign for sign in name if sign.isprintable())[:LONGEST_NAME]
        if looks_private(name, kind=Kind.FILE_NAME):
            raise WrongUse(f"this file is not accepted: {reason}; rename it")
        raise WrongUse(f'a file called "{shown}" is not accepted: {reason}')
    return name


def _unfit(name: str, kinds: tuple[str, ...]) -> str:
    stem, dot, ending = name.rpartition(".")
    what = looks_private(stem, kind=Kind.FILE_NAME)
    if what:
        return f"its name seems to contain {what}"
    if any(unicodedata.category(sign) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp") for sign in name):
        return "the file name has unprintable characters"
    if is_passed_over(name) or not stem.strip():
        return "hidden files and temporary files of an open program are not read"
    if f"{dot}{ending}".lower() not in kinds:
        if f"{dot}{ending}".lower() in (".pdf", ".html"):
            return "it is printed, and holds nothing to take in"
        return f"only workbooks and CSV files are read ({', '.join(kinds)})"
    if FORBIDDEN & set(name) or stem.rstrip() != stem:
        return "the file name has characters that some computers do not allow"
    if is_device(stem):
        return "some computers reserve this name for a device"
    if len(name) > LONGEST_NAME or len(name.encode()) > 200:
        return f"its name is longer than {LONGEST_NAME} characters"
    return ""


def standing_name(folder: Path, name: str) -> str:
    """The name as a file already there spells it, whatever its letters' case; else ``name`` itself."""
    by_name = {path.name.casefold(): path.name for path in folder.iterdir() if path.is_file()}
    return by_name.get(name.casefold(), name)


def likely_name(folder: Path, name: str) -> str:
    """The file of the folder that a copy with a counted name is meant to replace, else the name as it is now.

    A browser saves a second download as ``schedule (1).xlsx``, an office as ``schedule - Copy.xlsx``.
    """
    stem, dot, ending = name.rpartition(".")
    plain = COPY_MARK.sub("", stem)
    standing = standing_name(folder, f"{plain}{dot}{ending}")
    return standing if plain != stem and (folder / standing).is_file() else standing_name(folder, name)


def try_file(folder: Path, file: Path, name: str, now: datetime) -> Trial:
    """Check the folder as it would be with ``file`` in it under ``name``; nothing of the folder changes.

    Raises WrongUse when the name does not fit, or the file is no readable workbook at all.
    """
    target = folder / standing_name(folder, plain_name(name))
    fault = workbook_fault(file) if target.suffix.lower() in WORKBOOKS else None
    if fault:
        raise WrongUse(f"{target.name} is not accepted: {fault.message}; expected {fault.expected}")
    meant = Meant.of(now)  # a schedule of the coming days takes the place of an old one in this way
    before = load_folder(folder, meant).problems
    with tempfile.TemporaryDirectory(prefix="picklist-trial-", dir=file.parent) as scratch:
        copy = Path(scratch) / folder.resolve().name
        copy.mkdir()
        for path in folder.iterdir():
            if path.is_file():
                shutil.copyfile(path, copy / path.name)
        shutil.copyfile(file, copy / target.name)
        if state_path(folder).exists():
            with suppress(StateError):  # what is wrong with it is said of the folder as it is
                copy_state(state_path(folder), state_path(copy))  # it has the messages that make the schedule
        after = load_folder(copy, meant).problems
    digest = digest_now(target)
    return Trial(
        name=target.name,
        replaces=bool(digest),
        same=digest == digest_now(file),
        before=before,
        after=after,
        digest=digest,
    )


def keep_file(folder: Path, file: Path, trial: Trial, now: datetime) -> Path | None:
    """Put a tried file in its place; the former version is kept beside the folder. Where that is, if any.

    Raises WrongUse when the file that it replaces has changed since the trial, or cannot be replaced
    because a program holds it open.
    """
    target = folder / plain_name(trial.name)
    try:
        with hold_tables(folder):  # a day that is settled meanwhile writes into the same tables
            if digest_now(target) != trial.digest:
                raise WrongUse(f"{target.name} was changed in the meantime; check the file again")
            check_not_open(target)
            former = keep_former(folder, target.name, target.read_bytes(), now) if target.exists() else None
            replace_file(target, file.read_bytes())
    except BusyError as busy:
        raise WrongUse(str(busy)) from None
    except OSError as error:
        raise WrongUse(f"{target.name} could not be written ({error.strerror}); the old file is unchanged") from None
    return former
