"""Every identifier of the GS1 general table is read or passed over rightly, with a lot behind it.

The table beside this file is taken from the GS1 Barcode Syntax Dictionary (Apache License 2.0).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from picklist.labels.gs1 import read_elements, read_gs1
from picklist.labels.label import LabelError, check_digit

TODAY = date(2026, 11, 25)
GS = "\x1d"
# A value for each rule of the dictionary that asks for more than digits or characters.
BY_RULE = {"yymmd0": "270600", "yymmdd": "270630", "yyyymmdd": "20270630", "hhmi": "2359", "hh": "23", "mi": "59"}
BY_RULE |= {"iso3166": "840", "iso3166999": "840", "iso4217": "978", "zero": "0", "yesno": "1", "pieceoftotal": "0102"}
BY_RULE |= {"winding": "1", "hyphen": "-", "iso5218": "1", "ss": "59", "posinseqslash": "1/2"}
FILL = {"N": "1", "X": "A", "Y": "A", "Z": "A"}


def rows() -> Iterator[tuple[str, bool, list[str]]]:
    for line in (Path(__file__).parent / "gs1_identifiers.txt").read_text(encoding="utf-8").splitlines():
        if line.startswith("#"):
            continue
        named, mark, *parts = line.split(" ")
        first, _, last = named.partition("-")
        for number in range(int(first), int(last or first) + 1):
            yield str(number).zfill(len(first)), mark == "*", parts


def value(part: str) -> str:
    """The longest value of one part."""
    kind, most, rules = re.fullmatch(r"\[?([NXYZ])(?:\.\.)?(\d+)\]?(?:,(\S+))?", part).groups()  # type: ignore[union-attr]
    length = int(most)
    named = next((BY_RULE[rule] for rule in (rules or "").split(",") if rule in BY_RULE), "")
    if "csum" in (rules or "").split(","):
        body = FILL[kind] * (length - 1)
        return f"{body}{check_digit(body)}"
    return named if len(named) == length else FILL[kind] * length


ROWS = list(rows())


def test_that_the_whole_table_is_there() -> None:
    assert len(ROWS) > 500
    assert {"00", "01", "10", "17", "21", "717", "8004", "8043", "99"} <= {identifier for identifier, _, _ in ROWS}


@pytest.mark.parametrize(("identifier", "predefined", "parts"), ROWS, ids=[row[0] for row in ROWS])
def test_that_each_identifier_leads_to_the_lot_behind_it(identifier: str, predefined: bool, parts: list[str]) -> None:
    longest = "".join(value(part) for part in parts)
    both = ((identifier, longest), ("10" if identifier != "10" else "21", "L1"))
    behind = "".join(both[1])
    assert read_elements(f"]C1{identifier}{longest}{GS}{behind}") == both
    assert read_elements(f"({identifier}){longest}({both[1][0]}){both[1][1]}") == both
    if predefined:
        assert read_elements(f"]C1{identifier}{longest}{behind}") == both
    else:
        with pytest.raises(LabelError):
            read_elements(f"]C1{identifier}{longest}{behind}")


CHECKED = [(i, parts) for i, _, parts in ROWS if "csum" in " ".join(parts).replace("csumalpha", "")]


@pytest.mark.parametrize(("identifier", "parts"), CHECKED, ids=[row[0] for row in CHECKED])
def test_that_each_check_digit_is_looked_at(identifier: str, parts: list[str]) -> None:
    longest = "".join(value(part) for part in parts)
    place = sum(len(value(part)) for part in parts[: next(n for n, p in enumerate(parts) if "csum" in p) + 1]) - 1
    wrong = f"{longest[:place]}{(int(longest[place]) + 1) % 10}{longest[place + 1 :]}"
    with pytest.raises(LabelError, match="check digit"):
        read_elements(f"]C1{identifier}{wrong}")


def test_that_a_date_that_cannot_be_is_refused_under_every_identifier_of_a_date() -> None:
    for identifier, _, parts in ROWS:
        if parts == ["N6,yymmd0"]:
            with pytest.raises(LabelError):
                read_gs1(f"]C1{identifier}261301", TODAY)
