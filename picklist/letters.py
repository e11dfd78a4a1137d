"""Words as they are compared and sorted: no case, no accents, and no letters of another script that look alike."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache

NaturalKey = tuple[tuple[tuple[int, int, str], ...], str]

_NUMBERS = re.compile(r"(\d+)")
MOST_DIGITS = 1000  # of a number in a name; Python refuses to read one of some thousands

# Small letters of other scripts that a reader takes for Latin ones (a subset of Unicode TS 39, from memory).
LOOKS_LIKE = str.maketrans(
    {
        **dict(zip("аеорсухіјѕһкмтвнԁԛԝ", "aeopcyxijshkmtbhdqw", strict=True)),
        **dict(zip("αεορυικντχ", "aeopyikvtx", strict=True)),
        **dict(zip("ıøłđ", "iold", strict=True)),
    }
)


def bare(text: str) -> str:
    """The text in small letters, without accents and outer spaces, look-alike letters as Latin ones."""
    folded = text.strip().casefold()
    if folded.isascii():
        return folded
    split = unicodedata.normalize("NFKD", folded.translate(LOOKS_LIKE))
    return "".join(letter for letter in split if not unicodedata.combining(letter)).translate(LOOKS_LIKE)


def one_named(word: str, names: Iterable[str]) -> str | None:
    """The name that a person means: as it is written, whatever its letters' case and spaces, or by its last figures.

    Figures alone name what ends in them where only one does: 4128 for C-4128. None where no name is meant.
    """
    listed = sorted(names)
    folded = " ".join(word.split()).casefold()
    found = [name for name in listed if name == word]
    found = found or [name for name in listed if " ".join(name.split()).casefold() == folded]
    if not found and folded.isdecimal():
        found = [name for name in listed if re.search(rf"(?<!\d){folded}$", name)]
        found = found if len(found) == 1 else []
    return found[0] if found else None


def whole_number(text: str, most_digits: int = 15) -> int | None:
    """The number that a text of plain digits says; None for any other text, and for more digits than anyone types."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= most_digits else None


@lru_cache(maxsize=65536)  # the same few places and lots are compared again and again
def natural_key(text: str) -> NaturalKey:
    """A sort key that counts numbers as numbers and ignores case: A-2-10 after A-2-1, before A-10-2.

    Names that differ only in case or leading zeros follow each other, in a stable order.
    """
    parts = (part for part in _NUMBERS.split(text.strip().casefold()) if part)
    return tuple((0, int(part), "") if _is_number(part) else (1, 0, part) for part in parts), text


def _is_number(part: str) -> bool:
    return part.isdecimal() and len(part) <= MOST_DIGITS
