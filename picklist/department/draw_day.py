"""Draw the days of a site: how long cases take, how late they start, how late sets arrive that are to be brought."""

from __future__ import annotations

from collections import Counter
from datetime import datetime

import numpy as np

from picklist.department.case_minutes import Spreads, draw_minutes
from picklist.department.day import Day
from picklist.department.late_starts import LateStarts, draw_arrivals, draw_start
from picklist.department.propagate import Draws
from picklist.department.ready_table import KEPT_AS, Minutes
from picklist.model.department import DrawnFrom, MinutesFrom
from picklist.model.site import Site


class DayDrawer:
    """Draws days of a site as of a moment; what was drawn of a case once stays, however the day is changed."""

    def __init__(self, site: Site, now: datetime, *, draws: int, seed: int) -> None:
        settings = site.settings
        self.site, self.now, self.draws, self.seed = site, now, draws, seed
        self.spreads = Spreads(site.past_cases, settings.overrun_spread)
        self.starts = LateStarts(site.past_cases, settings.site_clock, settings.turnover)
        self._minutes: dict[tuple[str, int], Minutes] = {}
        self._late: dict[tuple[str, bool], Minutes] = {}

    def draw(self, day: Day) -> Draws:
        """The draws of a day's cases and of the sets that are still to be brought for it."""
        how_many = {"draws": self.draws, "seed": self.seed}
        minutes, starts = (np.empty((len(day.cases), self.draws), dtype=KEPT_AS) for _ in range(2))
        for place, (case, before) in enumerate(zip(day.cases, day.before, strict=True)):
            is_first = before < 0
            length, start = (case.number, case.minutes), (case.number, is_first)
            if length not in self._minutes:
                self._minutes[length] = draw_minutes(case, self.spreads, self.site.settings, self.now, **how_many)
            if start not in self._late:
                lateness = self.starts.of_case(is_first=is_first)
                self._late[start] = draw_start(case, lateness, is_first=is_first, **how_many)
            minutes[place], starts[place] = self._minutes[length], self._late[start]
            self._minutes[length], self._late[start] = minutes[place], starts[place]  # not kept a second time
        return Draws(minutes=minutes, starts=starts, arrivals={one: self.arrival(one) for one in arriving(day)})

    def arrival(self, set_id: str) -> Minutes:
        """By how many minutes a set that is to be brought comes late in each draw."""
        return draw_arrivals(set_id, self.starts.arrival, draws=self.draws, seed=self.seed)

    def drawn_from(self, day: Day) -> DrawnFrom:
        """What the draws of a day are made from."""
        sources = Counter(self.spreads.of_case(case).source for case in day.cases)
        return DrawnFrom(
            minutes=tuple((source, sources[source]) for source in MinutesFrom if source in sources),
            variation=self.site.settings.overrun_spread,
            first=self.starts.first,
            later=self.starts.later,
            arrivals=self.starts.arrival if arriving(day) else None,
        )


def arriving(day: Day) -> list[str]:
    """The sets of a day that are still to be brought."""
    return sorted({link.reuse.set_id for link in day.links if link.arrives})
