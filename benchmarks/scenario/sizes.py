"""How large an invented site is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime

NOW = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 (the site's wall clock)
TOMORROW = date(2026, 11, 26)


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """The size of an invented site.

    ``campuses``: hospitals with rooms, trays, people and stock of their own, in one region. So many neighbours
    ``lend`` each other the trays on loan: one of them owns and cleans them.
    Of each campus: ``rooms``, ``days`` of schedule (no Sundays), the most ``cases_a_day``,
    how many times the ``staff`` and the ``sets`` of the lists there are, ``tastes`` (lines on
    the card of one surgeon and procedure), ``past_cases`` and ``lots`` of an item.
    ``scenes``: the evening is written out by hand instead of drawn. ``booked_over``: the share
    of cases that were booked without a look at the sets.
    """

    name: str
    campuses: int = 1
    lend: int = 1
    rooms: int = 10
    days: int = 3
    cases_a_day: int = 40
    staff: int = 1
    sets: int = 1
    tastes: int = 13
    past_cases: int = 600
    lots: int = 2
    scenes: bool = False
    booked_over: float = 0.0


SAMPLE = Size(name="sample", scenes=True)
FEW = Size(name="few cases", rooms=4, days=1, cases_a_day=16, tastes=3, past_cases=60, lots=1, booked_over=0.5)
BIG_DAY = Size(name="big day", rooms=60, days=1, cases_a_day=200, staff=5, sets=2, past_cases=3000, booked_over=0.05)
REGION = Size(
    name="region",
    campuses=60,
    lend=6,
    rooms=50,
    days=1,
    cases_a_day=170,
    staff=5,
    sets=2,
    tastes=3,
    past_cases=1900,
    booked_over=0.02,
)
LARGE_HOUSE = replace(BIG_DAY, name="large house", staff=26, tastes=58)
SIZES: dict[str, Size] = {size.name: size for size in (SAMPLE, BIG_DAY, REGION, LARGE_HOUSE)}
