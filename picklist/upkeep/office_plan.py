"""What an office's workbook says, sheet by sheet and row by row, before any spreadsheet is made of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from itertools import count

from picklist.model.site import Site
from picklist.tables.cells import Raw
from picklist.upkeep.card_rows import KIND_ORDER, CardBook, CardRow, Origin, open_book, read_card, read_coming
from picklist.upkeep.change_log import AnsweredRequest
from picklist.upkeep.entries import Entries, entry_text, list_entries
from picklist.upkeep.owners import Owner, owner_name, procedures_of
from picklist.upkeep.slots import thing_name
from picklist.upkeep.stamps import StampRow, WorkbookStamp, card_version, row_mark
from picklist.wording import open_and_hold

NEW_LINES = 12
ASK_LINES = 5
NO_LONGER = "no longer"
MINE_COUNTS = "mine counts"
ASK = "ask"
EVERY_TITLE, EVERY_HEADING = "Every procedure", "For every procedure"


class RowUse(StrEnum):
    """What an office can do with a row."""

    LINE = "line"
    FIXED = "fixed"
    NEW = "new"
    ASK = "ask"


@dataclass(frozen=True, slots=True, kw_only=True)
class RowPlan:
    """The cells of one row by header, as they will stand there; ``own``: the line is the owner's."""

    use: RowUse
    cells: Mapping[str, Raw]
    own: bool = False
    coming: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPlan:
    """One sheet: the card of a procedure, or of every procedure (None)."""

    procedure: str | None
    title: str
    heading: str
    rows: tuple[RowPlan, ...]
    reviewed: date | None = None

    def count(self, *, own: bool) -> int:
        """How many lines the card has: the owner's own, or all that are on it."""
        lines = [row for row in self.rows if row.use in (RowUse.LINE, RowUse.FIXED) and not row.coming]
        return sum(row.own for row in lines) if own else len(lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class BookPlan:
    """A whole workbook: its sheets, its stamp, the catalogue for its drop-downs, and answers to earlier requests."""

    owner: Owner
    owner_name: str
    site: Site
    stamp: WorkbookStamp
    entries: Entries
    sheets: tuple[SheetPlan, ...]
    told: tuple[AnsweredRequest, ...] = ()


def plan_office_book(site: Site, owner: Owner, day: date) -> BookPlan:
    """The workbook of an owner as the cards are on a day."""
    wanted = procedures_of(site, owner)
    stamp = WorkbookStamp(version=card_version(site, owner, wanted, day), owner=owner, day=day, site=site.settings.site)
    book, entries = open_book(site), list_entries(site)
    cards: tuple[str | None, ...] = (*wanted, None) if owner.surgeon else wanted
    keys = count(1)
    rows: list[StampRow] = []
    sheets = []
    for procedure in cards:
        card = _with_coming(read_card(book, owner, procedure, day), read_coming(book, owner, procedure, day))
        stamped = [_stamp_row(entries, procedure, row, f"L{next(keys):03d}") for row in card]
        rows += stamped
        planned = [_line(site, book, stamp, row, one) for row, one in zip(card, stamped, strict=True)]
        sheets.append(_sheet(site, procedure, (*planned, *empty_rows()), card))
    return BookPlan(
        owner=owner,
        owner_name=owner_name(site, owner),
        site=site,
        stamp=replace(stamp, rows=tuple(rows)),
        entries=entries,
        sheets=tuple(sheets),
    )


def _with_coming(card: tuple[CardRow, ...], coming: tuple[CardRow, ...]) -> tuple[CardRow, ...]:
    """What counts from a later day stands beneath what counts today, and can be changed as well."""
    slots = {row.slot for row in coming}
    today = [row for row in card if row.origin is not Origin.COMING or row.slot not in slots]
    rows: list[CardRow] = []
    for row in today:
        rows += [row, *(one for one in coming if row.mine and one.slot == row.slot)]
    rows += [one for one in coming if not any(one.slot == row.slot and row.mine for row in today)]
    return tuple(sorted(rows, key=lambda row: KIND_ORDER[row.slot.kind]))


def empty_rows() -> Iterator[RowPlan]:
    """Room for new lines, and for asking for what is not in the catalogue."""
    new, ask = {"Comes from": "new line", "Line": "new"}, {"What": ASK, "Comes from": "not in the list", "Line": ASK}
    yield from [RowPlan(use=RowUse.NEW, cells=new)] * NEW_LINES + [RowPlan(use=RowUse.ASK, cells=ask)] * ASK_LINES


def sheet_heading(site: Site, procedure: str | None) -> str:
    """The heading of a card's sheet."""
    if procedure is None:
        return EVERY_HEADING
    known = site.procedures.get(procedure)
    return f"{known.name} ({procedure})" if known else procedure


def _sheet(site: Site, procedure: str | None, rows: tuple[RowPlan, ...], card: tuple[CardRow, ...]) -> SheetPlan:
    first_days = [line.begins for row in card if row.mine for line in row.own if line.begins]
    return SheetPlan(
        procedure=procedure,
        title=procedure or EVERY_TITLE,
        heading=sheet_heading(site, procedure),
        rows=rows,
        reviewed=max(first_days, default=None),
    )


def _stamp_row(entries: Entries, procedure: str | None, row: CardRow, key: str) -> StampRow:
    thing = row.want or row.beneath or row.slot
    return StampRow(
        procedure=procedure,
        key=key,
        slot=row.slot,
        want=row.want,
        shown=entries.text(thing.kind, thing.thing),
        fixed=bool(row.fixed),
        begins=row.begins if row.mine else None,
    )


def _line(site: Site, book: CardBook, stamp: WorkbookStamp, row: CardRow, stamped: StampRow) -> RowPlan:
    want = row.want
    return RowPlan(
        use=RowUse.FIXED if row.fixed else RowUse.LINE,
        cells={
            "What": (want or row.beneath or row.slot).kind.value,
            "Name (number)": stamped.shown,
            "Open": want.open if want else 0,
            "Hold": want.hold if want else 0,
            "Note": want.note if want else None,
            "Keep or drop": None if want else NO_LONGER,
            "Only when": stamped.when or None,
            "Comes from": _comes_from(site, book, row, stamp.owner),
            "Line": stamped.key,
            "As sent": row_mark(stamp, stamped),
        },
        coming=stamped.begins is not None,
        own=bool(stamp.owner.surgeon) and row.origin in (Origin.OWN, Origin.CHANGED, Origin.DROPPED),
    )


def _comes_from(site: Site, book: CardBook, row: CardRow, owner: Owner) -> str:
    words = "base card" if row.origin is Origin.OWN and owner.service else str(row.origin)
    if row.origin in (Origin.CHANGED, Origin.DROPPED) and row.beneath:
        other = row.want is not None and row.want.core[:2] != row.beneath.core[:2]
        name = (
            f"{entry_text(thing_name(site, row.beneath.kind, row.beneath.thing), row.beneath.thing)}, " if other else ""
        )
        words = f"own; base card: {name}{open_and_hold(row.beneath.open, row.beneath.hold)}"
    if row.origin is Origin.BASE and row.beneath and row.slot == _pack_slot(book, row):
        words = "pack of the procedure"
    if row.begins and not row.mine:
        words += f" ({site.settings.site_clock.day_text(row.begins)})"
    if row.fixed and row.fixed != str(row.origin):
        words += f"; fixed: {row.fixed}"
    ends = [line.ends for line in row.own if line.ends]
    if ends and len(ends) == len(row.own):
        words += f"; until {site.settings.site_clock.day_text(max(ends))}"
    if row.coming and row.coming[0].begins:
        words += f"; changes on {site.settings.site_clock.day_text(row.coming[0].begins)}"
    return words


def _pack_slot(book: CardBook, row: CardRow) -> object:
    packs = {procedure.pack for procedure in book.site.procedures.values()}
    return row.slot if row.slot.kind.value == "pack" and row.slot.thing in packs and not row.own else None
