"""Words as they are compared: no case, no accents, and no letters of another script that look alike."""

from __future__ import annotations

import unicodedata

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
