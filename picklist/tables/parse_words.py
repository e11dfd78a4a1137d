"""Cells that hold ids, words from a list, weekdays and conditions."""

from __future__ import annotations

import re
from datetime import date, time, timedelta

from picklist.model.cards import Condition, ConditionKind
from picklist.model.schedule import LATEX, USUAL_SIZES, Side, speaks_of_latex
from picklist.tables.cells import Fault, Parsed, Raw, number_text, shown, tidy
from picklist.tables.columns import Column
from picklist.tables.near_words import word_slip_of
from picklist.tables.nearest import Candidates, plain

TURNED = "text turned into date"
SHORTENED = re.compile(r"[0-9](?:[.,][0-9]+)?E\+?[0-9]+", re.IGNORECASE)
SEPARATORS = re.compile(r"[;,\n]")
DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
GROUPS = {
    "daily": tuple(range(7)),
    "every day": tuple(range(7)),
    "weekdays": tuple(range(5)),
    "weekends": (5, 6),
    "weekend": (5, 6),
}
WEEKDAYS_WANTED = "weekdays as Mon, Mon-Fri, Sat; Sun or daily"
CONDITION_WANTED = "conditions as: alert latex, not alert latex, side left, size child"


def parse_text(_column: Column, raw: Raw) -> Parsed:
    """Any text, tidied."""
    if isinstance(raw, date):  # or a moment
        return None, Fault(kind=TURNED, expected="the text, in a cell formatted as text")
    return tidy(raw) if isinstance(raw, str) else shown(raw), None


def parse_code(_column: Column, raw: Raw) -> Parsed:
    """An id as it is typed; a number keeps its digits."""
    if isinstance(raw, str):
        text = tidy(raw)
        if SHORTENED.fullmatch(text):
            return None, Fault(kind="shortened number", expected="all its digits, in a cell formatted as text")
        return text, None
    if isinstance(raw, date | time | timedelta):
        return None, Fault(kind="turned into date", expected="the id as text")
    if isinstance(raw, float) and not isinstance(raw, bool):
        if abs(raw) >= 1e15:
            return None, Fault(kind="shortened number", expected="the number as text")
        return number_text(raw), None
    return shown(raw), None


def parse_codes(column: Column, raw: Raw) -> Parsed:
    """Several ids separated by ; (a comma or a new line also parts them), none twice."""
    if not isinstance(raw, str):
        code, fault = parse_code(column, raw)
        return (None if fault else (code,)), fault
    parts = tuple(part for part in (tidy(piece) for piece in SEPARATORS.split(raw)) if part)
    seen: set[str] = set()
    for part in parts:
        if plain(part) in seen:
            return None, Fault(kind="listed twice", expected="each once")
        seen.add(plain(part))
    return parts, None


def _pieces(raw: Raw) -> list[str]:
    """What stands between the separators of a cell, all of it: what is shown of a long one is shortened."""
    return [tidy(piece) for piece in SEPARATORS.split(raw if isinstance(raw, str) else shown(raw))]


def parse_choice(column: Column, raw: Raw) -> Parsed:
    """One of the column's words, whatever its case and spaces."""
    text = shown(raw)
    wanted = "" if "?" in text else plain(text)  # whoever wrote it was not sure
    for choice in column.choices:
        if plain(choice) == wanted:
            return choice, None
    for other, choice in column.also:
        if plain(other) == wanted or other == text.casefold():
            return next(one for one in column.choices if one == choice), None
    return None, Fault(
        kind="not a choice",
        expected="one of " + ", ".join(column.choices),
        nearest=Candidates(column.choices).nearest(text, 1) or _begun(column.choices, wanted),
    )


def parse_choices(column: Column, raw: Raw) -> Parsed:
    """Words of the column in order, separated by ; (a comma or a new line also parts them).

    A word left out before another one is a fault: which of them it was meant for cannot be told.
    """
    parts = _pieces(raw)
    while parts and not parts[-1]:
        parts.pop()
    found: list[str] = []
    for part in parts:
        if not part:
            return None, Fault(
                kind="left out", expected="one word for all, or one for each in order, of " + ", ".join(column.choices)
            )
        choice, fault = parse_choice(column, part)
        if fault:
            return None, fault
        found.append(choice)
    return tuple(found), None


