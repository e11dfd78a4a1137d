"""Days as the standard's own text writes them, and bar codes against published check characters."""

from __future__ import annotations

import re
from datetime import date

import pytest

from picklist.documents.views.labels import code_128
from picklist.tables.parse_dates import parse_date_text
from picklist.tables.parse_times import parse_stamp_text

START, SYMBOL = 11, 11  # modules


def test_days_of_the_standard_are_read_or_refused_and_never_another_day() -> None:
    """ISO 8601:2000 as quoted: 12 April 1985 = 19850412 = 1985-04-12 = 1985102 = 1985-102 = 1985W155 = 1985-W15-5;
    31 December 2011 = 2011-365 (Emacs Calc manual). Days by week or by number in the year are refused, those of
    another century too; 24 is the hour of midnight in the standard, and refused with the next day's 00:00 in mind.
    """
    assert parse_date_text("2011-12-31", None) == (date(2011, 12, 31), None)
    refused = "19850412 1985-04-12 1985102 1985-102 1985W155 1985-W15-5 2011-365 2011365"
    assert [parse_date_text(one, None)[0] for one in refused.split()] == [None] * 8
    assert parse_stamp_text("2011-12-31T24:00")[0] is None


def modules(text: str) -> str:
    """The bars of a Code 128 as it is printed, 1 for each dark module."""
    found = re.findall(r"M(\d+) 0h(\d+)v", code_128(text))
    assert found
    row = ["0"] * (int(found[-1][0]) + int(found[-1][1]))
    for at, wide in found:
        row[int(at) : int(at) + int(wide)] = "1" * int(wide)
    return "".join(row)


@pytest.mark.parametrize(("text", "symbols", "check"), [("345678", 3, "73"), ("abcdef", 6, "97")])
def test_the_check_character_of_a_bar_code(text: str, symbols: int, check: str) -> None:
    """Published sums of ISO/IEC 15417 (barcoderesource.com): 485 leaves 73, and 1539 leaves 97, modulo 103.

    How a value looks is seen where it stands for two digits.
    """
    at = START + symbols * SYMBOL
    two_digits = modules(check * 3)[START : START + SYMBOL]
    assert modules(text)[at : at + SYMBOL] == two_digits
