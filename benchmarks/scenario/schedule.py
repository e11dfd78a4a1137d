"""The schedule: the evening and tomorrow by hand, further days drawn room by room."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from random import Random

from benchmarks.scenario.diary import Diary
from benchmarks.scenario.lists import Listed, Row, read_list, split
from benchmarks.scenario.people import assisting, booked_minutes, operating, scrubbing
from benchmarks.scenario.sizes import TOMORROW, Size
from benchmarks.scenario.trays import evening

FIRST_NUMBER = 4101
SUNDAY = 6
OPENS, LAST_START, CLOSES = time(7, 30), time(15, 0), time(16, 30)
TURNOVER = 30
QUICK_TURNOVER = 20
TRIES = 12
SEVERAL_SHARE = 0.15


@dataclass(slots=True)
class Draw:
    """What drawing a day needs: the size, the chance and the diary."""

    size: Size
    rng: Random
    diary: Diary


@dataclass(frozen=True, slots=True)
class List:
    """A room's list on one day: who operates, of which service, and who scrubs."""

    day: date
    room: str
    surgeon: str
    service: str
    team: str


def make_rooms(size: Size) -> list[Row]:
    """The rows of Rooms."""
    return [{"room": f"OR {n}", "opens": time(7), "closes": time(19)} for n in range(1, size.rooms + 1)]


def make_scenes(size: Size) -> list[Row]:
    """The hand-written cases of the evening and of tomorrow."""
    return [_scene(one) for one in read_list("scenes")] if size.scenes else []


def draw_cases(draw: Draw, scenes: list[Row]) -> list[Row]:
    """The cases of all days in order of day, room and start, numbered."""
    for row in scenes:
        if row["status"] != "cancelled":
            draw.diary.book(str(row["surgeon"]), _names(row), str(row["side"]), _span(row))
    rows = list(scenes)
    days = _days(draw.size)
    for day in days[1:] if scenes else days:
        rows += _draw_day(draw, day)
    return rows


def number_cases(rows: list[Row]) -> list[Row]:
    """The cases with their numbers."""
    return [{"case": f"C-{FIRST_NUMBER + n}"} | row for n, row in enumerate(rows)]


def running_in(rows: list[Row]) -> dict[str, str]:
    """The case that runs now, by room."""
    return {str(row["room"]): str(row["case"]) for row in rows if row["status"] == "running"}


def _days(size: Size) -> list[date]:
    days = [TOMORROW + timedelta(days=n) for n in range(2 * size.days)]
    return [day for day in days if day.weekday() != SUNDAY][: size.days]


def _scene(one: Listed) -> Row:
    return dict(one) | {
        "day": evening(int(one["day"])),
        "start": time.fromisoformat(one["start"]),
        "minutes": int(one["minutes"]),
        "procedures": split(one["procedures"]),
        "alerts": split(one["alerts"]),
        "team": split(one["team"]),
        "teams at once": int(one["teams at once"]),
        "may move": one["may move"] == "yes",
        "priority": int(one["priority"]),
    }


def _draw_day(draw: Draw, day: date) -> list[Row]:
    rows: list[Row] = []
    for one in _lists(draw, day):
        rows += _draw_list(draw, one, draw.size.cases_a_day - len(rows))
    return sorted(rows, key=lambda row: (int(str(row["room"])[3:]), str(row["start"])))


def _lists(draw: Draw, day: date) -> Iterator[List]:
    """The lists of a day: no surgeon and no scrub person in two rooms."""
    surgeons = operating(draw.size)
    draw.rng.shuffle(surgeons)
    scrubs = scrubbing(draw.size)
    draw.rng.shuffle(scrubs)
    for n in range(draw.size.rooms):
        surgeon, service = surgeons[n]
        yield List(day, f"OR {n + 1}", surgeon, service, scrubs[n])


def _draw_list(draw: Draw, one: List, most: int) -> list[Row]:
    rows: list[Row] = []
    clock = datetime.combine(one.day, OPENS)
    while len(rows) < most and clock.time() <= LAST_START:
        row = _draw_case(draw, one, clock)
        if row is None:
            clock += timedelta(minutes=20)
            continue
        rows.append(row)
        ends = _span(row)[1]
        draw.diary.book(one.surgeon, _names(row), str(row["side"]), (clock, ends))
        clock = _in_fives(ends + timedelta(minutes=QUICK_TURNOVER if _minutes(row) <= 40 else TURNOVER))
    return rows


def _draw_case(draw: Draw, one: List, starts: datetime) -> Row | None:
    """A case that fits room, surgeon and sets, or None after some tries."""
    choices = [p for p in read_list("procedures") if p["service"] == one.service]
    for _ in range(TRIES):
        chosen = draw.rng.choices(choices, [int(p["weight"]) for p in choices])[:1]
        if draw.rng.random() < SEVERAL_SHARE:
            chosen += _companion(draw.rng, chosen[0])
        minutes = booked_minutes(draw.rng, int(chosen[0]["minutes"]))
        minutes += sum(5 * (int(p["minutes"]) // 10) for p in chosen[1:])
        row = _row(draw, one, starts, chosen) | {"minutes": minutes}
        span = _span(row)
        if span[1] > datetime.combine(one.day, CLOSES):
            continue
        blind = draw.rng.random() < draw.size.booked_over
        if blind or draw.diary.has_sets(_names(row), str(row["side"]), span):
            return row
    return None


def _companion(rng: Random, first: Listed) -> list[Listed]:
    """One more procedure that is done in the same sitting, if there is any."""
    known = {one["procedure"]: split(one["companions"]) for one in read_list("companions")}
    names = known.get(first["procedure"], ())
    chosen = rng.choice(names) if names else ""
    return [one for one in read_list("procedures") if one["procedure"] == chosen]


def _row(draw: Draw, one: List, starts: datetime, chosen: list[Listed]) -> Row:
    rng = draw.rng
    sided = any(p["sided"] == "yes" for p in chosen)
    urgent = chosen[0]["procedure"] == "GYN-CSEC"
    small = chosen[0]["procedure"] in ("ENT-TONSIL", "ENT-TUBES") and rng.random() < 0.6
    assistant = [rng.choice(assisting(draw.size))] if int(chosen[0]["minutes"]) >= 110 and rng.random() < 0.5 else []
    return {
        "day": one.day,
        "room": one.room,
        "start": starts.time(),
        "surgeon": one.surgeon,
        "procedures": tuple(p["procedure"] for p in chosen),
        "side": rng.choice(("left", "right")) if sided else "none",
        "alerts": ("latex",) if rng.random() < 0.05 else (),
        "patient size": "child" if small else "adult",
        "team": (*assistant, one.team),
        "teams at once": 1,
        "status": "planned",
        "may move": rng.random() > 0.15,
        "priority": 2 if urgent else 1,
        "notes": "",
    }


def _names(row: Row) -> tuple[str, ...]:
    names = row["procedures"]
    assert isinstance(names, tuple)
    return names


def _minutes(row: Row) -> int:
    return int(str(row["minutes"]))


def _span(row: Row) -> tuple[datetime, datetime]:
    day, start = row["day"], row["start"]
    assert isinstance(day, date)
    assert isinstance(start, time)
    begins = datetime.combine(day, start)
    return begins, begins + timedelta(minutes=_minutes(row))


def _in_fives(moment: datetime) -> datetime:
    late = timedelta(minutes=-moment.minute % 5)
    return moment + late
