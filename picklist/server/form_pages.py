"""Files dropped on the page: tables are tried before they are kept, forms, scans and messages before recording."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from starlette.responses import Response

from picklist.problems import must_be_fixed
from picklist.server.visit import NotHere, Visit
from picklist.server.work import Lane
from picklist.tasks.take_file import Trial, try_file
from picklist.tasks.take_form import FileKind, FormSaid, take_form, try_form

# Where to go on when a form is recorded.
AFTER = {
    FileKind.CARTS: "carts",
    FileKind.SCANS: "carts",
    FileKind.USED: "after",
    FileKind.MESSAGES: "input",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FormLooked:
    """A file that came in, and what it would record."""

    file: Path
    trial: FormSaid


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedFile:
    """A file of tables that came in, and what it would do to the folder."""

    file: Path
    trial: Trial


def start_trying(visit: Visit, file: Path, name: str) -> Response:
    """Try a file under a name, in a scratch copy of the folder."""
    desk = visit.desk
    return visit.wait_for(
        f"Checking {name}",
        Lane.CHECK,
        lambda: TriedFile(file=file, trial=try_file(desk.folder, file, name, desk.now())),
        "input/file/{}",
    )


def start_looking(visit: Visit, file: Path, kind: FileKind) -> Response:
    """Look what a file would record."""
    desk = visit.desk
    return visit.wait_for(
        f"Reading {file.name}",
        Lane.CHECK,
        lambda: FormLooked(file=file, trial=try_form(desk.folder, file, kind, desk.now())),
        "forms/{}",
    )


def show_form(visit: Visit) -> Response:
    """What a file is and would record, before anything is written."""
    looked = _looked(visit)
    said = looked.trial
    return visit.show(
        "form",
        "input",
        work=visit.path["work"],
        name=looked.file.name,
        said=said,
        to_fix=must_be_fixed(said.problems),
    )


def record_form(visit: Visit) -> Response:
    """Record what a file says."""
    desk, looked = visit.desk, _looked(visit)
    return visit.wait_for(
        f"Recording {looked.file.name}",
        Lane.CHECK,
        lambda: take_form(desk.folder, looked.file, looked.trial, desk.now()),
        "forms/{}/done",
        name=looked.file.name,
    )


def show_recorded(visit: Visit) -> Response:
    """What was recorded: back to the carts or the day after when all of it was, else what to fix."""
    taken, name = visit.result(FormSaid), visit.about("name")
    if not must_be_fixed(taken.problems):
        visit.note(f"{name} is recorded. {'; '.join(taken.lines) or 'It says nothing new.'}")
        return visit.go(AFTER[taken.kind])
    return visit.show("form-done", "input", name=name, said=taken, back=AFTER[taken.kind])


def _looked(visit: Visit) -> FormLooked:
    looked = visit.result(FormLooked)
    if not looked.file.is_file():
        raise NotHere
    return looked
