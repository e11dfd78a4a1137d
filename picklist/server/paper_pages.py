"""The pages of the printed documents, of the board, and of why a thing is on a list."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from starlette.responses import Response

from picklist.model.known import NO_REPORTS, CartReport
from picklist.model.plan import Cart, Plan, in_order_of_completion
from picklist.server.carts import words_of
from picklist.server.visit import NotHere, Visit, asked_words, holds_words
from picklist.server.work import Lane
from picklist.tasks.cart_reports import carts_told
from picklist.tasks.morning import print_morning
from picklist.tasks.papers import list_papers, lists_by_case
from picklist.tasks.shown import Lookup, board_html
from picklist.tasks.targets import PrintedPage
from picklist.tasks.why import why_alone
from picklist.tasks.why_listed import why_thing
from picklist.wording.say_carts import reports_on
from picklist.wording.say_remedies import PAPERS_COMING, while_sought

# The day's documents in the order in which an evening wants them, with what each is for.
DAY_PAPERS = {
    "evening.pdf": ("The evening", "all carts in order, conflicts, carts on hold"),
    "pick-lists.pdf": ("All pick lists", "all carts in order of completion"),
    "pick-lists-changed.pdf": ("Pick lists of this revision", "only those that are new or changed"),
    "changes.pdf": ("Changes", "what this revision changes on carts, and what to put back"),
    "labels-new.pdf": ("New cart labels", "only those of new or changed lists"),
    "labels.pdf": ("Cart labels", "to cut and stick on"),
    "bulk.pdf": ("Bulk sheet", "the evening's picking by place"),
    "department.pdf": ("Department sheet", "when each set must be where"),
    "worklist.pdf": ("Worklist", "each station's work in order, until midnight"),
    "conflicts.pdf": ("Conflict sheet", "proofs and remedies"),
    "board.html": ("The board", "rooms and sets over time, to look at on a screen"),
    "shortages.pdf": ("Shortages", "what is short, for which case, and stand-ins"),
    "carts.xlsx": ("Carts workbook", "for the crew to fill in: built, missing, stand-ins"),
    "used.xlsx": ("Usage workbook", "to fill in after the operations: what was opened and used"),
    "plan.xlsx": ("The same as a workbook", "all tables"),
}
TYPES = {
    ".pdf": "application/pdf",
    ".html": "text/html; charset=utf-8",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
# Our own documents carry their style, and the board its script, within them; they get nothing else.
ALONE = (
    "sandbox allow-scripts allow-modals allow-popups allow-downloads; default-src 'none'; style-src 'unsafe-inline'; "
    "script-src 'unsafe-inline'; img-src data:; font-src data:; frame-ancestors 'self'; base-uri 'none'"
)
PRINTED = "default-src 'none'; style-src 'unsafe-inline'; object-src 'self'; frame-ancestors 'self'"


class DayPaper(NamedTuple):
    """A document of the whole day: its file, what it is called and is for, and of which kind it is."""

    file: str
    name: str
    about: str
    kind: str


class CartList(NamedTuple):
    """The pick list of a cart, with its files as PDF and as a page; empty where there is none."""

    cart: Cart
    pdf: str
    html: str


def show_papers(visit: Visit) -> Response:
    """Every document, to open and print."""
    files = list_papers(visit.desk.out)
    plan, find = visit.desk.plan(), asked_words(visit)
    day = [_day_paper(file) for file in DAY_PAPERS if file in files]
    other = [file for file in files if "/" not in file and file not in DAY_PAPERS]
    return visit.show(
        "papers",
        "papers",
        day=[*day, *(_day_paper(file) for file in other)],
        lists=_lists(visit, plan, files, find) if plan else (),
        when=Lookup(plan).when if plan else None,
        find=find,
        where=str(visit.desk.out),
        coming=while_sought(plan.search, PAPERS_COMING) if plan else "",
        cases=[cart.case.number for cart in in_order_of_completion(plan.carts)] if plan else [],
    )


def _day_paper(file: str) -> DayPaper:
    stem = Path(file).stem.replace("-", " ")
    name, about = DAY_PAPERS.get(file, (stem[:1].upper() + stem[1:], ""))
    return DayPaper(file, name, about, Path(file).suffix[1:].upper())


def _lists(visit: Visit, plan: Plan, files: tuple[str, ...], find: str) -> list[CartList]:
    by_case = lists_by_case(visit.desk.out)
    rows = []
    for cart in in_order_of_completion(plan.carts):
        pdf = by_case.get(cart.case.number, "")
        html = f"html/{Path(pdf).stem}.html"
        if holds_words(find, *words_of(cart), "ON HOLD" if cart.stopped else ""):
            rows.append(CartList(cart, pdf if pdf in files else "", html if html in files else ""))
    return rows


def send_paper(visit: Visit) -> Response:
    """One document, if it is among those that were written."""
    file = visit.path["file"]
    if file not in list_papers(visit.desk.out):
        raise NotHere
    path = visit.desk.out / file
    try:
        content = path.read_bytes()
    except OSError:  # a build has just put new papers in their place
        raise NotHere from None
    kind = path.suffix.lower()
    headers = {"content-security-policy": ALONE if kind == ".html" else PRINTED}
    if kind == ".xlsx":
        headers["content-disposition"] = f'attachment; filename="{path.name}"'
    return Response(content, media_type=TYPES[kind], headers=headers)


def start_morning(visit: Visit) -> Response:
    """Print the page for the morning as things stand now."""
    desk, plan = visit.desk, visit.desk.plan()
    page = desk.new_place() / "morning.pdf"

    def doing() -> PrintedPage:
        done = print_morning(desk.folder, page, desk.now(), plan.day if plan else None)
        return PrintedPage(page, done.notices)

    return visit.wait_for("Printing the morning page", Lane.CHECK, doing, "papers/morning/{}")


def show_morning(visit: Visit) -> Response:
    """What is to be said of the page for the morning, before it is looked at; the page itself where that is nothing."""
    printed = f"papers/morning/{visit.path['work']}/print"
    notices = visit.result(PrintedPage).notices
    return visit.show("morning", "papers", notices=notices, printed=printed) if notices else visit.go(printed)


def send_morning(visit: Visit) -> Response:
    """The page for the morning."""
    page = visit.result(PrintedPage).file.read_bytes()
    return Response(page, media_type=TYPES[".pdf"], headers={"content-security-policy": PRINTED})


def show_board(visit: Visit) -> Response:
    """The board of the evening's plan, in a frame."""
    plan = visit.desk.plan()
    reports = _reports(visit, plan) if plan else {}
    mark = hashlib.sha256(repr((plan.revision, plan.search, reports) if plan else "").encode()).hexdigest()[:12]
    return visit.show("board", "board", there=plan is not None, mark=mark)  # another mark, and the frame looks again


def send_board(visit: Visit) -> Response:
    """The board itself."""
    plan = visit.plan()
    return board_page(plan, _reports(visit, plan))


def board_page(plan: Plan, reported: Mapping[str, CartReport] = NO_REPORTS) -> Response:
    """The board of a plan as a page that may only run its own script."""
    kind = {"content-security-policy": ALONE}
    return Response(board_html(plan, reported), media_type=TYPES[".html"], headers=kind)


def show_why(visit: Visit) -> Response:
    """Why a thing is on a case's list or is not; a case alone or a set: what it lacks or waits for."""
    case, thing = visit.asked.get("case", "").strip()[:80], visit.asked.get("thing", "").strip()[:200]
    folder, now = visit.desk.folder, visit.desk.now()
    answer = (why_thing(folder, case, thing, now) if thing else why_alone(folder, case, now)) if case else None
    plan = visit.desk.plan()
    numbers = [cart.case.number for cart in in_order_of_completion(plan.carts)] if plan else []
    return visit.show("why", "papers", case=case, thing=thing, answer=answer, cases=numbers)


def _reports(visit: Visit, plan: Plan) -> dict[str, CartReport]:
    return reports_on(carts_told(visit.desk.folder, plan.day), plan.settings.site_clock)
