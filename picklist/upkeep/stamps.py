"""The stamp: what an office's workbook said when it was made, carried in the workbook itself.

The marks of the texts in its protected cells are beside it, so that what was typed later is told apart.
"""

from __future__ import annotations

import base64
import hashlib
import json
import sqlite3
import warnings
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from openpyxl import Workbook, load_workbook

from picklist.model.site import Site
from picklist.resolve.versions import line_text
from picklist.store.typed_records import Records
from picklist.tables.book import put_value
from picklist.tables.cells import tidy
from picklist.tables.lay_out import AUTHOR
from picklist.upkeep.owners import Owner
from picklist.upkeep.slots import RowKey, RowValue, from_text, slot_data, slot_from, want_data, want_from, when_text

MARK = "card line "


@dataclass(frozen=True, slots=True, kw_only=True)
class StampRow:
    """One row as it was sent: its key, its slot, what was wanted and the entry that was shown.

    ``fixed`` rows are not the office's to change. ``asked``: the row went back because of a clash,
    and ``want`` is since then what the master said; the office must answer. ``begins``: the row says
    what counts from that later day on.
    """

    procedure: str | None
    key: str
    slot: RowKey
    want: RowValue | None
    shown: str
    fixed: bool = False
    asked: bool = False
    begins: date | None = None

    @property
    def when(self) -> str:
        """When the row counts, as it is in its cell."""
        return "; ".join(text for text in (when_text(self.slot), from_text(self.begins)) if text)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkbookStamp:
    """Whose workbook it is, of which day, from which version of the cards, and all its rows.

    ``site`` is the name of the site that made it; empty in workbooks made before it was written down.
    """

    version: str
    owner: Owner
    day: date
    site: str = ""
    rows: tuple[StampRow, ...] = ()


def card_version(site: Site, owner: Owner, procedures: tuple[str, ...], day: date) -> str:
    """A short mark of the card lines and packs that an owner's workbook is made from, and the day: ``8F3A-21C7``.

    Two versions of one site and day are the same when every line of the owner and beneath, and each pack, is the same.
    """
    wanted = {*procedures, None}
    layers = {owner.layer, None}
    packs = [known.pack for one in procedures if (known := site.procedures.get(one))]
    digest = hashlib.sha256(repr((site.settings.site, owner, day, procedures, packs)).encode())
    for line in site.card_lines:
        if line.procedure in wanted and line.surgeon in layers:
            state = f"{line_text(line, site)}|{line.counted}|{line.approved}|{line.note}\n"
            digest.update(state.encode())
    text = digest.hexdigest()[:8].upper()
    return f"{text[:4]}-{text[4:]}"


def row_mark(stamp: WorkbookStamp, row: StampRow) -> str:
    """The hidden text that a row carries, so that even one sheet saved as CSV can be compared.

    It is packed into letters and digits, for a CSV file may be parted by any sign.
    """
    data: dict[str, Any] = {
        "version": stamp.version,
        "site": stamp.site,
        "day": stamp.day.isoformat(),
        "surgeon": stamp.owner.surgeon,
        "service": stamp.owner.service,
        "card": row.procedure or "",
        "line": row.key,
        "slot": slot_data(row.slot),
        "want": want_data(row.want),
        "shown": row.shown,
    }
    if row.begins:
        data["from"] = row.begins.isoformat()
    if row.fixed:
        data["fixed"] = 1
    if row.asked:
        data["asked"] = 1
    packed = base64.urlsafe_b64encode(json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode())
    return MARK + packed.decode("ascii")


def read_mark(text: object) -> tuple[WorkbookStamp, StampRow] | None:
    """The stamp (without its rows) and the row that a mark tells of; None when it is no mark."""
    if not isinstance(text, str) or not text.startswith(MARK):
        return None
    try:
        data = json.loads(base64.urlsafe_b64decode(text[len(MARK) :].strip()))
        stamp = WorkbookStamp(
            version=str(data["version"]),
            owner=Owner(surgeon=str(data["surgeon"]), service=str(data["service"])),
            day=date.fromisoformat(data["day"]),
            site=str(data.get("site", "")),
        )
        row = StampRow(
            procedure=str(data["card"]) or None,
            key=str(data["line"]),
            slot=slot_from(data["slot"]),
            want=_tidied(want_from(data["want"])),
            shown=str(data["shown"]),
            fixed=bool(data.get("fixed")),
            asked=bool(data.get("asked")),
            begins=date.fromisoformat(data["from"]) if data.get("from") else None,
        )
    except (ValueError, KeyError, TypeError, AttributeError):
        return None
    return stamp, row


