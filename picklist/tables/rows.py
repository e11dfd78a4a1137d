"""Rows of a table: parsed values, and the faults of the cells that could not be parsed."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from picklist.labels.label import Label
from picklist.problems import Where
from picklist.settings import DateOrder
from picklist.tables.cells import CUT_OFF, PRIVATE, CellFlaw, Fault, FilledRows, Grid, Raw, is_empty, shown
from picklist.tables.columns import CellType, Column, Table
from picklist.tables.drafts import Draft, Ledger
from picklist.tables.headers import Header
from picklist.tables.left_out import in_rows, report_left_out, spans
from picklist.tables.parse import DATED, LISTED, ColumnParser, Look
from picklist.tables.parse_dates import order_of
from picklist.tables.parse_words import TURNED
from picklist.tables.private import kind_of
from picklist.tables.scanned_labels import Scanned, differs, scanned_labels
from picklist.tables.sheet_flags import letters_of

OF_SEVERAL = frozenset({"merged cell", CUT_OFF.kind})  # flaws that several cells have by one cause


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """The sheet or CSV file that a row came from, with the 0-based place of each column that was found.

    ``bare`` are the reports of its columns without any content of which a row must fill in one.
    """

    file: str
    sheet: str
    places: Mapping[str, int]
    bare: dict[str, Draft] = field(default_factory=dict)

    def where(self, number: int, column: str = "") -> Where:
        """The place of a row, or of one of its cells."""
        letter = letters_of(self.places[column]) if self.sheet and column in self.places else ""
        return Where(
            file=self.file, sheet=self.sheet, row=number, column=column, cell=f"{letter}{number}" if letter else ""
        )

    @classmethod
    def of(cls, grid: Grid, positions: Mapping[str, int]) -> Source:
        """That of a grid whose columns were found."""
        places = {name: grid.origin(place) for name, place in positions.items()}
        return cls(file=grid.file, sheet=grid.sheet, places=places)

    @property
    def letters(self) -> dict[str, str]:
        """The letters of its columns; none of a CSV file."""
        return {name: letters_of(place) for name, place in self.places.items()} if self.sheet else {}


@dataclass(slots=True)
class Row:
    """One row: values by column name (no entry for a bad cell) and the drafts of its bad cells by column.

    ``unstated`` are the columns that each row must state and that this one leaves empty.
    ``label`` is what makers' labels in its cells say together (see ``Table.labels``).
    """

    source: Source
    number: int
    values: dict[str, Any]
    bad: dict[str, Draft] = field(default_factory=dict)
    unstated: tuple[str, ...] = ()
    label: Label | None = None

    def where(self, column: str = "") -> Where:
        """The place of the row, or of one of its cells."""
        return self.source.where(self.number, column)

    def has(self, *columns: str) -> bool:
        """Whether none of these cells is bad."""
        return not self.bad or self.bad.keys().isdisjoint(columns)


class RowReader:
    """Turns the grid of one table into rows, reporting what is wrong on the way."""

    def __init__(self, table: Table, grid: Grid, header: Header, ledger: Ledger, order: DateOrder) -> None:
        """Take a grid whose header was found; ``order`` is the site's order of text dates."""
        self._table = table
        self._grid = grid
        self._header = header
        self._ledger = ledger
        self._order = order
        self._source = Source.of(grid, header.positions)
        self._columns = [
            column for column in table.columns if column.name in header.positions and column.name not in header.unusable
        ]
        self._places = {column.name: header.positions[column.name] for column in self._columns}
        self._shared: dict[CellFlaw, Draft] = {}
        self._labels = table.labels if ledger.today else None
        names = (self._labels.item, self._labels.lot, self._labels.expiry, self._labels.serial) if self._labels else ()
        self._label_places = {name: place for name, place in self._places.items() if name in names}
        self._must = {column.name for column in table.columns if column.required}
        self._optional_texts = {c.name for c in table.columns if c.type is CellType.TEXT and not c.required}

    def rows(self) -> list[Row]:
        """All rows that hold anything in a column of the table; columns are parsed one after the other."""
        flaw_merged(self._grid, self._header.row, set(self._places.values()))
        self._skip_headers()
        filled = FilledRows.of(self._grid, self._header.row, self._places)
        bare = report_left_out(self._grid, self._header, self._table, filled, self._ledger)
        self._source.bare.update(bare)
        for column in self._columns if self._grid.months else ():
            if column.type is CellType.EXPIRY:
                self._take_months(filled, column.name)
        parsers = {column.name: self._parser(column, filled.cells[column.name]) for column in self._columns}
        scanned = self._scan(filled.cells) if self._labels else {}
        values = {
            column.name: [ColumnParser(column).default] * len(filled.indexes)
            for column in self._table.columns
            if column.name not in parsers
        }
        faults: dict[int, dict[str, Fault]] = {}
        for name, parser in parsers.items():
            parsed = parser.column_of(filled.cells[name])
            values[name] = parsed.values
            for n, fault in parsed.faults.items():
                faults.setdefault(n, {})[name] = fault
        names = tuple(values)
        rows = [
            Row(self._source, index + 1, dict(zip(names, cells, strict=True)))
            for index, cells in zip(filled.indexes, zip(*values.values(), strict=True), strict=True)
        ]
        self._report_rows(rows, filled, faults, scanned)
        self._notice_hidden()
        return rows

    def _skip_headers(self) -> None:
        """A header that comes again, as at the top of each printed page, is no row."""
        rows, first = self._grid.rows, self._header.row
        again = [index for index in range(first + 1, len(rows)) if rows[index] == rows[first]]
        if again:
            self._grid.skipped |= {*again}
            where = self._grid.where(again[0])
            held = f"{in_rows(again)} the header again and {'was' if len(again) == 1 else 'were'} not read"
            self._ledger.notice("header again", where, held)

    def _take_months(self, filled: FilledRows, name: str) -> None:
        """Let an expiry that its sheet shows as a month be that month: the cell holds its first day."""
        cells, place = filled.cells[name], self._grid.origin(self._places[name])
        for n, index in enumerate(filled.indexes):
            raw = cells[n]
            if (index, place) in self._grid.months and isinstance(raw, date) and raw.day == 1:
                cells[n] = f"{raw:%Y-%m}"

    def _parser(self, column: Column, raws: list[Raw]) -> ColumnParser:
        if column.type in DATED:
            own = order_of(raws)
            by_site = self._order is not DateOrder.ANY and own is not None
            return ColumnParser(column, self._order if by_site else own)
        look = Look(kind_of(self._table, column), self._ledger.today)
        return ColumnParser(column, digits=self._digits(raws) if column.type is CellType.CODE else 0, look=look)

    def _digits(self, raws: list[Raw]) -> int:
        """How many digits the ids have that are typed as text with leading zeros; 0 when they differ."""
        if self._grid.is_csv:
            return 0
        lengths = {len(raw) for raw in set(raws) if isinstance(raw, str) and raw[:1] == "0" and raw.isdigit()}
        return lengths.pop() if len(lengths) == 1 else 0

    def _scan(self, cells: dict[str, list[Raw]]) -> dict[int, Scanned]:
        """What makers' labels in the rows say, by row from 0; ``cells`` are filled in as the labels say."""
        assert self._labels is not None
        assert self._ledger.today is not None
        found: dict[int, Scanned] = {}
        for n, raws in enumerate(zip(*(cells[name] for name in self._label_places), strict=True)):
            held = dict(zip(self._label_places, raws, strict=True))
            scanned = scanned_labels(self._labels, held, self._ledger.today)
            if scanned is None:
                continue
            found[n] = scanned
            for name, raw in held.items():
                if name in scanned.columns or is_empty(raw):
                    # Where a label cannot be used, what it should have filled in is not reported as empty, too.
                    cells[name][n] = "?" if scanned.wrong and name in self._must else scanned.fills.get(name)
        return found

    def _report_rows(
        self, rows: list[Row], filled: FilledRows, faults: dict[int, dict[str, Fault]], scanned: dict[int, Scanned]
    ) -> None:
        """Report what is wrong, row by row, and note it in the rows."""
        for column in self._table.columns:
            for n in filled.blank(column.name) if column.must_state else ():
                rows[n].unstated = (*rows[n].unstated, column.name)
        width = len(self._grid.rows[self._header.row])
        self._notice_empty(filled.indexes)
        for n, (index, row) in enumerate(zip(filled.indexes, rows, strict=True)):
            if n in scanned:
                row.label = scanned[n].label
                fills = scanned[n].fills
                row.values.update({name: raw for name, raw in fills.items() if name not in self._label_places})
            for name, fault in faults.get(n, {}).items():
                self._note_fault(row, name, filled.cells[name][n], fault)
            if n in scanned:
                self._check_labels(row, self._grid.rows[index], scanned[n])
            if self._header.unusable:
                row.bad.update(self._header.unusable)
            if self._grid.is_csv and len(self._grid.rows[index]) > width:
                self._check_ragged(row, self._grid.rows[index])

    def _check_labels(self, row: Row, typed: Sequence[Raw], scanned: Scanned) -> None:
        """Report labels that cannot be used, and filled cells that say something else than the labels."""
        for name, why in scanned.wrong.items():
            row.bad[name] = self._ledger.report(
                "unreadable label", row.where(name), why, expected="a whole GS1 or HIBC label, as a scanner gives it"
            )
        for name, place in self._label_places.items():
            empty = place >= len(typed) or is_empty(typed[place])
            if scanned.wrong and (empty or name in scanned.columns):
                row.bad.setdefault(name, next(iter(row.bad.values())))
            elif not empty and name not in (*scanned.columns, *row.bad) and differs(scanned, name, row.values[name]):
                row.bad[name] = self._ledger.report(
                    "label and cell differ",
                    row.where(name),
                    "this is not what the label in this row says",
                    value=shown(typed[place]),
                    expected="what the label says, or an empty cell",
                    nearest=(shown(scanned.fills[name]),),
                    guessed=True,
                    related=(row.where(scanned.columns[0]),),
                )
        for name in row.bad:
            row.values.pop(name, None)

    def _note_fault(self, row: Row, name: str, raw: Raw, fault: Fault) -> None:
        draft = self._report(row, name, raw, fault)
        if fault.kind in (PRIVATE, TURNED) and name in self._optional_texts:
            row.values[name] = ColumnParser(self._table.column(name)).default
        else:
            row.bad[name] = draft
            del row.values[name]

    def _report(self, row: Row, name: str, raw: Raw, fault: Fault) -> Draft:
        if isinstance(raw, CellFlaw) and raw in self._shared:
            return self._shared[raw]
        value = "" if fault.kind == PRIVATE else shown(raw)
        guessed = self._table.column(name).type not in LISTED
        draft = self._ledger.of_fault(fault, row.where(name), value=value, guessed=guessed)
        if isinstance(raw, CellFlaw) and raw.kind in OF_SEVERAL:
            self._shared[raw] = draft
        return draft

    def _check_ragged(self, row: Row, raws: Sequence[Raw]) -> None:
        width = len(self._grid.rows[self._header.row])
        if any(not is_empty(raw) for raw in raws[width:]):
            row.bad["(row)"] = self._ledger.report(
                "ragged row",
                row.where(),
                f"this row has {len(raws)} cells, the header {width}",
                expected="as many cells as headers; a cell that holds the separator goes in quotation marks",
            )

    def _notice_empty(self, filled: list[int]) -> None:
        """Say once which rows are empty between filled ones; those right below the header often are."""
        there = {*filled, *self._grid.skipped}
        below = range(filled[0] + 1 if filled else 0, filled[-1] if filled else 0)
        empty = [index + 1 for index in below if index not in there] if len(below) > len(filled) - 2 else []
        if empty:
            self._ledger.notice(
                "empty rows",
                self._grid.where(empty[0] - 1),
                f"{'row' if len(empty) == 1 else 'rows'} {spans(empty)} {'is' if len(empty) == 1 else 'are'} empty in "
                "the middle of the table; the rows after were read as well",
            )

    def _notice_hidden(self) -> None:
        where = self._grid.where()
        read = {self._grid.origin(place) for place in self._places.values()}
        struck = {row + 1 for row, column in self._grid.struck if column in read}
        for kind, numbers, expected in (
            ("hidden rows", self._grid.hidden_rows, "no hidden rows; show them all, and delete what must not count"),
            ("rows struck through", struck, "no rows struck through; delete what must not count"),
        ):
            below = sorted(n for n in numbers if self._header.row + 1 < n <= len(self._grid.rows))
            if below:
                message = f"{kind} were read as well ({len(below)}, from row {below[0]})"
                self._ledger.report(kind, where, message, expected=expected)
        hidden = self._grid.hidden_columns
        columns = [name for name, place in self._places.items() if self._grid.origin(place) in hidden]
        if columns:
            self._ledger.notice("hidden columns", where, f"hidden columns were read as well: {', '.join(columns)}")
        if self._grid.hidden:
            self._ledger.notice("hidden sheet", where, "this sheet is hidden; it was read as well")


def flaw_merged(grid: Grid, header_row: int, places: Collection[int]) -> None:
    """Cells of a merged range in these columns of a table are not certain; each range is one flaw."""
    for top, left, bottom, right in grid.merged:
        inside = [place for place in places if left <= place <= right]
        text = f"{letters_of(left)}{top + 1}:{letters_of(right)}{bottom + 1}"
        for index in range(max(top, header_row + 1), min(bottom, len(grid.rows) - 1) + 1 if inside else 0):
            row = [*grid.rows[index]]
            row.extend([""] * (max(inside) + 1 - len(row)))
            if any(not is_empty(raw) for raw in row):
                for place in inside:
                    row[place] = CellFlaw("merged cell", text)
                grid.rows[index] = row
