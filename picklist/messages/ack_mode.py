"""How a listener acknowledges; apart from the answers themselves, so that the command line knows it at once."""

from __future__ import annotations

from enum import StrEnum


class AckMode(StrEnum):
    """How a listener answers."""

    STANDARD = "standard"  # by MSH-15 and MSH-16
    ORIGINAL = "original"  # always AA, AE or AR
