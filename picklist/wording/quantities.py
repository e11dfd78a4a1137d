"""How quantities read, wherever a person reads them: minutes, counts, shares and lists of names."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

# How each pace of a route reads (the values of ``model.uses.Pace``): the same words beside every ready time.
PACE_WORDS: Mapping[str, str] = {
    "usual": "at usual pace",
    "least": "when hurried",
    "queue": "in today's queue",
}


def span(minutes: float) -> str:
    """Minutes as ``45 min`` or ``2 h 05 min``; the sign is left to the sentence."""
    hours, rest = divmod(round(abs(minutes)), 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


def to_spare(slack: int) -> str:
    """Slack in words: ``12 min to spare`` or ``25 min late``."""
    return f"{span(slack)} {'late' if slack < 0 else 'to spare'}"


def at_pace(text: str, pace: str | None) -> str:
    """A time or a slack with the pace that it holds for: ``13:45 at usual pace``; as it is without a pace."""
    return text if pace is None else f"{text} {PACE_WORDS[pace]}"


def rest_time(seconds: float | None) -> str:
    """What comes after a count of what is done: how long the rest takes, no closer than is known; None is unknown."""
    if seconds is None:
        return ""
    if seconds < 10:
        return ", a few seconds left"
    return f", about {span(seconds / 60)} left" if seconds > 90 else f", about {5 * round(seconds / 5)} seconds left"


def counted(number: int, one: str, many: str = "") -> str:
    """``1 tray``, ``3 trays``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def more(number: int, one: str) -> str:
    """``one more set``, ``2 more sets``."""
    return f"one more {one}" if number == 1 else counted(number, f"more {one}")


def per_cent(share: float) -> str:
    """A share in whole per cent; what is not quite nought or all is not rounded to it."""
    rounded = round(100 * share)
    if rounded == 0 and share > 0:
        return "under 1 %"
    if rounded == 100 and share < 1:
        return "over 99 %"
    return f"{rounded} %"


def listed(names: Iterable[str], most: int | None = None) -> str:
    """``A``, ``A and B``, ``A, B and C``; of more than ``most`` the first and how many more: ``A, B and 12 more``."""
    all_names = list(names)
    if most is not None and len(all_names) > most:
        all_names = [*all_names[:most], f"{len(all_names) - most} more"]
    if len(all_names) < 2:
        return "".join(all_names)
    return f"{', '.join(all_names[:-1])} and {all_names[-1]}"


def first_listed(names: Sequence[str], characters: int) -> str:
    """As many names as so many characters hold, at least one, and how many more there are: ``A, B and 12 more``."""
    shown = next((n for n in range(1, len(names)) if len(", ".join(names[: n + 1])) > characters), len(names))
    rest = len(names) - shown
    return ", ".join(names[:shown]) + (f" and {rest} more" if rest else "")


def wait_for(cases: Collection[str], what: str) -> str:
    """``C-1 waits for its sets``, ``C-1 and C-2 wait for its sets``."""
    return f"{listed(cases)} {'waits' if len(cases) == 1 else 'wait'} for {what}"


def capital(sentence: str) -> str:
    """A sentence with a capital at its head."""
    return sentence[:1].upper() + sentence[1:]
