"""A schedule as another system exports it, read by what the table Export says of its headers and codes.

Only columns that the table names go further: the others may be about patients.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from picklist.tables.cells import Grid, Raw, is_empty, shown, tidy
from picklist.tables.drafts import Ledger
from picklist.tables.export_cells import day_of, is_clock, minutes_of, minutes_of_hours, minutes_until, start_of
from picklist.tables.export_layout import ExportHeader, best_header
from picklist.tables.left_out import in_rows, spans
from picklist.tables.nearest import Candidates, plain
from picklist.tables.rows import Row
from picklist.tables.schema import CASE_END, CASE_HOURS, NOT_READ, SCHEDULE
from picklist.tables.sheet_flags import letters_of

FEWEST = 2  # headers that must be known
PARTS = re.compile(r"[;\n|+]")
TOTALS = re.compile(
    r"(?:grand |sub)?-?totals?\b|sum\b|summe\b|gesamt\b|count\b|number of cases\b|end of (?:report|list)\b"
    r"|page [0-9]+|printed\b",
    re.IGNORECASE,
)
SEVERAL = frozenset({"procedures", "team", "alerts"})
MINUTES = "minutes"
REQUIRED = frozenset(plain(column.name) for column in SCHEDULE.columns if column.required)


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportMap:
    """What the headers of an export mean, and the codes beneath them.

    ``means``: by header, spelled plainly, the columns of Schedule that it fills. ``codes``: by header and
    column, what stands for a code. ``spelled``: each header as the table Export writes it.
    """

    means: dict[str, tuple[str, ...]]
    codes: dict[tuple[str, str], dict[str, str]]
    spelled: dict[str, str]

    def header(self, grid: Grid) -> ExportHeader | None:
        """Where the header of this export is in a sheet; None when the sheet is not of this kind."""
        found = best_header(grid, lambda header: len(self._known(header)))
        if found is None or is_own(found):
            return None
        known = len(self._known(found))
        return found if known >= FEWEST and 2 * known >= len(self.means) else None

    def means_of(self, header: str) -> tuple[str, ...]:
        """The columns that a header fills."""
        return self.means.get(plain(header), ())

    def _known(self, header: ExportHeader) -> set[str]:
        return {plain(name) for name in header.names.values()} & self.means.keys()


def export_map(rows: Iterable[Row]) -> ExportMap | None:
    """The rows of the table Export as one map; None when they name no header."""
    means: dict[str, tuple[str, ...]] = {}
    codes: dict[tuple[str, str], dict[str, str]] = defaultdict(dict)
    spelled: dict[str, str] = {}
    for row in rows:
        if row.bad:
            continue
        header, column = plain(row.values["header"]), row.values["means"]
        if row.values["code"]:
            codes[header, column].setdefault(plain_code(row.values["code"]), row.values["value"])
        elif column not in means.get(header, ()):
            means[header] = (*means.get(header, ()), column)
            spelled[header] = row.values["header"]
    return ExportMap(means=means, codes=dict(codes), spelled=spelled) if means else None


def plain_code(text: str) -> str:
    """A code for comparing: no case, spaces as one."""
    return tidy(text).casefold()


def is_own(header: ExportHeader) -> bool:
    """Whether a header is that of Schedule itself."""
    return {plain(name) for name in header.names.values()} >= REQUIRED


@dataclass(slots=True, kw_only=True)
class _Reading:
    """An export while it is read: which places fill which columns, and what is worth saying of it."""

    grid: Grid
    header: ExportHeader
    columns: list[tuple[str, int, str]]  # what it means, its place, its header as compared
    said: list[str] = field(default_factory=list)
    skipped: dict[int, None] = field(default_factory=dict)

    def places(self, means: str) -> list[int]:
        return [place for one, place, _ in self.columns if one == means]


def read_export(grid: Grid, known: ExportMap, ledger: Ledger) -> Grid | None:
    """A sheet of this export as the sheet of Schedule that it stands for; None when it is none.

    Rows keep their numbers and cells their places in the file. What was done is one notice.
    """
    header = known.header(grid)
    if header is None:
        return None
    columns = [
        (means, place, plain(name))
        for place, name in sorted(header.names.items())
        for means in known.means_of(name)
        if means != NOT_READ
    ]
    reading = _Reading(grid=grid, header=header, columns=columns)
    _report_lost(reading, known, ledger)
    _skip(reading)
    filled = _fill_down(reading)
    head = [MINUTES if means in (CASE_END, CASE_HOURS) else means for means, _, _ in columns]
    rows: list[list[Raw]] = [[None] * len(columns) for _ in grid.rows]
    rows[header.bottom] = list(head)
    for index in range(header.bottom + 1, len(grid.rows)):
        if index not in reading.skipped:
            rows[index] = _row(reading, known, index, filled)
    _say(reading, ledger)
    kept = {place for _, place, _ in columns}
    return Grid(
        file=grid.file,
        sheet=grid.sheet,
        rows=rows,
        hidden=grid.hidden,
        hidden_rows=grid.hidden_rows,
        struck=grid.struck,
        hidden_columns=grid.hidden_columns & kept,
        origins=tuple(place for _, place, _ in columns),
        skipped=frozenset(reading.skipped),
    )


def mapped_table(grid: Grid, known: ExportMap) -> list[list[Raw]] | None:
    """The header and the rows of cases of this export as they are there, of the columns that Export names."""
    header = known.header(grid)
    if header is None:
        return None
    places = {place: name for place, name in sorted(header.names.items()) if set(known.means_of(name)) - {NOT_READ}}
    columns = [(means, place, plain(name)) for place, name in places.items() for means in known.means_of(name)]
    reading = _Reading(grid=grid, header=header, columns=columns)
    _skip(reading)
    filled = _fill_down(reading)
    rows = [index for index in range(header.bottom + 1, len(grid.rows)) if index not in reading.skipped]
    body = [
        [
            filled.get((index, place), grid.rows[index][place] if place < len(grid.rows[index]) else None)
            for place in places
        ]
        for index in rows
    ]
    return [list(places.values()), *(row for row in body if any(not is_empty(raw) for raw in row))]


def _report_lost(reading: _Reading, known: ExportMap, ledger: Ledger) -> None:
    """Report headers that the table Export names and this export does not have."""
    there = {plain(name) for name in reading.header.names.values()}
    strange = [name for name in reading.header.names.values() if plain(name) not in known.means]
    for header, means in known.means.items():
        if header not in there and set(means) != {NOT_READ}:
            ledger.report(
                "missing column",
                reading.grid.where(reading.header.bottom),
                f"this export has no header '{known.spelled[header]}', which Export says is '{means[0]}'",
                expected=f"'{known.spelled[header]}', or another header in Export",
                nearest=Candidates(strange).nearest(known.spelled[header], 1),
            )


def _skip(reading: _Reading) -> None:
    """Totals, lines at the foot of a page and headers that come again hold no case."""
    grid, header = reading.grid, reading.header
    vital = [place for means in ("case", "room", "start") for place in reading.places(means)]
    totals, again = [], []
    for index in range(header.bottom + 1, len(grid.rows)):
        row = grid.rows[index]
        texts = {place: tidy(raw) for place, raw in enumerate(row) if isinstance(raw, str) and not is_empty(raw)}
        if len(texts) > 1 and any(_alike(texts, grid.rows[one]) for one in range(header.top, header.bottom + 1)):
            again.append(index)
        elif any(TOTALS.match(text) for text in texts.values()) and sum(_has(row, place) for place in vital) < 2:
            totals.append(index)
    reading.skipped.update(dict.fromkeys((*totals, *again)))
    reading.said += [f"{in_rows(totals)} no case, only a total or a footer line"] if totals else []
    reading.said += [f"{in_rows(again)} the header again"] if again else []


def _alike(texts: dict[int, str], row: Sequence[Raw]) -> bool:
    """Whether texts are those of a row at the same places."""
    there = {place: tidy(raw) for place, raw in enumerate(row) if isinstance(raw, str)}
    return all(there.get(place) == text for place, text in texts.items())


def _has(row: Sequence[Raw], place: int) -> bool:
    return place < len(row) and not is_empty(row[place])


def _fill_down(reading: _Reading) -> dict[tuple[int, int], Raw]:
    """By row and place, what a row leaves out since it is above: a day, and a cell that is merged over rows."""
    grid, first = reading.grid, reading.header.bottom + 1
    found: dict[tuple[int, int], Raw] = {}
    for top, left, bottom, right in grid.merged:
        if left == right and top >= first:
            above = grid.rows[top][left] if left < len(grid.rows[top]) else None
            found.update({(index, left): above for index in range(top + 1, min(bottom + 1, len(grid.rows)))})
    for place in (one for one in reading.places("day") if one not in reading.places("start")):
        above = None
        for index in range(first, len(grid.rows)):
            if index in reading.skipped:
                continue
            if _has(grid.rows[index], place):
                above = grid.rows[index][place]
            elif above is not None and any(_has(grid.rows[index], other) for _, other, _ in reading.columns):
                found[index, place] = above
    rows = sorted({index for index, _ in found})
    if rows:
        named = f"row {rows[0] + 1}" if len(rows) == 1 else f"rows {spans([one + 1 for one in rows])}"
        reading.said.append(f"what {named} left out was taken from the row above, as in merged cells")
    return found


def _row(reading: _Reading, known: ExportMap, index: int, filled: dict[tuple[int, int], Raw]) -> list[Raw]:
    row = reading.grid.rows[index]
    cells: list[Raw] = []
    for means, place, header in reading.columns:
        raw = filled.get((index, place), row[place] if place < len(row) else None)
        cells.append(_cell(reading, known.codes.get((header, means), {}), means, raw, row))
    if reading.grid.is_csv and any(not is_empty(raw) for raw in row[len(reading.grid.rows[reading.header.bottom]) :]):
        cells.append("?")  # a cell too many is reported as such, without what it holds
    return cells


def _cell(reading: _Reading, codes: dict[str, str], means: str, raw: Raw, row: Sequence[Raw]) -> Raw:
    if codes:
        raw = _decoded(codes, means, raw)
    if is_empty(raw):
        return raw
    if means == "day":
        return day_of(raw)
    if means == "start":
        return start_of(raw)
    if means == CASE_END:
        starts = [row[place] for place in reading.places("start") if place < len(row)]
        return minutes_until(starts[0] if starts else None, raw)
    if means == CASE_HOURS:
        return minutes_of_hours(raw)
    if means == MINUTES:
        if is_clock(raw):
            _say_once(reading, "lengths such as 1:30 are hours and minutes")
        return minutes_of(raw)
    return raw


def _say_once(reading: _Reading, sentence: str) -> None:
    if sentence not in reading.said:
        reading.said.append(sentence)


def _decoded(codes: dict[str, str], means: str, raw: Raw) -> Raw:
    """What stands for a code; in a column of several, for each of them."""
    text = shown(raw) if not isinstance(raw, str) else raw
    whole = codes.get(plain_code(text))
    if whole is not None or means not in SEVERAL:
        return raw if whole is None else whole
    parts = [part for part in map(tidy, PARTS.split(text)) if part]
    return "; ".join(one for one in (codes.get(plain_code(part), part) for part in parts) if one)


def _say(reading: _Reading, ledger: Ledger) -> None:
    """One notice of how the export was read."""
    grid, header = reading.grid, reading.header
    said = list(grid.dialect)
    above = sum(any(not is_empty(raw) for raw in grid.rows[index]) for index in range(header.top))
    said += [f"{above} title line{'' if above == 1 else 's'} above the header"] if above else []
    said += [f"{header.bottom - header.top + 1} header rows"] if header.bottom > header.top else []
    said += reading.said
    kept = {place for _, place, _ in reading.columns}
    dropped = [place for place in sorted(header.names) if place not in kept]
    if dropped:
        named = ", ".join(f"no. {place + 1}" if grid.is_csv else letters_of(place) for place in dropped)
        said.append(f"columns that Export does not name were not read: {named}")
    ledger.notice(
        "read as export",
        grid.where(header.bottom),
        f"this was read as the hospital's own export, by the table Export{': ' if said else ''}{'; '.join(said)}",
    )
