"""Does a text look as if it told who a patient is? Such texts go no further, whichever way they came in.

One filter for all: cells of sheets and forms, scans, boxes of the page, remarks, reasons, and the
names of files and sheets. A bare name without title, age or "SURNAME, First" cannot be told from
the name of an instrument, nor a record number from a case number in the column of case numbers.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from enum import Enum, auto

from picklist.tables.columns import CellType, Column, Table

LABELS = (
    r"mrn|m\.r\.n|dob|d\.o\.b|ssn|date of birth|birth ?date|birthday|record (?:no|number|#)"
    r"|med(?:ical)? rec(?:ord)?|chart (?:no|number|#)|patient (?:name|id|no|number)|pat(?:ient)?\.? ?#"
    r"|hosp(?:ital)? (?:no|number|#)|nhs (?:no|number)"
)
WORDS = re.compile(rf"\b(?:{LABELS}|born)\b", re.IGNORECASE)
# A label with what it is the label of: a catalogue has patient id bands, too.
LABELLED = re.compile(
    rf"\b(?:(?:{LABELS})\b[\s.:#-]*(?:(?:is|no|nr|number)\b[\s.:#-]*)?[A-Z-]{{0,4}}|born\b(?:\s+on)?\s*)\d",
    re.IGNORECASE,
)
PHONE = re.compile(
    r"\b(?:phone|mobile|cell|tel|telephone)\b[\s.:#]*(?:no\b[\s.:#]*)?[+(]?\d[\d ()./-]{4,}", re.IGNORECASE
)
# Case sensitive: a title, then a name; or "patient", then a name.
TITLED = re.compile(r"\b(?:Mr|Mrs|Ms|Miss)\b\.?:?\s+[A-Z][a-z]+")
NAMED = re.compile(r"\b(?:[Pp]t|[Pp]atient|Mr|Mrs|Ms|Miss)\b\.?:?\s+(?!has\b|is\b|with\b)[A-Z][a-z]+")
# The same title in other letters, but MR is also a way to look into people: "MR conditional", "MR scan".
SHOUTED = re.compile(
    r"\b(?:MR|mr|MRS|mrs|Mrs?|Ms|Miss)\b\.?:?\s+"
    r"(?!(?:safe|unsafe|conditional|compatible|imaging|images?|scan\w*|angio\w*|arthro\w*|no|and|or|is|was)\b)[A-Za-z]{2,}",
)
SAID = re.compile(
    r"(?:^|[;,.(])\s*(?:(?:pt|patient)\W*s? )?name\s*[:=]\s*[A-Za-z]", re.IGNORECASE
)  # "Name: First Surname"
CARET_NAME = re.compile(r"\b[A-Za-z'’-]{2,}\^[A-Za-z]")  # as HL7 v2 writes a person, SURNAME^FIRST
MAIL = re.compile(r"[\w.+-]+@[\w-]+\.\w")
_NAME = r"[A-Z][A-Za-z'’-]+"
_YEARS = r"(?:\d{1,3}\s?-?(?:y/?o?|yrs?|years?)\b|\baged?:?\s*\d{1,3}\b)"
# "SURNAME, First F72", "First Surname, 72 y", "First Surname 72F". 18F alone may be a catheter's size.
AGED = re.compile(
    rf"\b(?:[A-Z][A-Z'’-]+,?\s+{_NAME}\s*,?\s*\(?(?:[FM]\s?/?\s?\d{{1,3}}\b|{_YEARS})|{_NAME},?\s+{_NAME}\s*,?\s*\(?{_YEARS})"
)
AGED_PERSON = re.compile(
    rf"\b{_NAME},?\s+{_NAME}\s*,?\s*\(?(?:[FM]\s?/?\s?\d{{1,3}}\b|\d{{1,3}}\s?/?\s?[FMfm]\b|{_YEARS})"
)
COMMA_NAME = re.compile(r"\b([A-Z][A-Z'’-]{2,}),\s*[A-Z][a-z'’-]+")
# Words of the trade that are written in capitals before a comma; no surnames here.
NO_SURNAMES = frozenset(
    {"LATEX", "MRSA", "MRI", "ICU", "XRAY", "X-RAY", "ORTHO", "NOTE", "LEFT", "RIGHT", "BOTH", "HOLD"}
)
PROVIDER = re.compile(r"(?:^|(?<=[\s*]))\+/[A-Z0-9]", re.IGNORECASE)  # HIBC codes of patients and of staff
LONG_NUMBER = re.compile(r"(?<![\w-])\d(?:[\d]|[ -](?=\d)){6,}(?![\w])|\b\d{3}[.)] ?\d{3}[. -]\d{4}\b")
FULL_DATE = re.compile(r"\b(\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.](\d{4}|\d{2}))\b")
DAY_NAMED = re.compile(
    r"\b\d{1,2}[\s.-]*(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?[\s,-]+(\d{4})\b", re.IGNORECASE
)
STAMPED = re.compile(r"(?<!\d)20\d\d[-_.]?(0[1-9]|1[0-2])[-_.]?([0-2]\d|3[01])(?:[-_T .]?\d{4,6})?(?!\d)")
QUOTED = re.compile(
    r"[+-]?[\d.,:/% ]{1,6}|(?=[\w.+/#-]*\d)[\w.+/#-]{1,16}"
    r"|[\d.,]{1,6} ?(?:[A-Z%°]{1,2}|lbs|mins?|minutes?|hours?|hrs?)",
    re.ASCII | re.IGNORECASE,
)
# What names somebody has three letters side by side, or with a sign between them, or is of several words; a code has
# its plus and slash.
LETTERS = re.compile(r"[^\W\d_](?:\W?[^\W\d_]){2}|\+/")
SHORT_NUMBER = 6  # digits; a longer one could be a record number
LONGEST_QUOTED = 300  # characters; no known value is longer, and to look through a line of a huge file takes seconds


class Kind(Enum):
    """What a text is about, and so how much of a person is looked for in it."""

    OF_A_CASE = auto()  # notes, remarks, scans, what was decided: anything of a patient is suspect
    NOTE = auto()  # a card's note: it may name a catalogue number, or the day of a meeting
    OF_THE_SITE = auto()  # names and ids: only what no name of a thing holds
    FILE_NAME = auto()  # of a file or sheet: it may hold the day and hour at which it was written


def kind_of(table: Table, column: Column) -> Kind | None:
    """How the texts of a column are looked at, by its declaration alone; None where no text can stay."""
    if column.type is CellType.TEXT:
        return Kind.OF_A_CASE if table.of_cases else Kind.NOTE if column.private else Kind.OF_THE_SITE
    if column.type in (CellType.CODE, CellType.CODES, CellType.STAND_INS, CellType.CONDITIONS):
        named = column.refers_to or column.name in table.key or not table.of_cases
        return Kind.OF_A_CASE if column.private or not named else Kind.OF_THE_SITE
    return None


def looks_private(text: str, today: date | None = None, kind: Kind = Kind.OF_A_CASE) -> str:
    """What a text seems to hold that must not be carried further; empty for nothing.

    A date after ``today`` is no date of birth.
    """
    several = len(text.split(maxsplit=1)) > 1  # an id is one word
    told = _tells_whom(text, kind, several) if several or LETTERS.search(text) else ""
    if told or kind is Kind.OF_THE_SITE or kind is Kind.NOTE:
        return told
    return _looks_of_a_case(STAMPED.sub(" ", text) if kind is Kind.FILE_NAME else text, today)


def name_to_say(title: str, titles: Sequence[str]) -> str:
    """What a sheet is called in what is said and kept: its number where its name seems to tell of a patient."""
    return f"no. {[*titles].index(title) + 1}" if looks_private(title, kind=Kind.FILE_NAME) else title


def _tells_whom(text: str, kind: Kind, several: bool) -> str:
    """Whether its words name somebody, or what is somebody's alone."""
    catalogue = kind in (Kind.OF_THE_SITE, Kind.FILE_NAME)
    titled, aged = (TITLED, AGED) if catalogue else (NAMED, AGED_PERSON)
    if PROVIDER.search(text):
        return "the code of a patient or of staff"
    if (LABELLED if catalogue else WORDS).search(text):
        return "a record number or a date of birth"
    if CARET_NAME.search(text) or (several and (titled.search(text) or aged.search(text))):
        return "a patient's name"
    return "a telephone number" if PHONE.search(text) else ""


