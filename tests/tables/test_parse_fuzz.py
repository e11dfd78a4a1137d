"""Whatever a cell holds, its parser answers with a value of its kind or a fault, and never raises."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from picklist.settings import DateOrder
from picklist.tables.cells import FAULTS, CellFlaw, shown
from picklist.tables.columns import CellType, Column
from picklist.tables.nearest import Candidates, closest, plain, slips_between
from picklist.tables.parse import ColumnParser

LIKELY = st.sampled_from(
    [
        "25:30",
        "2026-11-26",
        "03/04/2026",
        "26 Nov 2026 16:30",
        "Mon-Fri",
        "alert latex; not side left",
        "1.23E+13",
        "8 kg",
        "=A1",
        "-",
        ";",
        "99/99/9999",
        "0000-00",
        "9999-12",
        "٣",
        "²",
        "12:30²",
    ]
)
RAWS = st.one_of(
    st.none(),
    st.text(max_size=30),
    LIKELY,
    st.builds(lambda a, b: a + b, LIKELY, LIKELY),
    st.floats(),
    st.integers(),
    st.booleans(),
    st.dates(),
    st.datetimes(),
    st.times(),
    st.timedeltas(),
    st.sampled_from([CellFlaw("error value", "#N/A"), CellFlaw("no stored value"), CellFlaw("merged cell", "A1:B2")]),
)
VALUES: dict[CellType, Any] = {
    CellType.CODE: str,
    CellType.TEXT: str,
    CellType.CODES: tuple,
    CellType.STAND_INS: tuple,
    CellType.TIMES: tuple,
    CellType.CHOICES: tuple,
    CellType.CONDITIONS: tuple,
    CellType.WEEKDAYS: tuple,
    CellType.WHOLE: int,
    CellType.NUMBER: float,
    CellType.DATE: date,
    CellType.EXPIRY: date,
    CellType.TIME: time,
    CellType.STAMP: datetime,
    CellType.YES_NO: bool,
    CellType.CHOICE: str,
}


@pytest.mark.parametrize("kind", CellType)
@given(raw=RAWS, order=st.sampled_from([*DateOrder, None]))
@example(raw="1" * 400, order=DateOrder.ANY)
@example(raw=1e308, order=DateOrder.ANY)
@example(raw=float("inf"), order=DateOrder.ANY)
@example(raw=float("nan"), order=DateOrder.ANY)
@example(raw=10**400, order=DateOrder.ANY)
@example(raw="2026-11-26 ²0:00", order=DateOrder.ANY)
def test_that_no_cell_makes_a_parser_raise(kind: CellType, raw: Any, order: DateOrder | None) -> None:
    column = Column(name="weight lb", type=kind, help="a help", choices=("left", "right"), least=0)
    value, fault = ColumnParser(column, order)(raw)
    assert fault is None or value is None
    if fault is None and value is not None:
        assert isinstance(value, VALUES[kind])
        assert type(value) is not datetime or kind is CellType.STAMP
    if fault is not None:
        own = fault.kind in ("empty cell", "too long") or isinstance(raw, CellFlaw)
        assert fault.message if own else fault.message == FAULTS[fault.kind]


@given(raw=RAWS)
def test_that_any_cell_can_be_shown_shortly(raw: Any) -> None:
    assert len(shown(raw)) <= 400


@given(st.text("abcdef", max_size=8), st.text("abcdef", max_size=8))
def test_that_slips_are_the_least_number_of_edits(one: str, other: str) -> None:
    assert slips_between(one, other, 99) == by_search(one, other)
    near = [value for _, value in closest(one, [(other, other)])]
    allowed = 1 if len(one) <= 4 else 2 if len(one) <= 9 else 3
    assert bool(near) is (by_search(one, other) <= allowed)


def by_search(one: str, other: str) -> int:
    """The same by plain recursion: insert, delete, change, or swap two neighbours (each place once)."""
    known: dict[tuple[int, int], int] = {}

    def least(i: int, j: int) -> int:
        if (i, j) not in known:
            if i == 0 or j == 0:
                known[i, j] = i + j
            else:
                ways = [
                    least(i - 1, j) + 1,
                    least(i, j - 1) + 1,
                    least(i - 1, j - 1) + (one[i - 1] != other[j - 1]),
                ]
                if i > 1 and j > 1 and one[i - 1] == other[j - 2] and one[i - 2] == other[j - 1]:
                    ways.append(least(i - 2, j - 2) + 1)
                known[i, j] = min(ways)
        return known[i, j]

    return least(len(one), len(other))


WORDS = st.lists(st.text("abc-1", min_size=1, max_size=7), min_size=1, max_size=8, unique_by=plain)


@given(WORDS, st.text("abc-1", max_size=8))
def test_that_the_nearest_are_those_of_the_fewest_slips(words: list[str], written: str) -> None:
    allowed = 1 if len(written) <= 4 else 2 if len(written) <= 9 else 3
    slips = {word: 0 if plain(word) == plain(written) != "" else by_search(written, word) for word in words}
    least = min(slips.values())
    wanted = sorted(word for word in words if slips[word] == least) if least <= allowed and written else []
    assert sorted(Candidates(words).nearest(written, most=99)) == wanted


def test_that_going_through_all_values_comes_to_an_end() -> None:
    candidates = Candidates([f"item {n:04d}" for n in range(100)], most_looks=100)
    assert candidates.nearest("itme 00z3")  # two slips: gone through
    assert not candidates.nearest("itme 00z4")  # no more
    assert candidates.nearest("item 0o42") == ("item 0042",)  # one slip is always found
