"""Do the risk figures come true, on pasts whose truth is known.

    python -m benchmarks.bench_calibrate

Each truth is drawn with several seeds; the earlier two thirds of each past are learned from, the rest is forecast, as
``picklist calibrate`` does for a site. No open data of operating rooms with a licence that allows it was found, so
nothing real is measured here; a site measures itself with the command.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from random import Random

from benchmarks.measured import Measured
from benchmarks.scenario import SAMPLE
from benchmarks.scenario.lists import Row
from benchmarks.scenario.past_days import TURNOVER, add_starts
from benchmarks.scenario.people import make_past_cases
from picklist.department.judge_forecasts import calibrate
from picklist.model.calibration import Agreement, ForecastBin
from picklist.model.schedule import PastCase
from picklist.model.site import Site
from picklist.settings import Settings
from picklist.wording.say_calibration import bin_name

CASES, SEEDS, DRAWS = 1500, 10, 1000
Truth = Callable[[list[Row], Random], list[Row]]


def as_assumed(rows: list[Row], _: Random) -> list[Row]:
    """Minutes lognormal, each procedure with its own spread; nothing else goes wrong."""
    return rows


def with_trouble(rows: list[Row], rng: Random) -> list[Row]:
    """One case in twenty meets trouble and takes twice as long: longer tails than any lognormal."""
    return [_stretched(row, 2.0) if rng.random() < 0.05 else row for row in rows]


def with_slower_times(rows: list[Row], _: Random) -> list[Row]:
    """The later third takes a tenth longer than before: what was learned no longer holds."""
    return [_stretched(row, 1.1) if place >= 2 * len(rows) // 3 else row for place, row in enumerate(rows)]


def _stretched(row: Row, times: float) -> Row:
    return row | {"actual minutes": round(int(str(row["actual minutes"])) * times)}


TRUTHS: dict[str, Truth] = {
    "as assumed": as_assumed,
    "one case in twenty takes twice as long": with_trouble,
    "the later third is a tenth slower": with_slower_times,
    "few past cases (120)": as_assumed,
}


def main(*, small: bool = False) -> list[Measured]:
    """Judge pasts whose truth is known; what comes true has no cost to hold against a floor."""
    for name, truth in TRUTHS.items():
        measure(name, truth, 120 if small or "few" in name else CASES, 1 if small else SEEDS, 100 if small else DRAWS)
    return []


def measure(name: str, truth: Truth, cases: int, seeds: int, draws: int) -> None:
    """Judge pasts of one truth, and print all forecasts together."""
    bins: dict[float, list[ForecastBin]] = defaultdict(list)
    told: Counter[Agreement] = Counter()
    scores = []
    for seed in range(1, seeds + 1):
        found = calibrate(site_of(truth, cases, seed), draws=draws, seed=seed)
        scores.append((found.brier, found.brier_base))
        for one in found.bins:
            bins[one.low].append(one)
            told[one.agreement] += 1
    brier, base = (sum(score[place] for score in scores) / len(scores) for place in (0, 1))
    rows = sum(told.values()) - told[Agreement.TOO_FEW]
    print(f"{name}: {cases} past cases, {seeds} seeds; Brier score {brier:.3f}, of the base rate {base:.3f}")
    print(f"  rows that came true as forecast: {told[Agreement.AS_FORECAST]} of {rows} with enough cases to tell")
    for low in sorted(bins):
        count = sum(one.forecasts for one in bins[low])
        said = sum(one.forecast * one.forecasts for one in bins[low]) / count
        share = sum(one.happened for one in bins[low]) / count
        print(f"  {bin_name(bins[low][0]):13} {count:6,} forecasts, {said:6.1%} on average; happened {share:6.1%}")


def site_of(truth: Truth, cases: int, seed: int) -> Site:
    """A site of nothing but past cases."""
    size = replace(SAMPLE, past_cases=cases)
    rows = truth(make_past_cases(size, Random(f"{seed}/past")), Random(f"{seed}/truth"))
    past = (_past_case(row) for row in add_starts(rows, size, Random(f"{seed}/starts")))
    return Site(settings=Settings(site="invented", time_zone="UTC", turnover=TURNOVER), past_cases=tuple(past))


def _past_case(row: Row) -> PastCase:
    starts = {}
    for name in ("planned", "actual"):
        start = row[f"{name} start"]
        assert isinstance(start, datetime)
        starts[name] = start.replace(tzinfo=UTC)
    return PastCase(
        procedure=str(row["procedure"]),
        surgeon=str(row["surgeon"]),
        planned_minutes=int(str(row["planned minutes"])),
        actual_minutes=int(str(row["actual minutes"])),
        room=str(row["room"]),
        planned_start=starts["planned"],
        actual_start=starts["actual"],
    )


if __name__ == "__main__":
    main()
