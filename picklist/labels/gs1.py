"""Reading GS1 element strings: item number, lot, expiry and serial from one scan.

Source: GS1 General Specifications (element strings and FNC1 in 7.8, dates in 7.12). Which identifiers
there are, and what may follow them, is biip's to know; what it only reports, a wrong check digit or
one identifier with two values, is refused here.
"""

from __future__ import annotations

import re
from datetime import date

from picklist.labels.label import ASSET_IDENTIFIER, Label, LabelError, day_of, full_year, has_right_check_digit, is_gtin

# What scanners put before element strings: GS1-128, DataMatrix, QR, DataBar and composites, DotCode.
_SYMBOLS = ("]C1", "]d2", "]Q3", "]e0", "]J1")
_FNC1 = "\x1d"
# What keyboards, terminals and spreadsheets make of the separator.
_SEPARATOR = re.compile(r"\x1d|<GS>|\{GS\}|\^\]|\u241d|_x001D_", re.IGNORECASE)
_BRACKETED = re.compile(r"\((\d{2,4})\)([^(]*(?:\((?!\d{2,4}\))[^(]*)*)")
_EAN = "]E0"  # plain EAN-13 and UPC, and not ]e0 with its letters swapped
_COMPOSITE = "|]e0"  # between an EAN or UPC code and the small one above it
_DATES = ("11", "12", "13", "15", "16", "17")
# Identifiers whose first digits end in a check digit, beside those that biip looks at (00 to 03, 41x).
_CHECKED = {"253": 13, "255": 13, "402": 17, "8003": 14, "8006": 14, "8017": 18, "8018": 18, "8026": 14}

Elements = tuple[tuple[str, str], ...]


def looks_like_gs1(text: str) -> bool:
    """Whether a scan claims to be an element string.

    By its symbol, by FNC1, by brackets, or by a number whose check digit is right, or a date, where it must be.
    """
    text = _plain_form(text)
    return (
        _symbol(text) != ""
        or text.startswith(_FNC1)
        or _BRACKETED.match(text) is not None
        or (text.startswith("01") and len(text) >= 16 and is_gtin(text[2:16]))
        or re.match(r"17\d{6}(?:10|21).", text) is not None
    )


def has_letters_swapped(text: str) -> bool:
    """Whether a scan came through a keyboard that made capital letters small, as the mark before the data shows."""
    return _symbol(text) not in ("", *_SYMBOLS)


def read_gs1(text: str, today: date) -> Label:
    """What an element string says; ``today`` decides the century of its dates. Raises LabelError."""
    elements = read_elements(text)
    known = dict(elements)
    if any(known[identifier] != value for identifier, value in elements):
        raise LabelError("one identifier is there twice with two values")
    if "01" in known and "02" in known:
        raise LabelError("(01) and (02) cannot be on one label")
    dates = {identifier: read_gs1_date(known[identifier], today) for identifier in _DATES if identifier in known}
    return Label(
        gtin=known.get("01", ""),
        lot=known.get("10", ""),
        serial=known.get("21", ""),
        expiry=dates.get("17"),
        asset=known.get(ASSET_IDENTIFIER, ""),
    )


def read_elements(text: str) -> Elements:
    """The identifiers and values of an element string, in the order in which they stand. Raises LabelError.

    Takes the bracketed form that is printed, ``(01)...(10)...``, also with braces, and the plain form that a
    scanner gives, with or without the symbol's mark.
    """
    text = _plain_form(text)
    elements = _bracketed(text) if text.startswith("(") else _run_on(text)
    if not elements:
        raise LabelError("there is nothing in it")
    return elements


def get_ready() -> None:
    """Load what reading takes, so that the first label of a sitting is answered as fast as the others."""
    read_elements("(10)1")


def read_gs1_date(text: str, today: date) -> date:
    """A date YYMMDD; day 00 is the last of the month. Raises LabelError."""
    if not (len(text) == 6 and text.isascii() and text.isdigit()):
        raise LabelError("a date has six digits, YYMMDD")
    return day_of(full_year(int(text[:2]), today), int(text[2:4]), int(text[4:]))


def _symbol(text: str) -> str:
    """What a scanner put before the data, as it came: a keyboard with its capitals on swaps the letters."""
    mark = text[:3]
    return mark if mark in _SYMBOLS or (mark.swapcase() in _SYMBOLS and mark != _EAN) else ""


def _plain_form(text: str) -> str:
    """The text with one kind of separator and of bracket, a composite code as one string."""
    number, bar, above = text.partition(_COMPOSITE)
    if bar:
        text = f"]e001{re.sub('^][A-Za-z][0-9]', '', number).zfill(14)}{above}"
    text = _SEPARATOR.sub(_FNC1, text)
    return re.sub(r"\{(\d{2,4})\}", r"(\1)", text) if text.startswith("{") else text


def _bracketed(text: str) -> Elements:
    parts = _BRACKETED.findall(text)
    if "".join(f"({identifier}){value}" for identifier, value in parts) != text:
        raise LabelError("an identifier in brackets has two to four digits")
    return tuple(_element(identifier + value.strip().removesuffix(_FNC1), identifier)[0] for identifier, value in parts)


def _run_on(text: str) -> Elements:
    rest = text.removeprefix(_symbol(text)).removeprefix(_FNC1)
    elements = []
    while rest:
        element, rest = _element(rest)
        elements.append(element)
    return tuple(elements)


def _element(text: str, bracketed: str = "") -> tuple[tuple[str, str], str]:
    """The first element and what follows it. ``bracketed``: the identifier of a text that is one element."""
    from biip import ParseConfig, ParseError  # here, as it takes a while to load and most runs read no label
    from biip.gs1_application_identifiers import GS1ApplicationIdentifier
    from biip.gs1_element_strings import GS1ElementString

    unknown = LabelError("it holds an identifier that GS1 does not know")
    try:
        identifier = GS1ApplicationIdentifier.extract(text).ai
    except ParseError:
        raise unknown from None
    if bracketed and identifier != bracketed:
        raise unknown
    wrong = LabelError(f"what follows ({identifier}) does not have the length or the characters that GS1 sets for it")
    try:
        found = GS1ElementString.extract(
            text,
            config=ParseConfig(gs1_element_strings_verify_date=False),  # the day of reading is ours to choose
        )
    except ParseError:
        raise wrong from None
    rest = text[len(identifier) + len(found.value) :]
    ended = not rest or rest.startswith(_FNC1) or (not bracketed and not found.ai.separator_required)
    if not found.value or not ended:
        raise wrong
    length = _CHECKED.get(identifier)
    if found.gtin_error or found.sscc_error or found.gln_error:
        raise LabelError(f"({identifier}) has a wrong check digit")
    if length and not has_right_check_digit(found.value[:length]):
        raise LabelError(f"({identifier}) has a wrong check digit")
    return (identifier, found.value), rest.removeprefix(_FNC1)
