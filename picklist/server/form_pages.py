"""A filled form, scans or messages that were dropped on the page: what they are, what they say, and recording it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from starlette.responses import Response

from picklist.problems import must_be_fixed
from picklist.problems_report import count_line
from picklist.server.desk import Desk
from picklist.server.problem_rows import problem_sheets
from picklist.server.visit import NotHere, Visit
from picklist.server.work import Lane
from picklist.tasks.take_form import FileKind, FormSaid, take_form, try_form
from picklist.wording import full_day

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
class FormDone:
    """What came of recording a file."""

    name: str
    taken: FormSaid


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
    trial = looked.trial
    return visit.show(
        "form",
        "input",
        work=visit.path["work"],
        name=looked.file.name,
        kind=trial.kind.value,
        day=full_day(trial.day) if trial.day else "",
        lines=trial.lines,
        before=trial.before,
        answers=trial.answers,
        sheets=problem_sheets(trial.problems),
        count=count_line(trial.problems),
        to_fix=must_be_fixed(trial.problems),
    )


def record_form(visit: Visit) -> Response:
    """Record what a file says."""
    desk, looked = visit.desk, _looked(visit)
    return visit.wait_for(f"Recording {looked.file.name}", Lane.CHECK, lambda: _record(desk, looked), "forms/{}/done")


def _record(desk: Desk, looked: FormLooked) -> FormDone:
    taken = take_form(desk.folder, looked.file, looked.trial, desk.now())
    return FormDone(name=looked.file.name, taken=taken)


def show_recorded(visit: Visit) -> Response:
    """What was recorded: back to the carts or the day after when all of it was, else what to fix."""
    done = visit.result(FormDone)
    taken = done.taken
    if not must_be_fixed(taken.problems):
        visit.note(f"{done.name} is recorded. {'; '.join(taken.lines) or 'It says nothing new.'}")
        return visit.go(AFTER[taken.kind])
    return visit.show(
        "form-done",
        "input",
        name=done.name,
        lines=taken.lines,
        back=AFTER[taken.kind],
        sheets=problem_sheets(taken.problems),
        count=count_line(taken.problems),
    )


def _looked(visit: Visit) -> FormLooked:
    looked = visit.result(FormLooked)
    if not looked.file.is_file():
        raise NotHere
    return looked
