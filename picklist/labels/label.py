"""What the label on a package says, whichever standard it follows; item numbers (GTIN) and packages of one another."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date

ASSET_IDENTIFIER = "8004"  # GS1: a thing that the owner of a company prefix keeps track of itself


class LabelError(ValueError):
    """A text that claims to be a label and cannot be read as one; the message never holds the text."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What one label says; empty where it says nothing.

    ``gtin`` has 14 digits. ``hibc`` is maker, product and packaging level of a HIBC label, without check
    character. ``link`` is the check character of the HIBC label that names the item of this one.
    ``asset`` is what its owner calls a thing of its own (GS1 identifier 8004).
    """

    gtin: str = ""
    hibc: str = ""
    lot: str = ""
    serial: str = ""
    expiry: date | None = None
    link: str = ""
    asset: str = ""

    @property
    def names_item(self) -> bool:
        """Whether it says what is in the package."""
        return bool(self.gtin or self.hibc)


def full_year(two_digits: int, today: date) -> int:
    """The year that two digits mean on a day.

    GS1 General Specifications 7.12: a year 51 to 99 above this year's two digits belongs to the last
    century, one 50 to 99 below them in the next.
    """
    ahead = two_digits - today.year % 100
    century = today.year // 100 + (-1 if ahead >= 51 else 1 if ahead <= -50 else 0)
    return century * 100 + two_digits


def day_of(year: int, month: int, day: int) -> date:
    """A day of a label; day 0 is the last of the month. Raises LabelError."""
    if not 1 <= month <= 12:
        raise LabelError("a date names a month that is not in the calendar")
    last = calendar.monthrange(year, month)[1]
    if day > last:
        raise LabelError("a date names a day that its month does not have")
    return date(year, month, day or last)


# GS1 item numbers (GS1 General Specifications: check digit 7.9, GTIN-14 and its indicator 2.1).
LENGTHS = (8, 12, 13, 14)
_VARIABLE_MEASURE = "9"


def check_digit(digits: str) -> int:
    """The check digit of a number without it: weights 3 and 1 from the right, up to the next ten."""
    weighted = sum(int(digit) * (3, 1)[n % 2] for n, digit in enumerate(reversed(digits)))
    return -weighted % 10


def has_right_check_digit(number: str) -> bool:
    """Whether the last digit of a number is its check digit."""
    return len(number) > 1 and number.isascii() and number.isdigit() and check_digit(number[:-1]) == int(number[-1])


def is_gtin(number: str) -> bool:
    """Whether a text is a GTIN: 8 (EAN-8), 12 (UPC-A), 13 (EAN-13) or 14 digits (ITF-14), the last one right."""
    return len(number) in LENGTHS and has_right_check_digit(number)


def same_gtin(one: str, other: str) -> bool:
    """Whether two numbers of different lengths name the same item (leading zeros do not count)."""
    return bool(one) and one.zfill(14) == other.zfill(14)


def other_package(one: str, other: str) -> bool:
    """Whether two GTINs name packages of different size of the same thing.

    They differ in the first digit, the indicator (0 or none: one piece; 1 to 8: a box, a carton), and so in the last.
    """
    one, other = one.zfill(14), other.zfill(14)
    return one[0] != other[0] and one[1:13] == other[1:13] and _VARIABLE_MEASURE not in (one[0], other[0])
