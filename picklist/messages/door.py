"""What passes the door: ids and codes that look like such; anything else becomes a mark or is dropped."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from picklist.messages.events import SIDE_WORDS, STATUS_WORDS
from picklist.tables.cells import tidy
from picklist.tables.private import FULL_DATE, Kind, looks_private, may_be_quoted

MARK = "#"
PLAIN_ID = re.compile(r"(?=[^\d]*\d)[A-Za-z0-9._/-]{1,40}")
HL7_TIME = re.compile(r"(\d{8})(?:(\d\d)(?:(\d\d)(?:(\d\d)(?:\.\d+)?)?)?)?([+-]\d{4})?")
YEARS = (2000, 2100)
STANDARD_WORDS = STATUS_WORDS.keys() | SIDE_WORDS.keys()


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """How a site lets ids and codes in.

    ``key`` makes marks: equal texts have equal marks, and nobody reads a text from one. ``hide_ids``:
    appointment numbers become marks, for sites whose numbers are made of record numbers.
    ``id_systems``: systems of FHIR identifiers that hold a case's number.
    """

    key: bytes
    hide_ids: bool = False
    id_systems: frozenset[str] = frozenset()

    def mark(self, text: str) -> str:
        """A mark by which a text is known again."""
        made = hashlib.blake2b(fold_code(text).encode(), key=self.key, digest_size=10).digest()
        return MARK + base64.b32encode(made).decode().lower().rstrip("=")

    def code(self, text: str) -> str:
        """A code as it may be kept: as it is when it looks like one, else its mark."""
        text = tidy(text)
        if not text or text.casefold() in STANDARD_WORDS or may_be_quoted(text):
            return text
        return self.mark(text)

    def name(self, text: str) -> str:
        """The id of a message or message part as it may be kept; a mark when it does not look like an id."""
        text = tidy(text)
        plain = (
            PLAIN_ID.fullmatch(text) and not FULL_DATE.search(text) and not looks_private(text, kind=Kind.OF_THE_SITE)
        )
        return text if plain or not text else self.mark(text)

    def appointment(self, text: str) -> str:
        """An appointment's number as it may be kept."""
        return self.mark(text) if self.hide_ids and text else self.name(text)


SHORTEST = 4  # characters of a patient's number that could not stand in another one by chance
PATIENTS_OWN = (
    "the appointment's number holds the patient's own number, so nothing was kept; set 'hide message numbers' to yes, "
    "and let it be sent again"
)


def patient_numbers(texts: Iterable[str]) -> frozenset[str]:
    """Those of some ids of a patient that are numbers."""
    return frozenset(one for one in texts if len(one) >= SHORTEST and any(sign.isdigit() for sign in one))


def holds_number(text: str, numbers: frozenset[str]) -> bool:
    """Whether an id is one of these numbers, or holds one as a part of its own."""
    return not numbers.isdisjoint((text, *re.split(r"[^A-Za-z0-9]+|(?<=[A-Za-z])(?=\d)", text)))


def fold_code(text: str) -> str:
    """A code for matching: no case, no outer or doubled spaces."""
    return tidy(text).casefold()


def is_mark(text: str) -> bool:
    """Whether a kept code is a mark."""
    return text.startswith(MARK)


def read_hl7_time(text: str) -> str:
    """A time of HL7 v2 as ISO text with its offset where it has one; empty when it is none or has no hour."""
    found = HL7_TIME.fullmatch(text)
    if not found or found[2] is None:
        return ""
    day, hour, minute, second, offset = found.groups()
    return read_iso_time(f"{day[:4]}-{day[4:6]}-{day[6:]}T{hour}:{minute or '00'}:{second or '00'}{offset or ''}")


def read_iso_time(text: str) -> str:
    """A time in ISO form to the second, as it may be kept; empty when it is none, has no hour or a strange year."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return ""
    if "T" not in text or not YEARS[0] <= moment.year <= YEARS[1]:
        return ""
    return moment.replace(microsecond=0).isoformat()
