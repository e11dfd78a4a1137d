"""Any file that comes to a site: what it is, what it would do, and taking it in."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime
from enum import StrEnum
from pathlib import Path

from picklist.documents.plan_json import plan_from_json
from picklist.evening.keep_plans import listed_starts
from picklist.evening.revise import plan_kept
from picklist.evening.usage import UsageLine, read_usage
from picklist.letters import natural_key
from picklist.model.built import read_cart_code
from picklist.model.site import Site
from picklist.problems import Problem
from picklist.store.keep_forms import was_taken
from picklist.store.state import StateFile
from picklist.tables.folder import TEXTS, WORKBOOKS
from picklist.tables.forms_schema import CARTS, THINGS, USAGE
from picklist.tables.nearest import plain
from picklist.tables.workbooks import sheet_names
from picklist.tasks.beside_site import built_day
from picklist.tasks.crew import look_at_scan_file, look_at_workbook, tell_by_scan_file, tell_by_workbook
from picklist.tasks.day_after import tell_used
from picklist.tasks.errors import WrongUse, opened_state, refuse_private_name
from picklist.tasks.message_files import look_at_messages, of_messages, receive_from
from picklist.tasks.moment import Meant
from picklist.tasks.office_desk import is_office_workbook
from picklist.tasks.read_folder import load_folder, load_site
from picklist.wording import counted, full_day
from picklist.wording.say_carts import cart_state, report_lines

MESSAGES = (".hl7", ".json", ".ndjson", ".txt")  # and scans
ACCEPTED = (*WORKBOOKS, *TEXTS, *MESSAGES)
HEAD = 4096  # characters at the start of a file by which a text is known
PLAN_HEAD = re.compile(r'\{\s*"(\$schema|\$defs|version)"\s*:')  # of plan.json and its schema
SHEETS_OF_PLAN = frozenset(map(plain, ("Cautions", "Evening", "Pick lists")))  # of plan.xlsx
LOOKED_AT = 7  # built days, the newest first, among which a form of used things is sought


class FileKind(StrEnum):
    """What a file is, by what is in it and not by its name."""

    TABLES = "tables of the site"
    CARTS = "the crew's form of carts"
    USED = "the form of what was used"
    OFFICE = "an office's workbook of preference cards"
    MESSAGES = "scheduling messages"
    SCANS = "a list of scans"


@dataclass(frozen=True, slots=True, kw_only=True)
class FormSaid:
    """What a file recorded, or would record, each line in words, and what is wrong in the rest.

    ``before``: these very contents were recorded already; ``answers`` are those to the scans of a file, one by one.
    """

    kind: FileKind
    lines: tuple[str, ...]
    problems: tuple[Problem, ...]
    day: date | None = None
    before: bool = False
    answers: tuple[str, ...] = ()


def recognise(file: Path) -> FileKind:
    """What a file is. Raises WrongUse for a text that is nothing known."""
    if file.suffix.lower() in WORKBOOKS:
        return _kind_of_workbook(file)
    with file.open("rb") as opened:
        head = opened.read(HEAD).decode("utf-8-sig", errors="replace")
    start = head.lstrip("\x0b\r\n\t ")
    if PLAN_HEAD.match(start):
        raise _own_plan(file)
    if start.startswith(("MSH|", "FHS|", "BHS|")) or (start[:1] in ("{", "[") and file.suffix.lower() not in TEXTS):
        return FileKind.MESSAGES
    first = next((line.strip() for line in start.splitlines() if line.strip() and line[0] != "#"), "")
    if read_cart_code(first) or first.upper().startswith("CART "):
        return FileKind.SCANS
    if file.suffix.lower() in TEXTS:
        if is_office_workbook(file):
            return FileKind.OFFICE
        return FileKind.USED if _has_head_of_usage(first) else FileKind.TABLES
    raise WrongUse(
        f"{file.name} is not known: expected a workbook or CSV file of the site, a form that picklist printed, an "
        "office's workbook, scheduling messages (HL7 v2 or FHIR), or scans that start with a cart's label"
    )


def _kind_of_workbook(file: Path) -> FileKind:
    if is_office_workbook(file):
        return FileKind.OFFICE
    names = {plain(name) for name in sheet_names(file)[0]}
    if names >= SHEETS_OF_PLAN:
        raise _own_plan(file)
    if {plain(CARTS.name), plain(THINGS.name)} <= names:
        return FileKind.CARTS
    return FileKind.USED if plain(USAGE.name) in names else FileKind.TABLES


def _own_plan(file: Path) -> WrongUse:
    return WrongUse(
        f"{file.name} is the plan that picklist made; there is nothing in it to take in. To change the plan, change "
        "the tables of the site and build again"
    )


def _has_head_of_usage(line: str) -> bool:
    """Whether a CSV file's first line has the columns that a row of the form must have, and the one to fill in."""
    heads = {plain(head.strip(' "')) for head in line.replace(";", ",").replace("\t", ",").split(",")}
    return {"case", "thing", "used"} <= heads


