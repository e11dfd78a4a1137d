"""The ways in: each takes an input, as the program does, and gives what was understood and what was said of it."""

from __future__ import annotations

import re
import shutil
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from html import unescape
from pathlib import Path
from random import Random
from unittest.mock import patch
from urllib.parse import quote

from picklist.documents.plan_json import plan_from_json, plan_to_json
from picklist.plan import PlanRequest, make_plan
from picklist.problems import Problem
from picklist.problems_report import write_report
from picklist.server import app as pages
from picklist.server import work as works
from picklist.server.desk import Desk
from picklist.store.keep_messages import kept_messages
from picklist.store.state import open_state, state_path
from picklist.tasks.crash import report_crash
from picklist.tasks.errors import WrongUse, refusals
from picklist.tasks.offices import take_cards
from picklist.tasks.own_export import is_export, learn_export, look_at_export, take_export, with_codes
from picklist.tasks.read_folder import load_folder
from picklist.tasks.take_file import keep_file, plain_name, try_file
from picklist.tasks.take_form import ACCEPTED, FileKind, recognise, take_form, try_form
from tests.hard import spoil as s
from tests.hard.evening import NOW, Evening
from tests.inputs.folders import DAY
from tests.server.forms import fields_of
from tests.server.site import DOOR, at, client_of

