"""A booking diary: rooms, surgeons and sets that are taken, and until when."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from benchmarks.scenario.cards import base_cards
from benchmarks.scenario.lists import read_list
from benchmarks.scenario.trays import Kept

LEAD = timedelta(minutes=30)
# From wheels-out until a booking office counts on the set again, with something to spare.
AWAY_MINUTES = {"STEAM": 320, "STEAM-LONG": 350, "GRAVITY": 270, "LOWTEMP": 230, "OFFSITE": 1080, "LOAN": 380}

Span = tuple[datetime, datetime]


@dataclass(slots=True)
class Diary:
    """What is taken. ``kept`` are the sets that may be promised, by tray and side."""

    kept: dict[tuple[str, str], Kept]
    people: dict[str, list[Span]] = field(default_factory=lambda: defaultdict(list))
    sets: dict[tuple[str, str], list[Span]] = field(default_factory=lambda: defaultdict(list))

    def is_free(self, person: str, span: Span) -> bool:
        """Whether the person has no other case in that time."""
        return not any(_overlap(span, other) for other in self.people[person])

    def has_sets(self, procedures: Iterable[str], side: str, span: Span) -> bool:
        """Whether every tray of the procedures still has a set for that time, above what is kept ready."""
        for key, away in self._wanted(procedures, side, span):
            kept = self.kept.get(key, Kept(0, 0))
            if sum(_overlap(away, other) for other in self.sets[key]) >= kept.sets - kept.keep_ready:
                return False
        return True

    def book(self, surgeon: str, procedures: Iterable[str], side: str, span: Span) -> None:
        """Write a case down."""
        self.people[surgeon].append(span)
        for key, away in self._wanted(procedures, side, span):
            self.sets[key].append(away)

    def _wanted(self, procedures: Iterable[str], side: str, span: Span) -> list[tuple[tuple[str, str], Span]]:
        listed = {one["tray"]: one for one in read_list("trays")}
        wanted = dict.fromkeys(asked.thing for name in procedures for asked in base_cards()[name].trays)
        found = []
        for tray in wanted:
            away = (span[0] - LEAD, span[1] + timedelta(minutes=AWAY_MINUTES[listed[tray]["route"]]))
            sides = ("left", "right") if side == "both" else (side,)
            keys = [(tray, one) for one in sides] if listed[tray]["sided"] == "yes" else [(tray, "")]
            found += [(key, away) for key in keys]
        return found


def _overlap(one: Span, other: Span) -> bool:
    return one[0] < other[1] and other[0] < one[1]
