"""What is said of characters that the papers' fonts lack."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from itertools import groupby

from picklist.wording.quantities import counted, listed

CHINESE = "Chinese"


def not_on_paper(missing: Iterable[str]) -> str:
    """A cell whose text holds such characters, by their scripts: it does not say what the text is."""
    scripts = listed(sorted({_script(one) for one in missing}))
    return f"papers cannot show characters of this text ({scripts}); each is printed as its number, such as [U+65E5]"


def writable() -> str:
    """What papers can show."""
    return "Latin, Greek or Cyrillic letters"


def replaced(missing: Iterable[str]) -> tuple[str, ...]:
    """A sentence for each script of which characters were printed as numbers, in order of the numbers."""
    return tuple(_sentence(script, list(some)) for script, some in groupby(sorted(missing), key=_script))


def cut_at(most: int, starts: Iterable[str]) -> tuple[str, ...]:
    """A sentence for each text that was too long for a row."""
    return tuple(f"a text of more than {most} characters is cut on paper: {start} …" for start in sorted(starts))


def _sentence(script: str, some: list[str]) -> str:
    numbers = [f"U+{ord(one):04X}" for one in some]
    if len(some) == 1:
        named = unicodedata.name(some[0], "without a name")
        return f"the character {numbers[0]} {named} is not in the sheets' font; it is printed as [{numbers[0]}]"
    return (
        f"{counted(len(some), 'character')} ({script}) are not in the sheets' font; "
        f"each is printed as its number, such as [{numbers[0]}]"
    )


def _script(character: str) -> str:
    """The script of a letter as its name in Unicode begins; of anything else what it is."""
    if unicodedata.category(character)[0] not in "LM":
        return "symbols"
    return (
        unicodedata.name(character, "other").split()[0].split("-")[0].capitalize().replace("Cjk", "Chinese characters")
    )