def _begun(choices: tuple[str, ...], wanted: str) -> tuple[str, ...]:
    found = tuple(choice for choice in choices if wanted and plain(choice).startswith(wanted))
    return found if len(found) == 1 else ()


def parse_yes_no(_column: Column, raw: Raw) -> Parsed:
    """Yes or no; also true and false, y and n, 1 and 0."""
    text = shown(raw).casefold()
    if text in ("yes", "y", "true", "1"):
        return True, None
    if text in ("no", "n", "false", "0"):
        return False, None
    near = ("yes",) if text in ("x", "ja", "ok", "on") else Candidates(("yes", "no")).nearest(text, 1)
    near = near or (("no",) if text.startswith("no") else ())
    return None, Fault(kind="not yes or no", expected="yes or no", nearest=near)


def parse_weekdays(_column: Column, raw: Raw) -> Parsed:
    """Weekday numbers (0 = Monday) in order."""
    found: set[int] = set()
    for part in _pieces(raw):
        days = GROUPS.get(part.casefold()) or _span(part.casefold())
        if not days:
            near = Candidates((*(day.title() for day in DAYS), *GROUPS)).nearest(part, 2)
            named = tuple(word if word in GROUPS else word[:3] for word in near)
            return None, Fault(kind="not a weekday", expected=WEEKDAYS_WANTED, nearest=named)
        found.update(days)
    return tuple(sorted(found)), None


def _span(part: str) -> tuple[int, ...]:
    ends = [_weekday(tidy(end)) for end in re.split(r"-|–|\bto\b", part)]
    first, last = ends[0], ends[-1]
    if first is None or last is None or len(ends) > 2:
        return ()
    return tuple((first + n) % 7 for n in range((last - first) % 7 + 1))


def _weekday(word: str) -> int | None:
    word = word.rstrip(".").replace("days", "day")
    word = "wed" if word == "weds" else word
    found = [n for n, day in enumerate(DAYS) if len(word) >= 2 and day.startswith(word)]
    return found[0] if len(found) == 1 else None


def parse_conditions(_column: Column, raw: Raw) -> Parsed:
    """Conditions, all of which must hold."""
    made = []
    for part in _pieces(raw):
        if not part:
            continue
        condition, fault = _condition(part)
        if fault:
            return None, fault
        made.append(condition)
    return tuple(made), None


def _condition(part: str) -> Parsed:
    words = part.split(" ")
    negated = words[0].casefold() == "not"
    if negated:
        words = words[1:]
    if len(words) < 2:
        return None, Fault(kind="not a condition", expected=CONDITION_WANTED)
    kind = words[0].casefold()
    kinds = tuple(one.value for one in ConditionKind)
    if kind not in kinds:
        near = tuple(" ".join(["not"] * negated + [one] + words[1:]) for one in Candidates(kinds).nearest(words[0], 1))
        return None, Fault(kind="not a condition", expected=CONDITION_WANTED, nearest=near)
    value = " ".join(words[1:])
    if kind == "side" and value.casefold() not in tuple(side.value for side in Side):
        return None, Fault(
            kind="not a condition",
            expected="left, right, both or none",
            nearest=Candidates(tuple(side.value for side in Side)).nearest(value, 1),
        )
    condition = Condition(kind=ConditionKind(kind), value=value.casefold(), negated=negated)
    meant = _word_meant(condition)
    if not meant:
        return condition, None
    return None, Fault(
        kind="near word", expected=CONDITION_WANTED, nearest=(" ".join(["not"] * negated + [kind, meant]),)
    )


def _word_meant(condition: Condition) -> str:
    """The alert or size that the program itself knows and that a condition has misspelled."""
    if condition.kind is ConditionKind.ALERT and not speaks_of_latex(condition.value):
        return word_slip_of(condition.value, (LATEX,))
    return word_slip_of(condition.value, USUAL_SIZES) if condition.kind is ConditionKind.SIZE else ""
