"""The valid values closest to what was written."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

MOST_LOOKS = 2_000_000  # about a second
LONGEST = 100  # letters of what is near anything; finding a slip takes the square of them
NOT_A_LETTER = re.compile(r"[\W_]+")


def plain(text: str) -> str:
    """Text for comparing: no case, spaces or punctuation."""
    if text.isascii() and text.isalnum():
        return text.lower()
    return NOT_A_LETTER.sub("", text.casefold())


class Candidates:
    """Valid values by id, and by name where they have one, to find the nearest of them quickly.

    One slip is found by looking up the text with a letter left out; only when that finds nothing
    are all values gone through, and not without end: a sheet in which everything is wrong is
    better said at once than said with suggestions.
    """

    def __init__(self, names: Mapping[str, str] | Iterable[str], most_looks: int = MOST_LOOKS) -> None:
        """Take ids, or ids with their names; ``most_looks`` bounds how many values are gone through in all."""
        pairs = tuple(names.items()) if isinstance(names, Mapping) else tuple((one, "") for one in names)
        self._spelled = [(one.casefold(), one) for one, _ in pairs]
        self._plain: dict[str, list[str]] = {}
        self._named: dict[str, list[str]] = {}
        for one, name in pairs:
            self._plain.setdefault(plain(one), []).append(one)
            if name:
                self._named.setdefault(plain(name), []).append(one)
        self._known: dict[str, tuple[str, ...]] = {}
        self._shortened: dict[str, list[tuple[str, str]]] | None = None
        self._looks_left = most_looks

    def nearest(self, written: str, most: int = 3) -> tuple[str, ...]:
        """Ids closest to what was written: an exact name first, then by id, then by name."""
        if written not in self._known:
            self._known[written] = self._search(written.casefold().strip())
        return self._known[written][:most]

    def _search(self, text: str) -> tuple[str, ...]:
        if not text:
            return ()
        bare = plain(text)
        exact = (*self._plain.get(bare, ()), *self._named.get(bare, ())) if bare else ()
        found = [(0, one) for one in exact]
        if not found and len(text) <= LONGEST:
            found = self._one_slip_away(text) or self._further_away(text, bare)
        least = min((slips for slips, _ in found), default=0)
        return tuple(dict.fromkeys(one for slips, one in sorted(found) if slips == least))

    def _one_slip_away(self, text: str) -> list[tuple[int, str]]:
        if self._shortened is None:
            self._shortened = {}
            for spelled, one in (pair for pair in self._spelled if len(pair[0]) <= LONGEST + 1):
                for variant in _without_a_letter(spelled):
                    self._shortened.setdefault(variant, []).append((spelled, one))
        near = {pair for variant in _without_a_letter(text) for pair in self._shortened.get(variant, ())}
        slips = ((slips_between(text, spelled, 1), one) for spelled, one in near)
        return [pair for pair in slips if pair[0] <= 1]

    def _further_away(self, text: str, bare: str) -> list[tuple[int, str]]:
        if self._looks_left <= 0:
            return []
        self._looks_left -= len(self._spelled)
        return closest(text, self._spelled) or closest(bare, [(name, ids[0]) for name, ids in self._named.items()])


def _without_a_letter(text: str) -> set[str]:
    """The text, and the text with each of its letters left out."""
    return {text, *(text[:n] + text[n + 1 :] for n in range(len(text)))}


def closest(text: str, spelled: Iterable[tuple[str, str]]) -> list[tuple[int, str]]:
    """(slips, value) of all values few enough slips of the keyboard away from a text."""
    allowed = 1 if len(text) <= 4 else 2 if len(text) <= 9 else 3
    letters = _letters(text)
    found = []
    for candidate, value in spelled:
        if abs(len(candidate) - len(text)) > allowed:
            continue
        if (letters ^ _letters(candidate)).bit_count() > 2 * allowed:
            continue
        slips = slips_between(text, candidate, allowed)
        if slips <= allowed:
            found.append((slips, value))
    return found


def slips_between(one: str, other: str, allowed: int) -> int:
    """Slips (a letter missing, extra, wrong, or two swapped) between texts; more than ``allowed`` when far apart."""
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, letter in enumerate(one, start=1):
        earlier, before, row = before, row, [i]
        for j, match in enumerate(other, start=1):
            cost = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (letter != match))
            if i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == match:
                cost = min(cost, earlier[j - 2] + 1)
            row.append(cost)
        if min(row) > allowed:
            return allowed + 1
    return row[-1]


_MASKS: dict[str, int] = {}


def _letters(text: str) -> int:
    mask = _MASKS.get(text)
    if mask is None:
        mask = 0
        for letter in text:
            mask |= 1 << (ord(letter) % 61)
        if len(_MASKS) < 200_000:
            _MASKS[text] = mask
    return mask
