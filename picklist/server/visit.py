"""One request as the pages see it, and what they answer with."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from html import escape
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import quote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.datastructures import UploadFile
from starlette.responses import HTMLResponse, RedirectResponse, Response

from picklist import problems_report as report
from picklist import wording
from picklist.model.plan import Plan
from picklist.server.desk import Desk
from picklist.server.front_door import FrontDoor
from picklist.server.work import Lane
from picklist.tasks.errors import WrongUse
from picklist.tasks.shown import isolated, template_folder
from picklist.tasks.take_form import ACCEPTED
from picklist.wording.lists import AID, CHECK_BEFORE_USE

CHUNK = 1 << 20
NOTES, MARKS = "<!--notes-->", "<!--marks-->"  # placeholders in the frame for what differs at each look
LONGEST = 200
REFUSED = "refused"
# The pages, in the order in which an evening goes.
PAGES = (
    ("", "Tonight"),
    ("input", "Input"),
    ("papers", "Papers"),
    ("board", "Board"),
    ("try", "Try a change"),
    ("decisions", "Decisions"),
    ("carts", "Carts"),
    ("scan", "Scan"),
    ("after", "Day after"),
    ("offices", "Offices"),
)


R = TypeVar("R")


def to_save(content: bytes | str, name: str, media_type: str) -> Response:
    """A file to save under a name."""
    headers = {"content-disposition": f"attachment; filename*=UTF-8''{quote(name, safe='')}"}
    return Response(content, media_type=media_type, headers=headers)


class NotHere(Exception):  # noqa: N818 - an answer, no error of the program
    """There is no such page or thing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A request: its words from the path, the address and the form, and the files that came with it."""

    desk: Desk
    door: FrontDoor
    path: Mapping[str, str] = field(default_factory=dict)
    asked: Mapping[str, str] = field(default_factory=dict)
    form: Mapping[str, str] = field(default_factory=dict)
    lists: Mapping[str, Sequence[str]] = field(default_factory=dict)
    files: Mapping[str, UploadFile] = field(default_factory=dict)
    version: str = ""
    notes: list[str] = field(default_factory=list)

    def note(self, sentence: str) -> None:
        """Something to say at the head of the page that this window sees next."""
        self.notes.append(sentence)

    def link(self, page: str = "") -> str:
        """The address of one of our pages."""
        return f"{self.door.base}/{page}"

    def plan(self, otherwise: str = "") -> Plan:
        """The evening's plan. Before the first build, raises NotHere, or WrongUse with what is said ``otherwise``."""
        plan = self.desk.plan()
        if plan is None:
            raise WrongUse(otherwise) if otherwise else NotHere
        return plan

    def check_day(self, plan: Plan) -> None:
        """Raise WrongUse where the form was shown over the carts of another day than that of the lists there now."""
        shown = self.form.get("of", "")
        if shown and shown != plan.day.isoformat():
            raise WrongUse(
                f"this page shows the carts of {wording.full_day(self.day('of'))}, and the lists are those of "
                f"{wording.full_day(plan.day)} now; open the page again"
            )

    def day(self, field: str) -> date:
        """A day that the form must hold. Raises WrongUse."""
        text = self.form.get(field, "")
        try:
            return date.fromisoformat(text)
        except ValueError:
            raise WrongUse(f"{text or 'nothing'} is not a day such as 2026-11-26") from None

    def save(self, upload: UploadFile) -> Path:
        """A file that came in, in a place of our own under a name of our own."""
        place = self.desk.new_file()
        with place.open("wb") as file:
            while block := upload.file.read(CHUNK):
                file.write(block)
        return place

    def wait_for(self, title: str, lane: Lane, doing: Callable[[], object], after: str, **about: Any) -> Response:
        """Begin a long piece of work and wait for it; then ``after``, with ``{}`` for its number, is shown.

        ``about`` is noted of it for that page.
        """
        work = self.desk.workshop.start(title, lane, lambda _progress: doing(), after)
        work.about.update(about)
        return self.go(f"work/{work.id}")

    def result(self, kind: type[R]) -> R:
        """What the work that the address names came to. Raises NotHere for anything of another kind."""
        work = self.desk.workshop.find(self.path["work"])
        if work is None or not isinstance(work.result, kind):
            raise NotHere
        return work.result

    def about(self, name: str) -> Any:
        """What was noted of the work that the address names when it began. Raises NotHere where nothing was."""
        work = self.desk.workshop.find(self.path["work"])
        if work is None or name not in work.about:
            raise NotHere
        return work.about[name]

    def show(self, template: str, here: str, **view: Any) -> Response:
        """A page from its template; ``here`` is the page that the head marks as open.

        Its marks are of what was there before the page was made, so that no window misses what came since.
        """
        text = (
            _templates()
            .get_template(f"{template}.html.j2")
            .render(
                pages=PAGES,
                here=here,
                link=self.link,
                token=self.door.token,
                accepted=ACCEPTED,
                folder=self.desk.folder.resolve().name,
                **view,
            )
        )
        version = "" if template == REFUSED else self.version  # a refusal stays until it is read
        mark = hashlib.sha256(text.encode()).hexdigest()[:16]
        said = (*self.desk.take_notes(self.asked.get("said", "")), *self.notes)
        notes = "".join(f"<p>{escape(note)}</p>" for note in said)
        text = text.replace(NOTES, f'<div class="said" role="status">{notes}</div>' if notes else "")
        return HTMLResponse(text.replace(MARKS, f'data-version="{version}" data-mark="{mark}"'))

    def go(self, page: str = "") -> Response:
        """Send the browser to one of our pages."""
        if self.notes:
            page, hashed, place = page.partition("#")
            word = self.desk.keep_notes(self.notes)
            page = f"{page}{'&' if '?' in page else '?'}said={word}{hashed}{place}"
        return RedirectResponse(self.link(page), 303)


def one_line(text: str) -> str:
    """Words as one line without unprintable characters, cut to a length that a sheet can hold."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())[:LONGEST]


@cache
def _templates() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(template_folder() / "server"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=isolated,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals |= {"aid": AID, "check_before_use": CHECK_BEFORE_USE, "report": report, "wording": wording}
    return environment


LONGEST_SEARCH = 80
SHORT = 3


def asked_words(visit: Visit) -> str:
    """What the address asks to find."""
    return visit.asked.get("find", "").strip()[:LONGEST_SEARCH]


def holds_words(find: str, *texts: str) -> bool:
    """Whether every word stands somewhere in a row; a short one, as the 7 of ``OR 7``, as a word of its own."""
    said = " ".join(texts).casefold()
    whole = set(re.split(r"[\W_]+", said)) | set(said.split())
    return all(word in whole or (len(word) >= SHORT and word in said) for word in find.casefold().split())