def try_form(folder: Path, file: Path, kind: FileKind, now: datetime) -> FormSaid:
    """What a form, scans or messages would record; nothing is written. Raises WrongUse."""
    refuse_private_name(file)
    if kind is FileKind.MESSAGES:
        seen = look_at_messages(folder, file)
        about = (f"{counted(seen.new, 'message')} about cases, {seen.refused} that cannot be used",)
        return FormSaid(kind=kind, lines=about, problems=seen.problems)
    _, site = load_site(folder, now)
    with opened_state(folder) as state:
        before = was_taken(state, file)
        if kind is FileKind.USED:
            day, used, problems = _day_of_usage(state, folder, file, site)
            lines = (*_used_lines(used)[:1], *_used_in_words(used))
            return FormSaid(kind=kind, day=day, lines=lines, problems=problems, before=before)
    look = look_at_workbook if kind is FileKind.CARTS else look_at_scan_file
    found = look(folder, file, now)
    lines = tuple(
        f"{one.case}: {said}" for one in found.kept for said in (cart_state(one, by=one.by), *report_lines(one))
    )
    return FormSaid(
        kind=kind,
        day=found.day,
        lines=lines,
        problems=found.problems,
        before=before or found.before,
        answers=found.answers,
    )


def take_form(folder: Path, file: Path, trial: FormSaid, now: datetime) -> FormSaid:
    """Record what a form, scans or messages say, as the commands do. Raises WrongUse."""
    kind, day = trial.kind, trial.day
    if kind is FileKind.MESSAGES:
        done = receive_from(folder, [file], datetime.now(UTC))
        problems = (*done.problems, *of_messages(load_folder(folder, Meant.of(now)).problems))
        said = f"{counted(done.new, 'new message')}, {done.repeated} that came before, {done.refused} refused"
        return FormSaid(kind=kind, lines=(said,), problems=problems)
    if kind is FileKind.USED:
        if day is None:
            raise WrongUse("no day was built yet, so that nothing can be recorded as used")
        used = tell_used(folder, file, day, now)
        return FormSaid(kind=kind, lines=_used_lines(used.lines), problems=used.problems)
    tell = tell_by_workbook if kind is FileKind.CARTS else tell_by_scan_file
    told = tell(folder, file, now, day)
    lines = tuple(f"{one.case}: {cart_state(one, by=one.by)}" for one in told.kept)
    return FormSaid(kind=kind, lines=lines, problems=told.problems)


def built_days(folder: Path) -> tuple[date, ...]:
    """The days of which lists were built, the newest first. Raises WrongUse."""
    with opened_state(folder) as state:
        return _built_days(state)


def _built_days(state: StateFile) -> tuple[date, ...]:
    return tuple(sorted(listed_starts(state, date.min), reverse=True))


def _day_of_usage(
    state: StateFile, folder: Path, file: Path, site: Site
) -> tuple[date | None, tuple[UsageLine, ...], tuple[Problem, ...]]:
    """The day of whose carts a form speaks, with what it says: it names cases, and no day.

    A day whose plan cannot be read is passed over. Raises WrongUse where that is every one.
    """
    best: tuple[date | None, tuple[UsageLine, ...], tuple[Problem, ...]] = (None, (), ())
    days = _built_days(state)[:LOOKED_AT]
    plans = {day: plan for day in days if (plan := plan_kept(state, day, plan_from_json))}
    if days and not plans:
        built_day(state, folder, days[0])  # says why it cannot be read
    for day, plan in plans.items():
        lines, problems = read_usage(file, plan, site)
        if best[0] is None or (len(lines), -len(problems)) > (len(best[1]), -len(best[2])):
            best = (day, lines, problems)
    return best


def _used_lines(lines: tuple[UsageLine, ...]) -> tuple[str, ...]:
    if not lines:
        return ()
    by_case: dict[str, int] = {}
    for line in lines:
        by_case[line.case] = by_case.get(line.case, 0) + 1
    each = tuple(f"{case}: {counted(by_case[case], 'line')}" for case in sorted(by_case, key=natural_key))
    return (f"used on {full_day(lines[0].day)}, {counted(len(by_case), 'case')}", *each)


def _used_in_words(lines: tuple[UsageLine, ...]) -> tuple[str, ...]:
    """What each line says became of its thing."""
    return tuple(
        f"{one.case}, {one.set_id or one.thing}: {one.used} used"
        + (f", {one.unopened} back unopened" if one.unopened_told else "")
        + (f", {one.added} asked for beyond the list" if one.added else "")
        for one in lines
    )
