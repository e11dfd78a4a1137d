"""What it costs to look for remedies, against planning the same evening's sets once.

python -m benchmarks.bench_remedies
"""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from time import process_time

from benchmarks.scenario import BIG_DAY, FEW, NOW, SAMPLE, Size, make_site, write_site
from picklist.inputs import read_site
from picklist.model.conflicts import conflicts_in
from picklist.resolve import resolve_cases
from picklist.sets.case_uses import make_uses
from picklist.sets.plan_sets import add_remedies, compose, live_cases, make_planned_day
from picklist.sets.remedies.planned_day import PlannedDay
from picklist.sets.remedies.trial import Trials


def evening_of(size: Size) -> PlannedDay:
    """The evening of an invented site, its sets given to uses."""
    with TemporaryDirectory() as folder:
        write_site(Path(folder), make_site(size, 1))
        site, problems = read_site(Path(folder))
    assert site is not None, problems
    cases = live_cases(site)
    now = site.settings.site_clock.instant(NOW.date(), NOW.time())
    return make_planned_day(site, make_uses(site, resolve_cases(site, cases), cases), now)


def measure(size: Size) -> None:
    """One line: conflicts, remedies, and the ratio to planning once."""
    planned = evening_of(size)
    began = process_time()
    plan = compose(make_planned_day(planned.context.site, planned.scenario.uses, planned.context.now))
    floor = max(process_time() - began, 1e-4)
    began = process_time()
    found = conflicts_in(add_remedies(Trials(planned), plan.clusters))
    took = process_time() - began
    listed = sum(len(one.remedies) for one in found)
    cut = sum(one.searched.startswith("Not all") for one in found)
    print(
        f"{size.name:10} {len(found):3} conflicts, {listed:4} remedies listed, {cut} searches cut short,"
        f" {took:6.2f} s, {took / floor:5.0f} times the floor"
    )


def main(*, small: bool = False) -> None:
    for size in (FEW,) if small else (SAMPLE, BIG_DAY):
        measure(size)


if __name__ == "__main__":
    main()