def _tidied(want: RowValue | None) -> RowValue | None:
    return replace(want, note=tidy(want.note)) if want else None


SENT = Records("card_sent", WorkbookStamp)


def keep_stamp(db: sqlite3.Connection, stamp: WorkbookStamp) -> None:
    """Keep a stamp, for a workbook that comes back without its hidden cells."""
    rows = tuple(replace(row, want=_tidied(row.want)) for row in stamp.rows)
    SENT.keep(db, replace(stamp, rows=rows), version=stamp.version)


def find_stamp(db: sqlite3.Connection | None, version: str) -> WorkbookStamp | None:
    """The stamp of a version that was sent from here."""
    return next((stamp for _, stamp in SENT.rows(db, "version = ?", version)), None) if db else None


STAMP_SHEET = "Stamp"
KNOWN = "text "


class DamagedBookError(Exception):
    """Cells of a workbook can be read, but the whole of it cannot: a part that only shows is broken."""


def load_office_book(path: Path) -> Workbook:
    """An office's workbook, with the looks of parts of a text. Raises DamagedBookError."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what the library does not keep of other programs' extras
        with path.open("rb") as file:  # a file object: the library would look at the name's ending
            try:
                return load_workbook(file, keep_vba=path.suffix.lower() == ".xlsm", rich_text=True)
            except OSError:
                raise
            except Exception as error:  # the library's own, of any kind
                raise DamagedBookError from error


def written_cells(sheet: Any) -> list[Any]:
    """The cells that a sheet holds, row by row; going by its outermost cell could mean millions."""
    return [sheet._cells[place] for place in sorted(sheet._cells)]


def is_filled(cell: Any) -> bool:
    """Whether a cell holds anything to see."""
    return cell.value is not None and tidy(str(cell.value)) != ""


def keep_known_texts(workbook: Workbook, titles: Iterable[str]) -> None:
    """Note what is in the protected cells of some sheets and in our own notes, beside what was noted before."""
    known = known_texts(workbook) or set()
    for title in titles:
        cells = written_cells(workbook[title])
        known |= {text_mark(cell.value) for cell in cells if is_filled(cell) and cell.protection.locked}
    for sheet in workbook.worksheets:
        known |= {text_mark(cell.comment.text) for cell in written_cells(sheet) if is_ours(cell.comment, known)}
    stamp = stamp_sheet(workbook)
    for number, text in enumerate(sorted(known), start=1):
        put_value(stamp.cell(number, 2), KNOWN + text)


def stamp_sheet(workbook: Workbook) -> Any:
    """The sheet of stamps, to be written: it is the program's own, so cells that somebody merged come apart."""
    sheet = workbook[STAMP_SHEET]
    for area in [*sheet.merged_cells.ranges]:
        sheet.unmerge_cells(area.coord)
    return sheet


def known_texts(workbook: Workbook) -> set[str] | None:
    """Marks of the texts that were in protected cells; None in a workbook that does not say."""
    if STAMP_SHEET not in workbook.sheetnames:
        return None
    cells = (cell.value for cell in written_cells(workbook[STAMP_SHEET]) if cell.column == 2)
    found = {text.removeprefix(KNOWN) for text in cells if isinstance(text, str) and text.startswith(KNOWN)}
    return found or None


def is_ours(comment: Any, known: set[str] | None) -> bool:
    """Whether a note on a cell is one of the program's; other programs drop its author."""
    return comment is not None and (comment.author == AUTHOR or text_mark(comment.text) in (known or ()))


def text_mark(value: object) -> str:
    """A short mark of what a cell holds."""
    return hashlib.sha256(tidy(str(value)).encode()).hexdigest()[:10]
