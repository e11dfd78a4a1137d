"""Days, rooms and starts of the past cases: rooms filled one after the other, each case pushed by the one before."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from math import log
from random import Random

from benchmarks.scenario.lists import Row
from benchmarks.scenario.sizes import NOW, Size

OPENS, LAST_START, TURNOVER = 450, 870, 25  # minutes of the day, and minutes between two cases
FIRST_LATE, LATER_LATE = (0.5, 10.0, 1.0), (0.2, 8.0, 0.9)  # share, median minutes, spread of their logarithm
SATURDAY = 5


def add_starts(rows: list[Row], size: Size, rng: Random) -> list[Row]:
    """The rows with room, planned and actual start, in order of time, up to the day before the evening."""
    placed: list[tuple[int, Row]] = []  # the day as a number from the first on
    day, room, planned, free = 0, 1, OPENS, 0
    for row in rows:
        if planned > LAST_START:
            day, room = (day, room + 1) if room < size.rooms else (day + 1, 1)
            planned, free = OPENS, 0
        begins = max(planned, free) + _late(rng, LATER_LATE if free else FIRST_LATE)
        times = {"room": f"OR {room}", "planned start": planned, "actual start": begins}
        placed.append((day, row | times))
        free = begins + int(str(row["actual minutes"])) + TURNOVER
        planned += -(-(int(str(row["planned minutes"])) + TURNOVER) // 5) * 5
    days = _days_before(day + 1)
    return [_dated(row, days[number]) for number, row in placed]


def _late(rng: Random, how: tuple[float, float, float]) -> int:
    share, median, spread = how
    return round(rng.lognormvariate(log(median), spread)) if rng.random() < share else 0


def _days_before(count: int) -> list[datetime]:
    """So many midnights of working days before the evening, in order."""
    found: list[datetime] = []
    day = datetime.combine(NOW.date(), time(0))
    while len(found) < count:
        day -= timedelta(days=1)
        if day.weekday() < SATURDAY:
            found.append(day)
    return found[::-1]


def _dated(row: Row, midnight: datetime) -> Row:
    starts = {name: midnight + timedelta(minutes=int(str(row[name]))) for name in ("planned start", "actual start")}
    return row | starts
