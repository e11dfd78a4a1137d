"""Reading GS1 element strings: item number, lot, expiry and serial from one scan.

Source: GS1 General Specifications (element strings, FNC1, check digit, dates in 7.12).
Only the identifiers a package in a store room carries are known; others are named in the error.
"""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import date

# What scanners put before the data to say which symbol it was: GS1-128, DataMatrix, QR, DataBar.
_SYMBOLS = ("]C1", "]d2", "]Q3", "]e0")
_FNC1 = "\x1d"
_CHARACTERS = re.compile(r"""[A-Za-z0-9!"%&'()*+,\-./:;<=>?_]+""")


@dataclass(frozen=True, slots=True)
class _Identifier:
    least: int
    most: int
    digits: bool
    predefined: bool = False  # its length is known to every reader, so nothing ends it


_GTIN = _Identifier(14, 14, digits=True, predefined=True)
_DATE = _Identifier(6, 6, digits=True, predefined=True)
_TEXT_20 = _Identifier(1, 20, digits=False)
_TEXT_30 = _Identifier(1, 30, digits=False)
_TEXT_90 = _Identifier(1, 90, digits=False)
_IDENTIFIERS: dict[str, _Identifier] = {
    "00": _Identifier(18, 18, digits=True, predefined=True),
    "01": _GTIN,
    "02": _GTIN,
    "10": _TEXT_20,
    "11": _DATE,
    "13": _DATE,
    "15": _DATE,
    "16": _DATE,
    "17": _DATE,
    "20": _Identifier(2, 2, digits=True, predefined=True),
    "21": _TEXT_20,
    "22": _TEXT_20,
    "30": _Identifier(1, 8, digits=True),
    "37": _Identifier(1, 8, digits=True),
    "240": _TEXT_30,
    "241": _TEXT_30,
    "250": _TEXT_30,
    **{str(own): _TEXT_90 for own in range(91, 100)},
}
_CHECKED = ("00", "01", "02")
_DATES = ("11", "13", "15", "16", "17")


