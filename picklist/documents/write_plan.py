"""One plan to one folder of papers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime
from enum import IntEnum
from functools import cached_property, partial
from pathlib import Path
from typing import Any

from picklist.documents import tables
from picklist.documents.board.page import board_html
from picklist.documents.html_lists import OwnTemplateError, pick_list_html
from picklist.documents.missing_characters import CharacterCheck
from picklist.documents.page_cache import (
    LEDGER,
    FormerPages,
    KnownSheet,
    changes_file,
    earlier_changes,
    free_name,
    html_file,
    ledger_text,
    paper_of,
)
from picklist.documents.pages import Sheet, join
from picklist.documents.plan_json import plan_to_json, schema_text
from picklist.documents.set_ahead import SetAhead
from picklist.documents.set_pages import PageSetter, Progress
from picklist.documents.templates import fonts_of_sheets
from picklist.documents.views.bulk import BulkView, in_parts
from picklist.documents.views.change_sheet import ChangesView
from picklist.documents.views.conflict_sheet import ConflictsView
from picklist.documents.views.department_sheet import DepartmentView
from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.finished_words import View, as_data
from picklist.documents.views.labels import LabelsView, label_bars, new_labels
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.shortages import ShortagesView
from picklist.documents.views.stamp import Printing, printing_of, stamp_for
from picklist.documents.views.worklist import WorklistView
from picklist.documents.whole_folder import Keep, PutAside, write_folder
from picklist.documents.workbook import SheetTable, workbook_bytes
from picklist.evening.changes import PlanChange
from picklist.evening.open_points import OpenPoints
from picklist.model.known import NO_REPORTS
from picklist.model.plan import Cart, Plan, in_order_of_completion


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintResult:
    """What was written: the folder, its files, which pick lists were drawn anew, and characters that were replaced."""

    folder: Path
    files: tuple[str, ...]
    drawn: tuple[str, ...]
    kept: tuple[str, ...]
    notices: tuple[str, ...]


class Extent(IntEnum):
    """How much of a plan's folder is made: each holds what the ones before it hold, and more.

    LISTS are the pick lists with what they change; SHEETS all other papers and forms, and ALL the workbook too.
    """

    LISTS = 1
    SHEETS = 2
    ALL = 3


@dataclass(frozen=True, slots=True)
class ListPapers:
    """The pick lists of a plan in order of completion, as sheets and, by file, as views.

    A list that stays as it is in the folder has no view where only lists are asked for. ``characters`` are those
    of its sheets that no font has.
    """

    papers: tuple[KnownSheet, ...]
    views: Mapping[str, PickListView]
    characters: CharacterCheck

    @property
    def is_whole(self) -> bool:
        """Whether all views are there."""
        return len(self.views) == len(self.papers)


class MadeOnce:
    """Files that are the same in each step of a hand-out, made where the first of them needs them."""

    def __init__(self) -> None:
        self._files: dict[str, bytes] = {}

    def get(self, file: str, make: Callable[[], bytes]) -> bytes:
        """The contents of a file."""
        if file not in self._files:
            self._files[file] = make()
        return self._files[file]


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintOrder:
    """How a plan is printed.

    ``printings`` gives the printing of a case's pick list where it is not the plan's own: a list
    of an earlier revision keeps its former pages as they are in the target. ``change`` against
    an earlier plan prints the sheet of changes and is shown on the lists concerned. ``own_html``
    is a site's folder of templates for the HTML lists; where they are wrong, ours are used and a
    notice says so. ``extra`` are files to be among the papers, by name, with what makes them. ``keep`` puts aside
    what others changed of the former papers, and ``owner`` marks the site (see ``write_folder``). ``points``: what
    is open by all that was reported and decided. ``ahead``: sheets that are set, or being set, already.
    ``extent``: how much of it. ``lists``: those of the same plan, where they are known. ``plan_json``: its
    plan.json, where that is made already. ``made``: what other steps of the same hand-out made, or will need.
    """

    printings: Mapping[str, Printing] = field(default_factory=dict)
    change: PlanChange | None = None
    own_html: Path | None = None
    extra: Mapping[str, Callable[[], bytes]] = field(default_factory=dict)
    keep: Keep | None = None
    owner: str = ""
    points: OpenPoints | None = None
    ahead: tuple[SetAhead, ...] = ()
    extent: Extent = Extent.ALL
    lists: ListPapers | None = None
    plan_json: bytes | None = None
    made: MadeOnce | None = None


AS_IT_IS = PrintOrder()


def write_plan(plan: Plan, target: Path, order: PrintOrder = AS_IT_IS, progress: Progress | None = None) -> PrintResult:
    """Print a plan: all documents into ``target``: all of them or none.

    Pages of an earlier run whose data did not change are kept. ``progress`` gets each finished
    file. Raises NotOurFolderError for a folder that holds files of others.
    """
    work = _Work(plan, target, order, progress or (lambda *_: None))
    aside = write_folder(target, work.fill, keep=order.keep, owner=order.owner)
    files = sorted(p.relative_to(target).as_posix() for p in target.rglob("*") if p.is_file() and p.name[0] != ".")
    return PrintResult(
        folder=target,
        files=tuple(files),
        drawn=tuple(work.setter.drawn),
        kept=tuple(work.setter.kept),
        notices=(*work.setter.notices, *work.notices, *work.characters.report(), *(_aside(one) for one in aside)),
    )


def papers_to_set(plan: Plan, target: Path, order: PrintOrder) -> tuple[ListPapers, list[Sheet]]:
    """The pick lists of a plan, and of all that is asked for the sheets that no earlier run left in ``target``."""
    work = _Work(plan, target, order, lambda *_: None)
    papers = (*work.lists.papers, *work.day_papers())
    fresh = (one for one in papers if work.former.pages(one, plan.revision) is None)
    return work.lists, [part for paper in fresh for part in paper.parts]


def _aside(one: PutAside) -> str:
    what = "was changed since it was printed" if one.ours else "has the same name as a new file"
    return f"{one.file} {what}; your version is kept as {one.to}"


class _Work:
    """The making of one folder."""

    def __init__(self, plan: Plan, target: Path, order: PrintOrder, progress: Progress) -> None:
        self.plan = plan
        self.target = target
        self.found = Lookup(plan)
        self.order = order
        self.change = order.change if order.change and order.change.old_revision is not None else None
        self.reports = self.change.reports() if self.change else NO_REPORTS
        self.characters = CharacterCheck(fonts_of_sheets())
        self.former = FormerPages(target)
        self.setter = PageSetter(self.former, plan.revision, order.ahead, progress)
        self.made = order.made or MadeOnce()
        self.own_html = order.own_html
        self.notices: list[str] = []

    def printing(self, case: str) -> Printing:
        return self.order.printings.get(case) or printing_of(self.plan)

    @cached_property
    def lists(self) -> ListPapers:
        known = self.order.lists
        if known and (known.is_whole or self.order.extent < Extent.SHEETS):
            if self.order.extent >= Extent.ALL:
                self.characters.join(known.characters)
            return known
        papers, views, taken = list[KnownSheet](), dict[str, PickListView](), set[str]()
        for cart in in_order_of_completion(self.plan.carts):
            case, start = cart.case, self.found.clock.wall(cart.case.start)
            file = f"pick-lists/{free_name(f'{case.room} {start:%H%M} {case.number}', taken)}.pdf"
            paper = self._kept_list(cart, file)
            if paper is None:
                views[file] = self._pick_list(cart)
                paper = self._list_of(views[file], file)
            papers.append(paper)
        return ListPapers(tuple(papers), views, self.characters)

    def _kept_list(self, cart: Cart, file: str) -> KnownSheet | None:
        """The list of a cart as an earlier run left it, where it stays as it is and nothing else is made of it."""
        case, printing = cart.case.number, self.printing(cart.case.number)
        if self.order.extent >= Extent.SHEETS or printing.revision >= self.plan.first_new:
            return None
        if (kept := self.former.kept_list(case, printing.revision)) is None:
            return None
        sheet = Sheet(file=file, template="pick-list", data={}, made=printing.printed)
        return KnownSheet(sheet=sheet, case=case, revision=printing.revision, digest=kept[0], kept=kept[1])

    def _list_of(self, view: PickListView, file: str) -> KnownSheet:
        printing = self.printing(view.case)
        return paper_of(self._sheet(file, "pick-list", view, printing.printed), view.case, printing.revision)

    def fill(self, folder: Path) -> None:
        """Every document of the plan, as far as it is asked for."""
        lists, views = self.lists.papers, self.lists.views
        papers = [*lists, *self.day_papers()]
        with ThreadPoolExecutor(1) as beside:
            book = beside.submit(self._workbook, tuple(views.values())) if self.order.extent >= Extent.ALL else None
            pdfs = self.setter.pages(papers)
            if book:
                _put(folder / "plan.xlsx", book.result())
        for paper in papers:
            _put(folder / paper.sheet.file, pdfs[paper.sheet.file])
        every = self.order.extent >= Extent.SHEETS
        new = [p.sheet.file for p in lists if p.revision >= self.plan.first_new]
        some_new = 0 < len(new) < len(lists)
        if some_new:
            self._put_joined(folder / "pick-lists-changed.pdf", [pdfs[file] for file in new])
        if lists and (every or not some_new):  # none on a day that is wholly cancelled
            self._put_joined(folder / "pick-lists.pdf", [pdfs[paper.sheet.file] for paper in lists])
        for file, pdf in self._all_changes(folder).items():
            _put(folder / file, pdf)
        for paper in lists:
            file, html = paper.sheet.file, html_file(paper.sheet.file)
            if kept := self.former.kept_html(paper, self.plan.revision):
                _put(folder / html, kept)
            elif every or file in new:
                _put(folder / html, self.made.get(html, partial(self._html, views[file])))
        _put(folder / "plan.json", self.order.plan_json or plan_to_json(self.plan))
        if every:
            _put(folder / "board.html", board_html(self.plan, self.reports).encode())
            _put(folder / "plan.schema.json", schema_text().encode())
        for file, make in self.order.extra.items() if every else ():
            _put(folder / file, self.made.get(file, make))
        _put(folder / LEDGER, ledger_text(papers).encode())

    def _put_joined(self, path: Path, pdfs: list[bytes]) -> None:
        _put(path, self.made.get(path.name, lambda: join(pdfs, self.plan.now)))

    def _all_changes(self, folder: Path) -> dict[str, bytes]:
        """The sheets of changes of all revisions of the day: what an earlier one asked for may not be done yet."""
        sheets = earlier_changes(self.target, self.plan.day, self.plan.revision)
        if self.change:
            sheets[changes_file(self.plan.day, self.plan.revision)] = (folder / "changes.pdf").read_bytes()
        return sheets

    def _pick_list(self, cart: Cart) -> PickListView:
        number = cart.case.number
        change = self.change.of_live(number) if self.change else None
        return PickListView(self.found, cart, self.printing(number), change)

    def _html(self, view: PickListView) -> bytes:
        try:
            return pick_list_html(view, self.own_html).encode()
        except OwnTemplateError as wrong:
            if self.own_html is None:
                raise
            self.notices.append(f"{wrong}; the HTML lists have their usual look")
            self.own_html = None
            return pick_list_html(view).encode()

    @cached_property
    def views(self) -> dict[str, Any]:
        """The papers beside the pick lists, as far as they are asked for, each by the name of its file."""
        found, labels = self.found, LabelsView(self.found, self.printing)
        whole_day = self.order.extent >= Extent.SHEETS
        views: dict[str, Any] = {"bulk": BulkView(found, self.change)} if whole_day else {}
        if self.change:
            views["changes"] = ChangesView(found, self.change)
            fresh = new_labels(labels, range(self.plan.first_new, self.plan.revision + 1))
            views |= {"labels-new": fresh} if fresh.labels else {}
        if whole_day:
            views |= {
                "evening": EveningView(found, self.printing, self.reports, self.order.points),
                "labels": labels,
                "department": DepartmentView(found),
                "conflicts": ConflictsView(found),
                "shortages": ShortagesView(found),
                "worklist": WorklistView(found),
            }
        return views

    def day_papers(self) -> list[KnownSheet]:
        """The same as sheets to set."""
        return [self._day_paper(name, view) for name, view in self.views.items()]

    def _day_paper(self, name: str, view: View) -> KnownSheet:
        template = name.removesuffix("-new")
        parts = in_parts(view) if isinstance(view, BulkView) else (view,)
        first, *rest = (self._sheet(f"{name}.pdf", template, part, self.plan.now) for part in parts)
        return paper_of(first, rest=tuple(rest))

    def _sheet(self, file: str, template: str, view: View, made: datetime) -> Sheet:
        data = self.characters.everywhere(as_data(view))
        for label, shown in zip(getattr(view, "labels", ()), data.get("labels", ()), strict=True):
            shown["bars"] = label_bars(label.code, label.gs1)
        return Sheet(file=file, template=template, data=data, made=made)

    def _workbook(self, lists: tuple[PickListView, ...]) -> bytes:
        return workbook_bytes(self._tables(lists), self.plan.now, self.plan.day)

    def _tables(self, lists: tuple[PickListView, ...]) -> list[SheetTable]:
        views, stamp = self.views, stamp_for(self.plan)
        return [
            tables.cautions_table(stamp),
            tables.evening_table(views["evening"]),
            tables.open_table(views["evening"]),
            *([tables.changes_table(views["changes"])] if self.change else []),
            tables.pick_list_table(lists, stamp),
            tables.labels_table(views["labels"]),
            tables.bulk_table(views["bulk"]),
            tables.department_table(views["department"]),
            tables.turnaround_table(views["department"]),
            tables.worklist_table(views["worklist"]),
            tables.ready_table(views["department"]),
            tables.conflicts_table(views["conflicts"]),
            tables.shortages_table(views["shortages"]),
            tables.notes_table(views["evening"], views["department"], views["conflicts"]),
        ]


def _put(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
