"""Reading HIBC labels: maker and product, lot, expiry and serial.

Source: ANSI/HIBC 2.6, as quoted and with its worked examples in open-source tests that cite it.
``+`` maker (4) product (1-18) packaging level (1) check, and in the same or a second symbol lot and dates.
"""

from __future__ import annotations

import re
from datetime import date, timedelta

from picklist.labels.label import Label, LabelError, day_of, full_year

_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"
_PRIMARY = re.compile(r"[A-Z][A-Z0-9]{3}[A-Z0-9]{1,18}\d")
_PROVIDER = "+/"  # codes of patients and staff, which no package carries
# After $$: the digit that says which date follows, and how it is written; 0 and 1 begin a month themselves.
_DATE_FORMS = {"2": "MMDDYY", "3": "YYMMDD", "4": "YYMMDDHH", "5": "YYJJJ", "6": "YYJJJHH", "7": ""}
_MONTH_AND_YEAR = "MMYY"
_LONGEST = 18


def check_character(data: str) -> str:
    """The check character of a text: the sum of its characters' places in the alphabet, modulo 43."""
    return _ALPHABET[sum(_ALPHABET.index(sign) for sign in data) % 43]


def looks_like_hibc(text: str) -> bool:
    """Whether a scan or a printed line claims to be a HIBC label."""
    return text.lstrip("*").startswith("+")


def read_hibc(text: str, today: date) -> Label:
    """What a HIBC label says; ``today`` decides the century of its dates. Raises LabelError.

    The check character may be a blank, which is printed as an underscore. An hour of expiry is in GMT and not kept.
    """
    data = _checked(text)
    if data[:1].isalpha():
        primary, _, secondary = data.partition("/")
        return _with_parts(Label(hibc=_primary(primary)), secondary, today)
    if len(data) < 2:
        raise LabelError("there is nothing in it")
    return _with_parts(Label(link=data[-1]), data[:-1], today)


def primary_of(text: str) -> str:
    """Maker, product and packaging level as a table states them: bare, or a whole label. Raises LabelError."""
    text = text.strip().upper()
    if not looks_like_hibc(text):
        return _primary(text)
    if set(text) <= set(_ALPHABET) and check_character(text) == " ":  # the cell lost the blank at its end
        text += " "
    return _primary(_checked(text).partition("/")[0])


def same_product(one: str, other: str) -> bool:
    """Whether two HIBC codes name the same product, perhaps in packages of different size."""
    return bool(one) and one[:-1] == other[:-1]


def _checked(text: str) -> str:
    """The data of a label, without ``+`` and check character."""
    if text.startswith("*") and text.rstrip().endswith("*"):
        text = text.strip().strip("*")
    text = text.upper().replace("_", " ")
    if text.startswith(_PROVIDER):
        raise LabelError("this is a code of a patient or of staff, which is never read here")
    if not set(text) <= set(_ALPHABET):
        raise LabelError("it holds a character that no HIBC label may carry")
    if len(text) < 3 or check_character(text[:-1]) != text[-1]:
        raise LabelError("its check character is wrong")
    return text[1:-1]


def _primary(text: str) -> str:
    if not _PRIMARY.fullmatch(text):
        raise LabelError("maker, product and packaging level are a letter, 4 to 21 letters or digits, and a digit")
    return text


def _with_parts(label: Label, text: str, today: date) -> Label:
    """A label with what its second part says: lot or serial with a date, then parts that name themselves."""
    lot, serial, expiry = "", "", None
    for part in text.split("/"):
        if part.startswith("14D"):
            expiry = _day_in_full(part[3:])
        elif part.startswith("S"):
            serial = _id(part[1:])
        elif not part.startswith(("16D", "Q")):  # the day it was made, a quantity
            lot, serial, expiry = _lot_and_date(part, today)
    return Label(hibc=label.hibc, link=label.link, lot=lot, serial=serial, expiry=expiry)


def _lot_and_date(text: str, today: date) -> tuple[str, str, date | None]:
    """Lot, serial and expiry: ``$$`` date lot, ``$$+`` date serial, ``$`` lot, ``$+`` serial, or YYJJJ lot."""
    if text.startswith("$$"):
        serial = text.startswith("$$+")
        rest = text[3:] if serial else _without_quantity(text[2:])
        expiry, rest = _dated(rest, today)
    elif text.startswith("$"):
        serial, expiry, rest = text.startswith("$+"), None, text[2:] if text.startswith("$+") else text[1:]
    elif text:
        serial, (expiry, rest) = False, _date_in_front("YYJJJ", text, today)
    else:
        return "", "", None
    return ("", _id(rest), expiry) if serial else (_id(rest), "", expiry)


def _without_quantity(text: str) -> str:
    """What follows a quantity: 8 and two digits, or 9 and five."""
    length = {"8": 3, "9": 6}.get(text[:1], 0)
    if length and not (len(text) >= length and text[:length].isdigit()):
        raise LabelError("a quantity has two or five digits")
    return text[length:]


def _dated(text: str, today: date) -> tuple[date | None, str]:
    if not text:
        return None, ""
    if text[0] in "01":
        return _date_in_front(_MONTH_AND_YEAR, text, today)
    form = _DATE_FORMS.get(text[0])
    if form is None:
        raise LabelError("no digit says how its date is written")
    return _date_in_front(form, text[1:], today) if form else (None, text[1:])


def _date_in_front(form: str, text: str, today: date) -> tuple[date, str]:
    written = text[: len(form)]
    if len(written) < len(form) or not written.isdigit():
        raise LabelError(f"its date must be digits, {form}")
    part = {sign: int("".join(d for d, f in zip(written, form, strict=True) if f == sign)) for sign in set(form)}
    year = full_year(part["Y"], today)
    if "J" not in part:
        return day_of(year, part["M"], part.get("D", 0)), text[len(form) :]
    day = date(year, 1, 1) + timedelta(days=part["J"] - 1)
    if day.year != year:
        raise LabelError("a date names a day that its year does not have")
    return day, text[len(form) :]


def _day_in_full(text: str) -> date:
    if not (len(text) == 8 and text.isdigit() and int(text[:4])):
        raise LabelError("its date must be digits, YYYYMMDD")
    return day_of(int(text[:4]), int(text[4:6]), int(text[6:]))


def _id(text: str) -> str:
    if len(text) > _LONGEST or not re.fullmatch(r"[A-Z0-9]*", text):
        raise LabelError(f"a lot or serial number has at most {_LONGEST} letters and digits")
    return text
