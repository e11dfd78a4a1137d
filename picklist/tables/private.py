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


def looks_private(text: str, today: date | None = None, *, of_a_patient: bool = True) -> str:
    """What a text seems to hold that must not be carried further; empty for nothing.

    A date after ``today`` is no date of birth. Numbers and dates are suspect only in texts
    ``of_a_patient``: a card's note may name a catalogue number or the day of a meeting.
    """
    if WORDS.search(text):
        return "a record number or a date of birth"
    if NAMED.search(text):
        return "a patient's name"
    if not of_a_patient:
        return ""
    if any(_could_be_past(match[0], today) for match in FULL_DATE.finditer(text)):
        return "a full date, which could be a date of birth"
    if LONG_NUMBER.search(FULL_DATE.sub(" ", text)):
        return "a long number, which could be a record number"
    return ""


def _could_be_past(text: str, today: date | None) -> bool:
    """Whether a date, read in any order, may lie on or before today; two digits of a year mean the last such year."""
    if today is None:
        return True
    one, two, three = (int(part) for part in re.split(r"[-/.]", text))
    readings = ((one, two, three),) if one > 31 else ((three, one, two), (three, two, one))
    days = [day for day in (_day(reading, today) for reading in readings) if day]
    return not days or min(days) <= today


def _day(reading: tuple[int, int, int], today: date) -> date | None:
    year, month, day = reading
    if year < 100:
        year += 2000 if 2000 + year <= today.year else 1900
    try:
        return date(year, month, day)
    except ValueError:
        return None
