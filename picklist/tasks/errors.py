"""The one error that a task raises for its caller's mistake, and what every text of a person is asked first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from picklist.documents.whole_folder import NotOurFolderError
from picklist.store.state import StateFile, open_state, state_path
from picklist.store.state_errors import StateError
from picklist.tables.files import BusyError, why_refused
from picklist.tables.private import Kind, looks_private

PATIENCE = 90.0  # seconds to wait for another writer: a build holds the state while it prints


class WrongUse(Exception):  # noqa: N818 - it is not an error of the program
    """The task was asked for something that cannot be; its text says what would be right."""


def check_folder(folder: Path) -> None:
    """Raise WrongUse when there is no such folder."""
    if not folder.is_dir():
        raise WrongUse(f"there is no folder {folder}")


@contextmanager
def refusals() -> Iterator[None]:
    """Turn what the computer or another program refuses (no room, no right, no such folder) into a wrong use.

    Every command and every page does its work in here, so that the same refusal has the same words everywhere.
    """
    try:
        yield
    except (BusyError, NotOurFolderError, StateError) as refused:
        raise WrongUse(str(refused)) from None
    except BrokenPipeError:
        raise
    except OSError as refused:
        said = why_refused(refused)
        if said is None:
            raise
        raise WrongUse(said) from None


@contextmanager
def opened_state(folder: Path) -> Iterator[StateFile]:
    """The state beside a folder; what it refuses becomes a wrong use with the same words.

    None is made beside a folder that is not there, as when its name is mistyped.
    """
    if not state_path(folder).exists():
        check_folder(folder)
    try:
        with open_state(state_path(folder), patience=PATIENCE) as state:
            yield state
    except StateError as refused:
        raise WrongUse(str(refused)) from None


def refuse_private(texts: Mapping[str, str], now: datetime) -> None:
    """Raise WrongUse when a text, by what it is called, seems to tell who a patient is; nothing of it is kept."""
    for name, text in texts.items():
        what = looks_private(text, now.date())
        if what:
            raise WrongUse(f"{name}: this text seems to contain {what}; nothing was kept. Write it without that")


def without_private(texts: Mapping[str, str], now: datetime) -> dict[str, str]:
    """Texts to show again to whoever typed them; empty where one seems to tell who a patient is."""
    return {name: "" if looks_private(text, now.date()) else text for name, text in texts.items()}


def refuse_private_name(file: Path) -> None:
    """Raise WrongUse when a file's name, which is kept with what it said, seems to tell who a patient is."""
    what = looks_private(file.stem, kind=Kind.FILE_NAME)
    if what:
        raise WrongUse(f"the name of this file seems to contain {what}; nothing was read. Rename it")


def as_typed(folder: Path) -> str:
    """A folder as it is typed in a command: in quotation marks where its name has a space."""
    return f'"{folder}"' if " " in str(folder) else str(folder)
