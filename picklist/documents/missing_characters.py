"""Characters that the sheets' font lacks: shown by their number and reported, never dropped; and cells with such."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from picklist.documents.templates import fonts_of_sheets
from picklist.model.site import Site
from picklist.problems import Problem, to_fix
from picklist.wording.lists import cut_at, not_on_paper, replaced, writable

WHITE = frozenset("\t\n\r\x0b\x0c\u2028\u2029")
LONGEST = 600  # characters of one field that a row of a page surely holds
UNBROKEN = 22  # characters without a gap or a hyphen that stand in every column
MAY_BREAK = "\u200b"  # here a line may end; prints nothing
STRETCH = re.compile(rf"[^\s-]{{{UNBROKEN + 1},}}")
PART = re.compile(r"\[U\+[0-9A-F]+\]|.")


@cache
def covered(font: Path) -> frozenset[int]:
    """The code points that a font file has glyphs for."""
    from fontTools.ttLib import TTFont  # takes longer to load than all else here; texts in ASCII do without

    with TTFont(font, lazy=True) as read:
        return frozenset(read.getBestCmap())


def _breaking(stretch: re.Match[str]) -> str:
    """A line may end before each character, but for an accent and inside the number of a missing one."""
    parts: list[str] = PART.findall(stretch[0])
    return parts[0] + "".join(part if unicodedata.combining(part[0]) else MAY_BREAK + part for part in parts[1:])


class CharacterCheck:
    """Makes every string printable in some fonts and remembers what had to be replaced."""

    def __init__(self, fonts: tuple[Path, ...]) -> None:
        self._fonts = fonts
        self.missing: set[str] = set()
        self.cut: set[str] = set()

    @cached_property
    def _covered(self) -> frozenset[int]:
        return frozenset.intersection(*(covered(font) for font in self._fonts))

    def printable(self, text: str) -> str:
        """The text with line breaks as spaces, and each character that no font has as ``[U+65E5]``.

        A text too long for a row is cut, and says so. A stretch too long for a column may go on in the next line.
        """
        if len(text) > LONGEST:
            self.cut.add(text[:40])
            text = f"{text[:LONGEST]} … [cut]"
        if not (text.isascii() and text.isprintable()):
            text = "".join(self._shown(character) for character in text)
        return STRETCH.sub(_breaking, text) if len(text) > UNBROKEN else text

    def _shown(self, character: str) -> str:
        if character in WHITE:
            return " "
        if self._has(character):
            return character
        self.missing.add(character)
        return f"[U+{ord(character):04X}]"

    def _has(self, character: str) -> bool:
        return ord(character) in self._covered and unicodedata.category(character) not in ("Cc", "Cf")

    def everywhere(self, value: Any) -> Any:
        """The same lists and mappings with every string made printable."""
        if isinstance(value, str):
            return self.printable(value)
        if isinstance(value, dict):
            return {key: self.everywhere(one) for key, one in value.items()}
        if isinstance(value, (list, tuple)):
            return [self.everywhere(one) for one in value]
        return value

    def join(self, other: CharacterCheck) -> None:
        """Remember what another one had to replace, too."""
        self.missing |= other.missing
        self.cut |= other.cut

    def lacking(self, text: str) -> set[str]:
        """The characters of a text that the fonts lack."""
        return {one for one in text if one not in WHITE and not self._has(one)}

    def report(self) -> tuple[str, ...]:
        """A sentence for the characters of each script that were replaced, and for each text that was cut."""
        return (*replaced(self.missing), *cut_at(LONGEST, self.cut))


def check_names(site: Site) -> Iterator[Problem]:
    """Each cell whose text is printed and holds characters that no paper can show."""
    characters = CharacterCheck(fonts_of_sheets())
    for things, columns in _printed(site):
        for thing in things:
            for field, column in columns:
                text = getattr(thing, field)
                if text and not text.isascii() and (missing := characters.lacking(text)):
                    message = not_on_paper(missing)
                    yield to_fix("not on paper", thing.where.at(column), message, value=text, expected=writable())


def _printed(site: Site) -> Iterator[tuple[Iterable[Any], tuple[tuple[str, str], ...]]]:
    """What is printed of each table: the fields, and the columns that they come from."""
    yield site.cases, (("number", "case"), ("notes", "notes"))
    yield site.procedures.values(), (("name", "name"),)
    yield site.staff.values(), (("name", "name"),)
    yield site.rooms.values(), (("id", "room"),)
    yield site.card_lines, (("note", "note"),)
    yield site.items.values(), (("id", "item"), ("name", "name"), ("unit", "unit"), ("brought_by", "brought by"))
    yield site.packs.values(), (("id", "pack"), ("name", "name"))
    yield site.trays.values(), (("id", "tray"), ("name", "name"))
    yield site.sets.values(), (("id", "set"), ("missing", "missing"))
    yield site.lots, (("lot", "lot"),)
    yield site.places.values(), (("id", "place"),)
    yield (step for route in site.routes.values() for step in route.steps), (("name", "step"),)
    yield site.stations.values(), (("id", "station"),)
