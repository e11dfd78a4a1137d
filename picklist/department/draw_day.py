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
        for case, before in zip(day.cases, day.before, strict=True):
            how_many = {"draws": self.draws, "seed": self.seed}
            if (case.number, case.minutes) not in self._minutes:
                drawn = draw_minutes(case, self.spreads, self.site.settings, self.now, **how_many)
                self._minutes[case.number, case.minutes] = drawn
            is_first = before < 0
            if (case.number, is_first) not in self._late:
                lateness = self.starts.of_case(is_first=is_first)
                self._late[case.number, is_first] = draw_start(case, lateness, is_first=is_first, **how_many)
        shape = (len(day.cases), self.draws)
        minutes = np.array([self._minutes[one.number, one.minutes] for one in day.cases], dtype=KEPT_AS).reshape(shape)
        firsts = [before < 0 for before in day.before]
        late = [self._late[one.number, is_first] for one, is_first in zip(day.cases, firsts, strict=True)]
        starts = np.array(late, dtype=KEPT_AS).reshape(shape)
        for place, (case, is_first) in enumerate(zip(day.cases, firsts, strict=True)):  # not kept a second time
            self._minutes[case.number, case.minutes] = minutes[place]
            self._late[case.number, is_first] = starts[place]
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