class Gs1Error(ValueError):
    """The text is no element string, or one that says something impossible."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gs1Label:
    """What a label says. ``elements`` are (identifier, value) in the order in which they stood."""

    elements: tuple[tuple[str, str], ...]
    gtin: str = ""
    lot: str = ""
    serial: str = ""
    expiry: date | None = None
    quantity: int | None = None


def looks_like_gs1(text: str) -> bool:
    """Whether a scan claims to be an element string: by its symbol, by FNC1 or by brackets."""
    return _symbol(text) != "" or text.startswith(_FNC1) or re.match(r"\(\d{2,4}\)", text) is not None


def _symbol(text: str) -> str:
    """What a scanner put before the data, as it came: a keyboard with its capitals on swaps the letters."""
    return text[:3] if text[:3].swapcase() in _SYMBOLS or text[:3] in _SYMBOLS else ""


def has_letters_swapped(text: str) -> bool:
    """Whether a scan came through a keyboard that made capital letters small, as the mark before the data shows."""
    return _symbol(text) not in ("", *_SYMBOLS)


def read_gs1(text: str, today: date) -> Gs1Label:
    """What an element string says; ``today`` decides the century of its dates.

    Takes the bracketed form that is printed, ``(01)...(10)...``, and the plain form that a scanner
    gives, with or without the symbol's prefix, FNC1 as the group separator. Raises Gs1Error.
    """
    elements = _bracketed(text) if text.startswith("(") else _plain(text)
    known = dict(elements)
    if len(known) < len(elements):
        raise Gs1Error("the same identifier stands twice")
    for identifier, value in elements:
        _check(identifier, value, today)
    expiry = known.get("17")
    return Gs1Label(
        elements=elements,
        gtin=known.get("01", ""),
        lot=known.get("10", ""),
        serial=known.get("21", ""),
        expiry=read_gs1_date(expiry, today) if expiry else None,
        quantity=int(known["30"]) if "30" in known else None,
    )


def _bracketed(text: str) -> tuple[tuple[str, str], ...]:
    parts = re.findall(r"\((\d{2,4})\)([^(]*(?:\((?!\d{2,4}\))[^(]*)*)", text)
    if "".join(f"({identifier}){value}" for identifier, value in parts) != text or not parts:
        raise Gs1Error("an identifier in brackets has two to four digits")
    for identifier, _ in parts:
        if identifier not in _IDENTIFIERS:
            raise Gs1Error(f"({identifier}) is no identifier that is read here")
    return tuple(parts)


def _plain(text: str) -> tuple[tuple[str, str], ...]:
    rest = text.removeprefix(_symbol(text)).removeprefix(_FNC1)
    elements: list[tuple[str, str]] = []
    while rest:
        identifier = next((rest[:n] for n in (2, 3, 4) if rest[:n] in _IDENTIFIERS), "")
        if not identifier:
            raise Gs1Error(f"{rest[:4]!r} begins with no identifier that is read here")
        rest = rest[len(identifier) :]
        value, rest = _cut(_IDENTIFIERS[identifier], rest)
        elements.append((identifier, value))
    if not elements:
        raise Gs1Error("there is nothing in it")
    return tuple(elements)


def _cut(kind: _Identifier, rest: str) -> tuple[str, str]:
    """The value at the front and what follows it; a length that is predefined needs no separator."""
    if kind.predefined:
        return rest[: kind.most], rest[kind.most :].removeprefix(_FNC1)
    value, _, after = rest.partition(_FNC1)
    return value, after


def _check(identifier: str, value: str, today: date) -> None:
    kind = _IDENTIFIERS[identifier]
    if not kind.least <= len(value) <= kind.most:
        wanted = str(kind.most) if kind.least == kind.most else f"{kind.least} to {kind.most}"
        raise Gs1Error(f"({identifier}) has {len(value)} characters and must have {wanted}")
    if kind.digits and not (value.isascii() and value.isdigit()):
        raise Gs1Error(f"({identifier}) must be digits")
    if not _CHARACTERS.fullmatch(value):
        raise Gs1Error(f"({identifier}) holds a character that no label may carry")
    if identifier in _CHECKED and not has_right_check_digit(value):
        raise Gs1Error(f"({identifier}) {value} fails its check digit")
    if identifier in _DATES:
        read_gs1_date(value, today)


def check_digit(digits: str) -> int:
    """The check digit of a number without it: weights 3 and 1 from the right, up to the next ten."""
    weighted = sum(int(digit) * (3, 1)[n % 2] for n, digit in enumerate(reversed(digits)))
    return -weighted % 10


def has_right_check_digit(number: str) -> bool:
    """Whether the last digit of a number is its check digit."""
    return len(number) > 1 and number.isascii() and number.isdigit() and check_digit(number[:-1]) == int(number[-1])


def is_gtin(number: str) -> bool:
    """Whether a text is a GTIN: 8, 12, 13 or 14 digits with the right check digit."""
    return len(number) in (8, 12, 13, 14) and has_right_check_digit(number)


def same_gtin(one: str, other: str) -> bool:
    """Whether two numbers of different lengths name the same item (zeros in front do not count)."""
    return bool(one) and one.zfill(14) == other.zfill(14)


def read_gs1_date(text: str, today: date) -> date:
    """A date YYMMDD; day 00 is the last of the month. Raises Gs1Error.

    Century (General Specifications 7.12): a year 51 to 99 above this year's two digits lies in
    the last century, one 50 to 99 below them in the next.
    """
    if not (len(text) == 6 and text.isascii() and text.isdigit()):
        raise Gs1Error(f"{text!r} is no date YYMMDD")
    year, month, day = int(text[:2]), int(text[2:4]), int(text[4:])
    ahead = year - today.year % 100
    century = today.year // 100 + (-1 if ahead >= 51 else 1 if ahead <= -50 else 0)
    full = century * 100 + year
    if not 1 <= month <= 12:
        raise Gs1Error(f"{text} names month {month}")
    last = calendar.monthrange(full, month)[1]
    if day > last:
        raise Gs1Error(f"{text} names day {day} of a month of {last} days")
    return date(full, month, day or last)
