"""What the label on a package says, whichever standard it follows."""

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
        raise LabelError(f"a date names month {month}")
    last = calendar.monthrange(year, month)[1]
    if day > last:
        raise LabelError(f"a date names day {day} of a month of {last} days")
    return date(year, month, day or last)
