"""Until when a thing may be used: a last day, never an end, or not recorded."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import TypeAlias


class Expires(StrEnum):
    """What is stated of a thing without a last day."""

    NEVER = "never"


Expiry: TypeAlias = date | Expires | None  # None: not recorded


def is_past(expiry: Expiry, day: date) -> bool:
    """Whether a recorded last day is before a day; of what is not recorded nobody knows."""
    return isinstance(expiry, date) and expiry < day


def taking_order(expiry: Expiry) -> tuple[int, int]:
    """A sort key: the earliest last day first, then what never expires, then what is not recorded."""
    if isinstance(expiry, date):
        return 0, expiry.toordinal()
    return (1, 0) if expiry is Expires.NEVER else (2, 0)


def expiry_text(expiry: Expiry) -> str:
    """An expiry as it is kept in files: an ISO day, ``never``, or nothing."""
    if isinstance(expiry, date):
        return expiry.isoformat()
    return expiry or ""
