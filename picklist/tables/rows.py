"""Rows of a table: parsed values, and the faults of the cells that could not be parsed."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from picklist.labels.label import Label
from picklist.problems import Where
from picklist.settings import DateOrder
from picklist.tables.cells import PRIVATE, CellFlaw, Fault, Grid, Raw, holds_any, is_empty, shown
from picklist.tables.columns import CellType, Column, Table
from picklist.tables.drafts import Draft, Ledger
from picklist.tables.headers import Header
from picklist.tables.left_out import report_left_out
from picklist.tables.parse import GUESSED, ColumnParser, Look
from picklist.tables.parse_dates import order_of
from picklist.tables.private import kind_of
from picklist.tables.scanned_labels import Scanned, differs, scanned_labels
from picklist.tables.sheet_flags import letters_of

DATED = frozenset({CellType.DATE, CellType.EXPIRY, CellType.STAMP})


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
        self._source = Source.of(grid, header.positions)
        self._columns = [
            (column.name, header.positions[column.name], self._parser(column, order))
            for column in table.columns
            if column.name in header.positions and column.name not in header.unusable
        ]
        read = {name for name, _, _ in self._columns}
        self._defaults = {c.name: ColumnParser(c).default for c in table.columns if c.name not in read}
        self._optional_texts = {c.name for c in table.columns if c.type is CellType.TEXT and not c.required}
        self._must_state = [(c.name, header.positions.get(c.name)) for c in table.columns if c.must_state]
        self._width = max(header.positions.values()) + 1
        self._merged: dict[str, Draft] = {}
        self._labels = table.labels if ledger.today else None
        names = (self._labels.item, self._labels.lot, self._labels.expiry, self._labels.serial) if self._labels else ()
        self._label_places = {name: place for name, place, _ in self._columns if name in names}
        self._must = {column.name for column in table.columns if column.required}

    def rows(self) -> Iterator[Row]:
        """All rows that hold anything in a column of the table."""
        places = tuple(place for _, place, _ in self._columns)
        flaw_merged(self._grid, self._header.row, set(places))
        self._source.bare.update(report_left_out(self._grid, self._header, self._table, self._ledger))
        empty: list[int] = []
        for index in range(self._header.row + 1, len(self._grid.rows)):
            raws = self._grid.rows[index]
            if index in self._grid.skipped:
                continue
            if not holds_any(raws, places):
                empty.append(index + 1)
                continue
            if empty:
                self._notice_empty(empty)
                empty = []
            yield self._row(index + 1, raws)
        self._notice_hidden()

    def _parser(self, column: Column, order: DateOrder) -> ColumnParser:
        if column.type in DATED:
            return ColumnParser(column, self._order(column, order))
        look = Look(kind_of(self._table, column), self._ledger.today)
        return ColumnParser(column, digits=self._digits(column) if column.type is CellType.CODE else 0, look=look)

    def _digits(self, column: Column) -> int:
        """How many digits the ids have that are typed as text with leading zeros; 0 when they differ."""
        if self._grid.is_csv:
            return 0
        lengths = {len(raw) for raw in self._raws(column) if isinstance(raw, str) and raw[:1] == "0" and raw.isdigit()}
        return lengths.pop() if len(lengths) == 1 else 0

    def _raws(self, column: Column) -> Iterator[Raw]:
        place = self._header.positions[column.name]
        return (row[place] for row in self._grid.rows[self._header.row + 1 :] if place < len(row))

    def _order(self, column: Column, site: DateOrder) -> DateOrder | None:
        own = order_of(self._raws(column))
        if site is DateOrder.ANY or own is None:
            return own
        return site

    def _row(self, number: int, raws: Sequence[Raw]) -> Row:
        values = dict(self._defaults)
        row = Row(self._source, number, values)
        scanned = self._scanned(raws) if self._labels else None
        typed = raws
        if scanned:
            raws = self._with_labels(row, typed, scanned)
        width = len(raws)
        for name, place, parser in self._columns:
            raw = raws[place] if place < width else None
            value, fault = parser.known.get(raw) or parser(raw)
            if fault is None:
                values[name] = value
            elif fault.kind == PRIVATE and name in self._optional_texts:
                values[name] = parser.default
                self._report(row, name, raw, fault)
            else:
                row.bad[name] = self._report(row, name, raw, fault)
        if scanned:
            self._check_labels(row, typed, scanned)
        row.bad.update(self._header.unusable)
        if self._must_state:
            row.unstated = tuple(
                name for name, place in self._must_state if place is None or place >= width or is_empty(raws[place])
            )
        if self._grid.is_csv and width > len(self._grid.rows[self._header.row]):
            self._check_ragged(row, raws)
        return row

    def _scanned(self, raws: Sequence[Raw]) -> Scanned | None:
        """What makers' labels in a row say; None for a row without any."""
        assert self._labels is not None
        assert self._ledger.today is not None
        held = {name: raws[place] for name, place in self._label_places.items() if place < len(raws)}
        return scanned_labels(self._labels, held, self._ledger.today)

    def _with_labels(self, row: Row, raws: Sequence[Raw], scanned: Scanned) -> list[Raw]:
        """A row's cells as its labels fill them in; the cells of labels that cannot be used are reported."""
        row.label = scanned.label
        filled = [*raws, *[None] * (self._width - len(raws))]
        row.values.update({name: raw for name, raw in scanned.fills.items() if name not in self._label_places})
        for name, place in self._label_places.items():
            if name in scanned.columns or is_empty(filled[place]):
                # Where a label cannot be used, what it should have filled in is not reported as empty, too.
                filled[place] = "?" if scanned.wrong and name in self._must else scanned.fills.get(name)
        return filled

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

    def _report(self, row: Row, name: str, raw: Raw, fault: Fault) -> Draft:
        if isinstance(raw, CellFlaw) and raw.kind == "merged cell" and raw.text in self._merged:
            return self._merged[raw.text]
        draft = self._ledger.report(
            fault.kind,
            row.where(name),
            fault.message,
            value="" if fault.kind == PRIVATE else shown(raw),
            expected=fault.expected,
            nearest=fault.nearest,
            guessed=self._table.column(name).type in GUESSED,
        )
        if isinstance(raw, CellFlaw) and raw.kind == "merged cell":
            self._merged[raw.text] = draft
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

    def _notice_empty(self, numbers: list[int]) -> None:
        first, last = numbers[0], numbers[-1]
        if first == self._header.row + 2:
            return
        span = f"row {first} is" if first == last else f"rows {first} to {last} are"
        self._ledger.notice(
            "empty rows",
            Where(file=self._grid.file, sheet=self._grid.sheet, row=first),
            f"{span} empty in the middle of the table; the rows after were read as well",
        )

    def _notice_hidden(self) -> None:
        where = Where(file=self._grid.file, sheet=self._grid.sheet)
        below = sorted(n for n in self._grid.hidden_rows if self._header.row + 1 < n <= len(self._grid.rows))
        if below:
            self._ledger.report(
                "hidden rows",
                where,
                f"hidden rows were read as well ({len(below)}, from row {below[0]})",
                expected="no hidden rows; show them all, and delete what must not count",
            )
        columns = [name for name, place, _ in self._columns if self._grid.origin(place) in self._grid.hidden_columns]
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
