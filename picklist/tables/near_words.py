"""Free words that have effect by being equal: which known word a written one was probably meant for.

Alerts, size classes and names of runs have no table of their own, so that a slip in one makes a word
that nothing knows. Short words are compared with care: MRSA and MSSA are two alerts.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from picklist.letters import bare
from picklist.tables.nearest import slips_between

TOKEN = re.compile(r"[^\W_]+")
VOWELS = re.compile(r"[aeiouy]")
DIGITS = re.compile(r"\d+")
SHORTEST_SLIP = 5  # letters of a known word in which one slip is still plain
LONG = 7  # letters from which on two slips are
ENDING = 3  # letters that may follow a known word, as in children
FAMILIES = (
    frozenset({"child", "children", "kid", "pediatric", "paediatric", "peds", "paeds"}),
    frozenset({"infant", "baby", "neonate", "newborn", "toddler", "child", "children", "pediatric", "paediatric"}),
    frozenset({"adult", "grownup"}),
)

Tokens = tuple[str, ...]


def word_slip_of(written: str, known: Iterable[str]) -> str:
    """The known word of which a written one is a slip of the keyboard; empty when it is none, or known itself."""
    return _first(written, known, _is_slip)


def word_meant(written: str, known: Iterable[str]) -> str:
    """The known word that a written one was probably meant for: a slip, a shorter or a longer form, or its like.

    Empty when the written word is known itself, or is near none.
    """
    return _first(written, known, _is_slip) or _first(written, known, _is_form)


def _first(written: str, words: Iterable[str], near: Callable[[Tokens, Tokens], bool]) -> str:
    tokens, words = _tokens(written), tuple(words)
    if not tokens or any(bare(word) == bare(written) for word in words):
        return ""
    return next((word for word in words if (known := _tokens(word)) and near(tokens, known)), "")


def _tokens(text: str) -> Tokens:
    return tuple(TOKEN.findall(bare(text)))


def _is_slip(written: Tokens, known: Tokens) -> bool:
    if "".join(written) == "".join(known):
        return True
    return len(written) == len(known) and all(
        _token_slip(one, other) for one, other in zip(written, known, strict=True)
    )


def _token_slip(written: str, known: str) -> bool:
    if written == known:
        return True
    if DIGITS.findall(written) != DIGITS.findall(known):
        return False
    consonants = VOWELS.sub("", known)
    if len(consonants) > 2 and len(written) < len(known) and VOWELS.sub("", written) == consonants:
        return True
    if len(known) > 2 and sorted(written) == sorted(known):  # two letters that changed places
        return slips_between(written, known, 1) <= 1
    allowed = 0 if len(known) < SHORTEST_SLIP else 1 if len(known) < LONG else 2
    return bool(allowed) and slips_between(written, known, allowed) <= allowed


def _is_form(written: Tokens, known: Tokens) -> bool:
    """Known words within longer ones, a beginning of one, its initials, other endings, and other words for it."""
    size = len(known)
    within = (written[n : n + size] for n in range(len(written) - size + 1))
    if any(_is_slip(part, known) or _has_ending(part, known) for part in within):
        return True
    if size > 1 and len(written) == 1 and written[0] == "".join(token[0] for token in known):
        return True
    whole = "".join(written)
    if len(whole) > 2 and whole.isalpha() and "".join(known).startswith(whole):
        return True
    return size == 1 and any(_is_like(written, known[0], family) for family in FAMILIES)


def _is_like(written: Tokens, known: str, family: frozenset[str]) -> bool:
    """Whether all that is written are other words, or slips of them, for what a known one says."""
    return known in family and all(any(_token_slip(one, other) for other in family) for one in written)


def _has_ending(written: Tokens, known: Tokens) -> bool:
    *same, last = written
    *expected, whole = known
    longer = len(last) - len(whole)
    return same == expected and len(whole) > 3 and last.startswith(whole) and last.isalpha() and longer <= ENDING
