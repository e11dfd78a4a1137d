"""Who stands at the table, and the finished cases of the past."""

from __future__ import annotations

from math import exp, log
from random import Random

from benchmarks.scenario.lists import Listed, Row, read_list
from benchmarks.scenario.sizes import Size

NAMESAKES = 100  # the second Dr. Quill of a large house has a number so much higher


def make_staff(size: Size) -> list[Row]:
    """The rows of Staff."""
    return [_person(one, turn) for turn in range(size.staff) for one in read_list("staff")]


def _person(one: Listed, turn: int) -> Row:
    row: Row = {"person": person_id(one["person"], turn), "name": _name(one["name"], turn)}
    return row | {column: one[column] for column in ("role", "outer glove", "under glove", "gown")}


def person_id(person: str, turn: int) -> str:
    """The id of a listed person, or of a namesake in a larger house."""
    return person if turn == 0 else f"{person[0]}{NAMESAKES * turn + int(person[1:])}"


def _name(name: str, turn: int) -> str:
    return name if turn == 0 else f"{name} {'ABCDEFGHIJKLMNOPQRSTUVWXYZ'[turn]}"


def operating(size: Size) -> list[tuple[str, str]]:
    """Every surgeon with the service."""
    return [
        (person_id(one["person"], turn), one["services"])
        for turn in range(size.staff)
        for one in read_list("staff")
        if one["services"]
    ]


def scrubbing(size: Size) -> list[str]:
    """Every scrub person."""
    listed = [one["person"] for one in read_list("staff") if one["role"] == "scrub person"]
    return [person_id(person, turn) for turn in range(size.staff) for person in listed]


def assisting(size: Size) -> list[str]:
    """Every first assistant."""
    listed = [one["person"] for one in read_list("staff") if one["role"] == "first assistant"]
    return [person_id(person, turn) for turn in range(size.staff) for person in listed]


def make_past_cases(size: Size, rng: Random) -> list[Row]:
    """The rows of Past cases: lognormal minutes, each procedure with a spread of its own."""
    procedures = read_list("procedures")
    weights = [int(one["weight"]) for one in procedures]
    spread = {one["procedure"]: 0.2 + 0.03 * (n % 10) for n, one in enumerate(procedures)}
    rows: list[Row] = []
    for _ in range(size.past_cases):
        one = rng.choices(procedures, weights)[0]
        planned = booked_minutes(rng, int(one["minutes"]))
        sigma = spread[one["procedure"]]
        actual = max(8, round(planned * exp(rng.gauss(log(1.04) - sigma**2 / 2, sigma))))
        surgeon = rng.choice([person for person, service in operating(size) if service == one["service"]])
        rows.append(
            {
                "procedure": one["procedure"],
                "surgeon": surgeon,
                "planned minutes": planned,
                "actual minutes": actual,
            }
        )
    return rows


def booked_minutes(rng: Random, usual: int) -> int:
    """Planned minutes as a booking office writes them: near the usual, in steps of five."""
    return max(15, 5 * round(usual * rng.uniform(0.85, 1.2) / 5))
