"""Does a free text look as if it held a patient's name, number or birthday? Such texts go no further."""

from __future__ import annotations

import re
from datetime import date

WORDS = re.compile(
    r"\b(mrn|m\.r\.n|dob|d\.o\.b|ssn|date of birth|born|birth ?date|birthday|record (no|number|#)|med(ical)? rec(ord)?"
    r"|chart (no|number|#)|patient (name|id|no|number)|pat(ient)?\.? ?#|hosp(ital)? (no|number|#)|nhs (no|number))\b",
    re.IGNORECASE,
)
# Case sensitive: a title or "patient", then a name.
NAMED = re.compile(r"\b([Pp]t|[Pp]atient|Mr|Mrs|Ms|Miss)\b\.?:?\s+(?!has\b|is\b|with\b)[A-Z][a-z]+")
LONG_NUMBER = re.compile(r"(?<![\w-])\d(?:[\d]|[ -](?=\d)){6,}(?![\w])")
FULL_DATE = re.compile(r"\b(\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.](\d{4}|\d{2}))\b")


def looks_private(text: str, today: date | None = None) -> str:
    """What a text seems to hold that must not be carried further; empty for nothing.

    A date after ``today`` is no date of birth.
    """
    if WORDS.search(text):
        return "a record number or a date of birth"
    if NAMED.search(text):
        return "a patient's name"
    if any(_could_be_past(match[0], today) for match in FULL_DATE.finditer(text)):
        return "a full date, which could be a date of birth"
    if LONG_NUMBER.search(text):
        return "a long number, which could be a record number"
    return ""


def _could_be_past(text: str, today: date | None) -> bool:
    if today is None:
        return True
    one, two, three = (int(part) for part in re.split(r"[-/.]", text))
    readings = ((one, two, three),) if one > 31 else ((three, one, two), (three, two, one))
    days = [_day(*reading) for reading in readings]
    return not all(day is None or day > today for day in days) or not any(days)


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year if year > 99 else year + 2000, month, day)
    except ValueError:
        return None