PROBLEMS_WITHOUT_A_FILE = frozenset({"missing table"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came of an input: what was understood, what is wrong with it, or why it was refused whole."""

    understood: object = None
    problems: tuple[Problem, ...] = ()
    refused: str = ""

    @property
    def said(self) -> set[tuple[str, str]]:
        """What is wrong, and where."""
        return {(one.kind, str(one.where)) for one in self.problems}


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """A way in: the file that comes, how it may be spoiled, how it may be dressed, and who takes it."""

    file: str
    ways: tuple[s.Spoil, ...]
    dresses: tuple[s.Spoil, ...]
    take: Callable[[Evening, bytes], Answer]


def plan_folder(evening: Evening) -> Answer:
    """Read, check and plan the site's folder; the plan is written and read back."""
    loaded = load_folder(evening.site, NOW)
    if loaded.site is None:
        return Answer(problems=loaded.problems)
    order = PlanRequest(day=DAY, now=loaded.now, with_chance=False)
    plan = make_plan(loaded.site, loaded.problems, order)
    if plan_from_json(plan_to_json(plan)) != plan:
        raise AssertionError("a plan is not read back as it was written")
    return Answer(understood=(loaded.site, plan.carts), problems=loaded.problems)


def _table(name: str) -> Callable[[Evening, bytes], Answer]:
    def take(evening: Evening, data: bytes) -> Answer:
        if name.endswith(".csv"):
            for book in evening.site.glob("*.xlsx"):
                book.unlink()
            shutil.copytree(evening.place / "csv", evening.site, dirs_exist_ok=True)
        (evening.site / name).write_bytes(data)
        return plan_folder(evening)

    return take


def _came(evening: Evening, name: str, data: bytes) -> Path:
    path = evening.place / plain_name(name, ACCEPTED)
    path.write_bytes(data)
    return path


def _form(name: str) -> Callable[[Evening, bytes], Answer]:
    """A form, scans or messages: looked at, then recorded, as from the page. Any file may be of any kind."""

    def take(evening: Evening, data: bytes) -> Answer:
        file = _came(evening, name, data)
        kind = recognise(file)
        if kind is FileKind.TABLES:
            trial = try_file(evening.site, file, file.name, NOW)
            keep_file(evening.site, file, trial, NOW)
            return plan_folder(evening)
        if kind is FileKind.OFFICE:
            return _office(evening, data)
        looked = try_form(evening.site, file, kind, NOW)
        done = take_form(evening.site, file, looked, NOW)
        after = plan_folder(evening)
        return Answer(
            understood=(kind, done.lines, _messages(evening) if kind is FileKind.MESSAGES else None),
            problems=(*looked.problems, *done.problems, *after.problems),
        )

    return take


def _messages(evening: Evening) -> object:
    with open_state(state_path(evening.site)) as state:
        return [one.event for one in kept_messages(state)]


def _office(evening: Evening, data: bytes) -> Answer:
    file = evening.place / "office.xlsx"
    file.write_bytes(data)
    back = take_cards(evening.site, file, NOW)
    changes = back.proposal.changes if back.proposal else ()
    asked = tuple(one.asked for one in back.requests)
    if back.back is not None:
        take_cards(evening.site, back.back, NOW)  # what goes back can come back
    return Answer(understood=(changes, asked), problems=back.problems)


def _export(evening: Evening, data: bytes) -> Answer:
    """The hospital's own export: looked at, learned and taken in."""
    for path in evening.site.glob("schedule*"):
        path.unlink()
    file = _came(evening, "export.csv", data)
    is_export(evening.site, file)
    look = look_at_export(evening.site, file)
    with refusals():
        learn_export(evening.site, look, with_codes(look, {}), NOW)
        take_export(evening.site, look, NOW)
    return plan_folder(evening)


DOORS: dict[str, Door] = {
    **{
        f"site: {name}": Door(file=f"site/{name}", ways=s.WORKBOOK, dresses=s.DRESS_WORKBOOK, take=_table(name))
        for name in ("schedule.xlsx", "cards.xlsx", "trays.xlsx", "supplies.xlsx", "site.xlsx", "department.xlsx")
    },
    **{
        f"site: {name}": Door(file=f"csv/{name}", ways=s.TEXT, dresses=(s.other_dialect,), take=_table(name))
        for name in ("Schedule.csv", "Cards.csv", "Sets.csv", "Lots.csv", "Routes.csv", "Settings.csv")
    },
    "crew: carts": Door(file="came/carts.xlsx", ways=s.WORKBOOK, dresses=s.DRESS_WORKBOOK, take=_form("carts.xlsx")),
    "crew: used": Door(file="came/used.xlsx", ways=s.WORKBOOK, dresses=s.DRESS_WORKBOOK, take=_form("used.xlsx")),
    "crew: used in text": Door(file="came/used.csv", ways=s.TEXT, dresses=(s.other_dialect,), take=_form("used.csv")),
    "crew: scans": Door(file="came/scans.txt", ways=s.TEXT, dresses=s.DRESS_TEXT, take=_form("scans.txt")),
    "office": Door(file="came/office.xlsx", ways=s.WORKBOOK, dresses=(), take=_office),
    "export": Door(file="came/export.csv", ways=s.TEXT, dresses=(s.other_dialect,), take=_export),
    "messages: HL7": Door(file="came/messages.hl7", ways=s.TEXT, dresses=s.DRESS_TEXT, take=_form("messages.hl7")),
    "messages: FHIR": Door(file="came/bundle.json", ways=s.JSON, dresses=(s.key_order,), take=_form("bundle.json")),
    "messages: NDJSON": Door(file="came/lines.ndjson", ways=s.JSON, dresses=(), take=_form("lines.ndjson")),
}
# The pages whose forms are filled in at random, and where they go.
FORMS: tuple[tuple[str, str], ...] = (
    ("carts/case?case=C-1", "carts/case"),
    ("carts/case?case=C-3", "carts/case"),
    ("try", "try"),
    ("put-backs", "put-backs"),
    ("scan", "scan"),
    ("decisions", "decisions/of"),
    ("after", "after/settle"),
    ("after", "after/write"),
    ("input", "input/fix"),
    ("offices", "offices/workbook"),
    ("offices", "offices/undo"),
    ("offices", "offices/tidy"),
    ("papers", "papers/morning"),
    ("papers", "papers/calendars"),
    ("", "build"),
)
SLOW = frozenset({"build"})  # prints papers: by hand only
ASKED = (
    "why?case={}&thing={}",
    "carts/case?case={}",
    "decisions/of?about={}",
    "offices/history?procedure={}",
    "work/{}",
)


def run_door(door: Door, evening: Evening, data: bytes) -> Answer:
    """Bring an input to its door, in a copy of the evening; a refusal is an answer, all else goes up."""
    with evening.copy() as own:
        try:
            answer = door.take(own, data)
        except WrongUse as wrong:
            return Answer(refused=str(wrong))
    write_report(answer.problems)
    return answer


def faults(answer: Answer) -> Iterator[str]:
    """What an answer lacks: a place for each problem, a sentence for a refusal."""
    for one in answer.problems:
        if not one.message or not (one.where.file or one.kind in PROBLEMS_WITHOUT_A_FILE):
            yield f"a problem without a place or a message: {one!r}"
    if answer.refused and ("Traceback" in answer.refused or len(answer.refused) < 10):
        yield f"a refusal that says nothing: {answer.refused}"


def understood_otherwise(sound: Answer, other: Answer) -> bool:
    """Whether the same, written in another way, was taken for something else without a word."""
    return other.understood != sound.understood and not other.refused and other.said <= sound.said


@contextmanager
def faults_of_pages() -> Iterator[list[str]]:
    """Gather what the page and its work take for a fault of the program."""
    found: list[str] = []

    def kept(error: BaseException) -> str:
        found.append("".join(traceback.format_exception(error)))
        return report_crash(error)

    with patch.object(pages, "report_crash", kept), patch.object(works, "report_crash", kept):
        yield found


def fill_in(desk: Desk, rng: Random, *, slow: bool = False) -> str:
    """Fill in one form of the page at random, send it, and look at what comes; what was sent, in words."""
    client = client_of(desk)
    if rng.random() < 0.2:
        words = [quote(str(rng.choice(s.TYPED)), safe="") for _ in range(2)]
        asked = rng.choice(ASKED).format(*words)
        client.get(at(asked))
        return asked
    page, target = rng.choice([one for one in FORMS if slow or one[1] not in SLOW])
    shown = client.get(at(page)).text
    further = re.search(rf'href="([^"]*/{target}\?[^"]*)"', shown)  # a page whose form is one click away
    if further:
        shown = client.get(unescape(further[1])).text
    fields = {**fields_of(shown), "token": DOOR.token}
    sent = s.spoil_form(fields, rng)
    answer = client.post(at(target), data=sent)
    where = answer.headers.get("location", "")
    work = desk.workshop.find(where.rsplit("/", 1)[-1]) if "/work/" in where else None
    if work is not None:
        work.done.wait()
        if work.next and not work.refused:
            client.get(at(work.next))
    return f"{target} {sent}"
