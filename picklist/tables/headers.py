"""Finding a table's header row and its columns. Columns that the table does not know go no further."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from picklist.problems import Severity, Where
from picklist.tables.cells import Grid, Raw, is_empty, shown, tidy
from picklist.tables.columns import Table
from picklist.tables.drafts import Draft, Ledger
from picklist.tables.nearest import Candidates, plain
from picklist.tables.sheet_flags import letters_of

SEARCHED_ROWS = 30
MOST_MEANT = 3  # columns that are named as the one that may have lost its header
SAME_UNIT = {"min": "minutes", "mins": "minutes", "lbs": "lb", "pounds": "lb", "no": "number", "qty": "quantity"}
OTHER_UNIT = {
    "lb": ("kg", "g", "oz", "kilograms", "grams"),
    "c": ("f", "fahrenheit"),
    "minutes": ("hours", "h", "hrs", "seconds", "sec", "s", "days"),
}
ABOUT_PATIENTS = ("patient", "mrn", "dob", "birth", "record", "insurance", "ssn", "address", "phone", "visit")


@dataclass(slots=True, kw_only=True)
class Header:
    """Where a table's header is: its 0-based row and the 0-based position of each known column."""

    row: int
    positions: dict[str, int]
    unusable: dict[str, Draft] = field(default_factory=dict)


def find_header(grid: Grid, table: Table, ledger: Ledger) -> Header | None:
    """The header, or None (reported) when the sheet has none that can be used."""
    known = known_headers(table)
    header, doubled = _most_headers(grid, known)
    if not header.positions or (len(header.positions) == 1 and len(table.columns) > 2):
        _report_no_header(grid, table, ledger)
        return None
    _report_doubled(grid, header, table, doubled, ledger)
    strangers = _strangers(grid, header, known)
    unheaded = _unheaded(grid, header, table)
    missing = _report_missing(grid, header, table, (strangers, unheaded), ledger)
    _report_unheaded(grid, header, unheaded, ledger)
    _report_strangers(grid, header, table, strangers, ledger)
    needed = {column.name for column in table.columns if column.required}
    return None if missing or needed & header.unusable.keys() else header


def _spelled(raw: Raw) -> str:
    """A header for matching: no case, spaces or punctuation, units in one spelling."""
    if not isinstance(raw, str):
        return ""
    words = [plain(word) for word in tidy(raw).replace("(", " ").replace("_", " ").replace("-", " ").split(" ")]
    return "".join(SAME_UNIT.get(word, word) for word in words)


def _most_headers(grid: Grid, known: dict[str, str]) -> tuple[Header, dict[str, list[int]]]:
    """The first of the rows with most known headers, and all places of those that it has several times."""
    best, doubled = Header(row=0, positions={}), dict[str, list[int]]()
    for number, row in enumerate(grid.rows[:SEARCHED_ROWS]):
        if len(row) > len(best.positions):  # else it has no room for more
            found, twice = header_places(row, known)
            if len(found) > len(best.positions):
                best, doubled = Header(row=number, positions=found), twice
    return best, doubled


def known_headers(table: Table) -> dict[str, str]:
    """The columns of a table by the headers under which they are read, as these are compared."""
    return {plain(name): column.name for column in table.columns for name in column.names}


def header_places(row: Sequence[Raw], known: dict[str, str]) -> tuple[dict[str, int], dict[str, list[int]]]:
    """Where a row has known headers, the first of each; and all places of those that stand there several times."""
    positions: dict[str, int] = {}
    doubled: dict[str, list[int]] = {}
    for place, raw in enumerate(row):
        name = known.get(plain(tidy(raw))) or known.get(_spelled(raw)) if isinstance(raw, str) else None
        if name is None:
            continue
        if name in positions:
            doubled.setdefault(name, [positions[name]]).append(place)
        else:
            positions[name] = place
    return positions, doubled


def _report_no_header(grid: Grid, table: Table, ledger: Ledger) -> None:
    names = ", ".join(column.name for column in table.columns if column.required or column.every)
    ledger.report(
        "no header",
        grid.where(),
        f"no row with the headers of {table.name} was found in the first {SEARCHED_ROWS} rows",
        severity=Severity.STOPS_ALL if table.required else Severity.TO_FIX,
        expected=f"a header row with {names}",
    )


