"""The page of the folder: what is wrong in its files and fixed there, the door for new ones, and the first ones."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from starlette.responses import Response

from picklist.clock import SiteClock
from picklist.letters import whole_number
from picklist.problems import must_be_fixed
from picklist.problems_report import count_line
from picklist.server.desk import Desk
from picklist.server.export_pages import start_learning
from picklist.server.form_pages import TriedFile, start_looking, start_trying
from picklist.server.office_pages import start_taking
from picklist.server.visit import NotHere, Visit
from picklist.tasks.errors import WrongUse, as_typed
from picklist.tasks.fix_cell import fix_cell, fixes_made, undo_fix
from picklist.tasks.message_files import messages_seen
from picklist.tasks.new_site import make_blank, make_demo
from picklist.tasks.own_export import is_export
from picklist.tasks.read_folder import list_files
from picklist.tasks.take_file import keep_file, likely_name, plain_name
from picklist.tasks.take_form import ACCEPTED, FileKind, recognise
from picklist.wording import counted, full_day


class InputFile(NamedTuple):
    """A file of the folder, when it was saved, and how many problems are in it."""

    name: str
    saved: str
    problems: str


def show_input(visit: Visit) -> Response:
    """The files and their problems."""
    desk = visit.desk
    checking, checked = desk.check(), desk.checked()
    problems = checked.problems if checked else ()
    rows, plan = [], desk.plan()
    clock = plan.settings.site_clock if plan else SiteClock("UTC")
    for name, moment, _size in list_files(desk.folder):
        of_file = [p for p in problems if p.where.file == name]
        saved = datetime.fromtimestamp(moment / 1e9, UTC).astimezone()
        in_it = count_line(of_file) if checked and not checked.refused else ""
        rows.append(InputFile(name, f"{full_day(saved)} {clock.wall_text(saved.time())}", in_it))
    return visit.show(
        "input",
        "input",
        files=rows,
        work=checking if checked is None else None,
        problems=problems,
        wrong=[one for one in problems if must_be_fixed((one,))],
        notices=[one for one in problems if not must_be_fixed((one,))],
        fixed=[(one.number, one.said) for one in fixes_made(desk.folder)][::-1],
        count=count_line(problems) if checked and not checked.refused else "",
        refused=checked.refused if checked else "",
        messages=_messages(desk, clock),
        site=as_typed(desk.folder),
    )


def _messages(desk: Desk, clock: SiteClock) -> str:
    """What other systems sent so far, in words; empty where nothing came."""
    seen = messages_seen(desk.folder, datetime.now(UTC))
    if seen is None:
        return ""
    last = seen.last.astimezone()
    refused = f", {counted(seen.refused, 'message')} refused (see below)" if seen.refused else ""
    when = f"{full_day(last)} {clock.wall_text(last.time())}"
    return f"{counted(seen.about_cases, 'message')} about cases so far, the last one on {when}{refused}."


def hand_in_file(visit: Visit) -> Response:
    """Take a file in, and try it in a scratch copy of the folder."""
    upload = visit.files.get("file")
    if upload is None or not upload.filename:
        raise WrongUse("no file was chosen")
    name = plain_name(upload.filename, ACCEPTED)
    named = visit.save(upload).rename(visit.desk.new_place() / name)
    kind = recognise(named)
    if kind is FileKind.OFFICE:
        return start_taking(visit, named, name)
    if kind is not FileKind.TABLES:
        return start_looking(visit, named, kind)
    if is_export(visit.desk.folder, named):
        return start_learning(visit, named)
    return start_trying(visit, named, likely_name(visit.desk.folder, plain_name(name)))


def hand_in_again(visit: Visit) -> Response:
    """Try the same file under another name."""
    return start_trying(visit, _tried(visit).file, plain_name(visit.form.get("name", "")))


def show_trial(visit: Visit) -> Response:
    """What a file would do, before it is kept."""
    trial = _tried(visit).trial
    others = [name for name, _, _ in list_files(visit.desk.folder) if name != trial.name]
    same_kind = [name for name in others if Path(name).suffix.lower() == Path(trial.name).suffix.lower()]
    return visit.show("trial", "input", work=visit.path["work"], trial=trial, other_names=same_kind)


def keep_handed_in(visit: Visit) -> Response:
    """Put a tried file in its place."""
    tried = _tried(visit)
    former = keep_file(visit.desk.folder, tried.file, tried.trial, visit.desk.now())
    tried.file.unlink()
    put_away = f" The former version is in {former.parent.name} as {former.name}." if former else ""
    visit.note(f"{tried.trial.name} is kept.{put_away}")
    return visit.go("input")


def drop_handed_in(visit: Visit) -> Response:
    """Forget a tried file."""
    visit.result(TriedFile).file.unlink(missing_ok=True)
    visit.note("The file was not kept; nothing changed.")
    return visit.go("input")


def _tried(visit: Visit) -> TriedFile:
    tried = visit.result(TriedFile)
    if not tried.file.is_file():  # kept or dropped since
        raise NotHere
    return tried


def fix_problem(visit: Visit) -> Response:
    """Write a value into the cell of a problem, as long as the page is about the files as they are there."""
    desk = visit.desk
    checked = desk.checked()
    number = whole_number(visit.form.get("problem", ""))
    problems = checked.problems if checked else ()
    problem = problems[number] if number is not None and number < len(problems) else None
    if problem is None or str(problem.where) != visit.form.get("where", ""):
        raise WrongUse("the files were changed since this page was shown; look at the problems again")
    right = visit.form.get("right", "").strip()
    if not right:
        raise WrongUse("no value was typed; nothing was written")
    fix_cell(desk.folder, problem, right, desk.now())
    return visit.go("input")


def undo_problem_fix(visit: Visit) -> Response:
    """Undo a fix, of this run or an earlier one."""
    number = whole_number(visit.path["number"])
    one = next((fixed for fixed in fixes_made(visit.desk.folder) if fixed.number == number), None)
    if one is None:
        raise NotHere
    undo_fix(visit.desk.folder, one)
    visit.note(f"{one.file} is as it was before.")
    return visit.go("input")


def write_demo(visit: Visit) -> Response:
    """Write the made-up hospital into the folder."""
    desk = visit.desk
    make_demo(desk.folder, desk.now())
    visit.note("A small made-up hospital with cases tomorrow is in the folder. Build its lists.")
    return visit.go()


def write_blank_workbooks(visit: Visit) -> Response:
    """Write blank workbooks into the folder."""
    desk = visit.desk
    files = make_blank(desk.folder, desk.now())
    names = " and ".join(path.name for path in files)
    visit.note(f"{names} are in the folder. Replace their example lines by your own.")
    return visit.go("input")