def _looks_of_a_case(text: str, today: date | None) -> str:
    if any(match[1] not in NO_SURNAMES for match in COMMA_NAME.finditer(text)):
        return "a patient's name"
    if SHOUTED.search(text) or SAID.search(text):
        return "a patient's name"
    if MAIL.search(text):
        return "an e-mail address"
    if any(_could_be_past(match[0], today) for match in FULL_DATE.finditer(text)):
        return "a full date, which could be a date of birth"
    if any(today is None or int(match[1]) < today.year for match in DAY_NAMED.finditer(text)):
        return "a full date, which could be a date of birth"
    if LONG_NUMBER.search(FULL_DATE.sub(" ", text)):
        return "a long number, which could be a record or telephone number"
    return ""


def may_be_quoted(text: str, nearest: tuple[str, ...] = (), today: date | None = None) -> bool:
    """Whether what a cell holds may be shown, on the screen only, to whoever owns the sheet.

    It passes the filter, and is a slip of a known value, a short number or time, or looks like an id.
    """
    if len(text) > LONGEST_QUOTED:
        return False
    if FULL_DATE.fullmatch(text):
        return today is not None and str(today.year - 1) <= max(re.findall(r"\d{4}", text), default="")
    if looks_private(text, today) or sum(sign.isdigit() for sign in text) > SHORT_NUMBER:
        return False
    slip = any(any(sign.isalpha() for sign in one) for one in nearest)
    return slip or QUOTED.fullmatch(text) is not None


def _could_be_past(text: str, today: date | None) -> bool:
    """Whether a date, read in any order, may be on or before today; two digits of a year mean the last such year."""
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