def _report_doubled(grid: Grid, header: Header, table: Table, doubled: dict[str, list[int]], ledger: Ledger) -> None:
    for name, places in doubled.items():
        wheres = [grid.where(header.row, name, place) for place in places]
        header.unusable[name] = ledger.report(
            "doubled column",
            wheres[0],
            f"the column '{name}' is here {len(places)} times, so it is not clear which one counts",
            severity=Severity.STOPS_ALL if table.required and table.column(name).required else Severity.TO_FIX,
            expected="each column once",
            related=tuple(wheres[1:]),
        )


def _strangers(grid: Grid, header: Header, known: dict[str, str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for place, raw in enumerate(grid.rows[header.row]):
        text = tidy(raw) if isinstance(raw, str) else shown(raw)
        if text and known.get(plain(text)) is None and known.get(_spelled(text)) is None:
            found.setdefault(text, place)
    return found


def stranger_where(grid: Grid, row: int, place: int) -> Where:
    """The place of a header that is not known: by its cell or number, as it could be anything."""
    return grid.where(row, f"no. {place + 1}" if grid.is_csv else "", place)


def _unheaded(grid: Grid, header: Header, table: Table) -> dict[int, tuple[str, ...]]:
    """Columns without a header that hold anything below it, and the columns of the table that may stand there."""
    heads, below = grid.rows[header.row], grid.rows[header.row + 1 :]
    width = len(heads) if grid.is_csv else max((len(row) for row in grid.rows), default=0)
    bare = (place for place in range(width) if place >= len(heads) or is_empty(heads[place]))
    filled = (place for place in bare if any(place < len(row) and not is_empty(row[place]) for row in below))
    return {place: _between(header, table, place) for place in filled}


def _between(header: Header, table: Table, place: int) -> tuple[str, ...]:
    """The columns that are not there, between those that stand left and right of a place; none when they are many."""
    names = [column.name for column in table.columns]
    order = sorted(header.positions.items(), key=lambda pair: pair[1])
    before = [names.index(name) for name, at in order if at < place][-1:] or [-1]
    after = [names.index(name) for name, at in order if at > place][:1] or [len(names)]
    found = tuple(name for name in names[before[0] + 1 : after[0]] if name not in header.positions)
    return found if len(found) <= MOST_MEANT else ()


def _report_unheaded(grid: Grid, header: Header, unheaded: dict[int, tuple[str, ...]], ledger: Ledger) -> None:
    for place, meant in unheaded.items():
        ledger.report(
            "no header above cells",
            stranger_where(grid, header.row, place),
            "this column has no header, but cells below it are filled in; it was not read",
            expected="the header of its column, or nothing in it",
            nearest=meant,
        )


def _report_missing(
    grid: Grid,
    header: Header,
    table: Table,
    others: tuple[dict[str, int], dict[int, tuple[str, ...]]],
    ledger: Ledger,
) -> bool:
    """Report needed columns that are missing, with the header or the bare column that may be the one meant."""
    strangers, unheaded = others
    missing = [column for column in table.columns if column.required and column.name not in header.positions]
    absent = tuple(column.name for column in missing)
    for column in missing:
        found = [name for name in strangers if nearest_column(name, absent) == (column.name,)][:1]
        bare = [place for place, meant in unheaded.items() if column.name in meant]
        ledger.report(
            "missing column",
            grid.where(header.row, column.name),
            f"the column '{column.name}' is missing",
            severity=Severity.STOPS_ALL if table.required else Severity.TO_FIX,
            value=found[0] if found else "",
            expected=f"'{column.name}': {column.help}",
            related=tuple(
                stranger_where(grid, header.row, place) for place in (*(strangers[name] for name in found), *bare)
            ),
        )
        for name in found:
            strangers.pop(name, None)
        for place in bare:
            unheaded.pop(place, None)
    return bool(missing)


def _report_strangers(grid: Grid, header: Header, table: Table, strangers: dict[str, int], ledger: Ledger) -> None:
    absent = tuple(column.name for column in table.columns if column.name not in header.positions)
    dropped = []
    for name, place in strangers.items():
        where = stranger_where(grid, header.row, place)
        unit = _other_unit(name, absent)
        found = _of_a_patient(name, absent) if tells_of_a_patient(name) else nearest_column(name, absent)
        if unit:
            ledger.report(
                "other unit", where, f"this column is '{unit}' in another unit", value=name, expected=f"'{unit}'"
            )
        elif found:
            message = "this column is not known and was not read"
            ledger.report("unknown column", where, message, value=name, nearest=found)
        else:
            dropped.append(place)
    if dropped:
        ledger.notice(
            "columns not read",
            grid.where(header.row),
            f"columns that {table.name} does not have were not read: {_listed(grid, dropped)}",
        )


def tells_of_a_patient(written: str) -> bool:
    """Whether a header has a word of what is about a patient."""
    return any(word in written.casefold() for word in ABOUT_PATIENTS)


def _of_a_patient(written: str, absent: Sequence[str]) -> tuple[str, ...]:
    """No column is suggested for what is about the patient, but for a slip in the name of one that is."""
    return Candidates(tuple(name for name in absent if tells_of_a_patient(name))).nearest(written, 1)


def _listed(grid: Grid, places: Sequence[int]) -> str:
    """Columns as a person finds them: by letter, by number in a CSV file; what they are called is not said."""
    return ", ".join(f"no. {place + 1}" if grid.is_csv else letters_of(place) for place in sorted(places))


def _other_unit(name: str, absent: tuple[str, ...]) -> str:
    words = [plain(word) for word in name.replace("(", " ").split()]
    for wanted in absent:
        *begin, unit = [plain(word) for word in wanted.split(" ")]
        if begin and words[:-1] == begin and words[-1] in OTHER_UNIT.get(unit, ()):
            return wanted
    return ""


# Words of headers as people shorten them or say them otherwise (common practice, no source).
MEANT = {
    "exp": "expiry",
    "expires": "expiry",
    "expiration": "expiry",
    "expire": "expiry",
    "qty": "quantity",
    "quant": "quantity",
    "amount": "quantity",
    "count": "quantity",
    "pcs": "quantity",
    "min": "minutes",
    "mins": "minutes",
    "duration": "minutes",
    "lbs": "lb",
    "pounds": "lb",
    "proc": "procedure",
    "procs": "procedure",
    "operation": "procedure",
    "surg": "surgeon",
    "physician": "surgeon",
    "doctor": "surgeon",
    "dr": "surgeon",
    "loc": "place",
    "location": "place",
    "shelf": "place",
    "bin": "place",
    "bldg": "building",
    "pt": "patient",
    "prio": "priority",
    "stat": "status",
    "alert": "alerts",
    "allergy": "alerts",
    "allergies": "alerts",
    "laterality": "side",
    "comment": "note",
    "comments": "note",
    "remark": "note",
    "remarks": "note",
    "substitute": "stand-ins",
    "replaces": "instead",
    "approval": "approved",
    "inactive": "retired",
    "machine": "machines",
}
FILLERS = frozenset({"date", "id", "code", "no", "number", "nr", "of", "the", "a", "is", "for", "value", "yes", "in"})
# A header that says nothing else: what the first such column of a table is called.
STANDS_FOR = {"quantity": ("open", "quantity"), "note": ("note", "notes"), "equal": ("stand-ins",)}


def nearest_column(written: str, absent: Sequence[str]) -> tuple[str, ...]:
    """The absent column that a header was meant for; none when it is like none of them."""
    words = _words(written)
    for name in absent:
        if words and words == _words(name):
            return (name,)
    if len(words) == 1:
        for name in STANDS_FOR.get(next(iter(words)), ()):
            if name in absent:
                return (name,)
    slip = Candidates(absent).nearest(written, 1)
    return slip or _partly(words, absent)


def _words(text: str) -> frozenset[str]:
    """A header's words in one spelling, without those that say little."""
    parted = text.replace("_", " ").replace("-", " ").replace("(", " ").replace(".", " ").replace("/", " ").split()
    words = [MEANT.get(plain(word), plain(word)) for word in parted]
    return frozenset(word.rstrip("s") if len(word) > 3 else word for word in words if word and word not in FILLERS)


def _partly(words: frozenset[str], absent: Sequence[str]) -> tuple[str, ...]:
    """The column whose words are all in the header, or the header's all in it; the one with most of them in common."""
    best, share = "", 0.5
    for name in absent:
        mine = _words(name)
        both = words & mine
        if both and both in (words, mine) and len(both) / len(words | mine) >= share:
            best, share = name, len(both) / len(words | mine)
    return (best,) if best else ()
