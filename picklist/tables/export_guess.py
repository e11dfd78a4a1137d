"""What the headers of an unknown export, and the codes beneath them, are likely to mean; a person confirms it.

The words are those in which schedules are headed (common practice, no source). Nothing is proposed for what is
about patients, nor for notes, which may name one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from picklist.tables.cells import Grid, Raw, is_empty, shown, tidy
from picklist.tables.export_cells import day_of, start_of
from picklist.tables.export_layout import ExportHeader
from picklist.tables.foreign_schedule import PARTS, SEVERAL, plain_code
from picklist.tables.headers import tells_of_a_patient
from picklist.tables.nearest import Candidates, plain
from picklist.tables.parse import ColumnParser
from picklist.tables.schema import CASE_END, CASE_HOURS, SCHEDULE

WORDS = re.compile(r"[a-z]+|#")
# By what a header is known, the first that fits: "start date" is a day, "case start" a start, "case no" a case.
KNOWN_BY: tuple[tuple[str, frozenset[str]], ...] = (
    ("side", frozenset({"side", "lat", "laterality"})),
    ("alerts", frozenset({"alert", "alerts", "allergy", "allergies"})),
    ("status", frozenset({"status", "state"})),
    ("day", frozenset({"date", "day", "dos"})),
    (CASE_END, frozenset({"end", "ends", "stop", "finish", "until", "out"})),
    (CASE_HOURS, frozenset({"hours", "hrs"})),
    ("minutes", frozenset({"min", "mins", "minutes", "dur", "duration", "length", "needed"})),
    ("start", frozenset({"start", "starts", "begin", "begins", "time", "from", "in", "scheduled"})),
    ("team", frozenset({"assistant", "assistants", "scrub", "team"})),
    ("surgeon", frozenset({"surgeon", "surgeons", "operator", "provider", "physician", "doctor", "dr", "consultant"})),
    ("procedures", frozenset({"procedure", "procedures", "proc", "operation", "operations"})),
    ("case", frozenset({"case", "booking", "log", "number", "no", "id", "#"})),
    ("room", frozenset({"room", "or", "suite", "theatre", "theater", "rm"})),
)
TITLES = frozenset({"dr", "prof", "md", "nurse", "rn"})


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeGuess:
    """A code beneath a header and what it may stand for; ``sure`` where only one thing can be meant."""

    header: str
    means: str
    code: str
    value: str
    sure: bool


def guess_means(grid: Grid, header: ExportHeader) -> dict[str, tuple[str, ...]]:
    """By header, the columns of Schedule that it seems to fill; each column once."""
    found: dict[str, tuple[str, ...]] = {}
    taken: set[str] = set()
    for place, name in sorted(header.names.items()):
        means = _means_of(name)
        if means and means not in taken:
            both = (
                ("day", "start") if means in ("day", "start") and _has_day_and_time(grid, header, place) else (means,)
            )
            found[name] = both
            taken.update(both)
    return found


def _means_of(name: str) -> str:
    if tells_of_a_patient(name):
        return ""
    words = set(WORDS.findall(name.casefold()))
    return next((means for means, known in KNOWN_BY if words & known), "")


def _has_day_and_time(grid: Grid, header: ExportHeader, place: int) -> bool:
    cells = cells_beneath(grid, header, place)
    return 2 * sum(day_of(raw) != raw and start_of(raw) != raw for raw in cells) > len(cells)


def cells_beneath(grid: Grid, header: ExportHeader, place: int) -> list[Raw]:
    """What a column holds below its header, without empty cells and the header where it comes again."""
    heads = {row[place] for row in grid.rows[header.top : header.bottom + 1] if place < len(row)}
    below = (row[place] for row in grid.rows[header.bottom + 1 :] if place < len(row))
    return [raw for raw in below if not is_empty(raw) and raw not in heads]


def codes_beneath(cells: Iterable[Raw], means: str) -> tuple[str, ...]:
    """The different texts of a column, each part of a cell that holds several."""
    texts = (tidy(raw) if isinstance(raw, str) else shown(raw) for raw in cells if not is_empty(raw))
    parts = (part for text in texts for part in (PARTS.split(text) if means in SEVERAL else (text,)))
    return tuple({plain_code(part): tidy(part) for part in parts if tidy(part)}.values())


def guess_code(header: str, means: str, code: str, names: Mapping[str, str] | None) -> CodeGuess | None:
    """What a code may stand for, of ids with their names; None for one that Schedule knows or that is like nothing.

    ``names`` is None where Schedule refers to no table.
    """
    if names is None:
        return _guess_word(header, means, code)
    if plain_code(code) in {one.casefold() for one in names}:
        return None
    sure = _meant(means, code, names)
    found = sure if len(sure) == 1 else Candidates(names).nearest(code, 1)
    if not found:
        return None
    return CodeGuess(header=header, means=means, code=code, value=found[0], sure=len(sure) == 1)


def _meant(means: str, code: str, names: Mapping[str, str]) -> Sequence[str]:
    """The ids that a code can only be: by number without zeros, by surname, or by its whole name."""
    if means == "room":
        return [one for one in names if _without_zeros(one) == _without_zeros(code)]
    words = set(WORDS.findall(code.casefold())) - TITLES
    if means in ("surgeon", "team"):
        return [one for one, name in names.items() if _surname(name) in words]
    return [one for one, name in names.items() if plain(name) == plain(code)]


def _without_zeros(text: str) -> str:
    return plain(re.sub(r"\b0+(?=[0-9])|(?<=[A-Za-z])0+(?=[0-9])", "", text))


def _surname(name: str) -> str:
    words = [word for word in WORDS.findall(name.casefold()) if word not in TITLES]
    return words[-1] if words else "?"


def _guess_word(header: str, means: str, code: str) -> CodeGuess | None:
    column = next((one for one in SCHEDULE.columns if one.name == means), None)
    if column is None or not column.choices:
        return None
    _, fault = ColumnParser(column)(code)
    if fault is None:
        return None
    dash = means == "side" and not any(sign.isalnum() for sign in code)
    value = "none" if dash else fault.nearest[0] if fault.nearest else ""
    return CodeGuess(header=header, means=means, code=code, value=value, sure=dash) if value else None
