"""What it costs to look for remedies, against planning the same evening's sets once.

python -m benchmarks.bench_remedies
"""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from benchmarks.measured import Measured, processor_seconds, table
from benchmarks.scenario import BIG_DAY, FEW, NOW, SAMPLE, Size, make_site, write_site
from picklist.inputs import read_site
from picklist.model.conflicts import Conflict, conflicts_in
from picklist.resolve import resolve_cases
from picklist.sets.case_uses import make_uses
from picklist.sets.plan_sets import add_remedies, compose, live_cases, make_planned_day
from picklist.sets.remedies.planned_day import PlannedDay
from picklist.wording.say_remedies import NOT_ALL


def evening_of(size: Size) -> PlannedDay:
    """The evening of an invented site, its sets given to uses."""
    with TemporaryDirectory() as folder:
        write_site(Path(folder), make_site(size, 1))
        site, problems = read_site(Path(folder))
    assert site is not None, problems
    cases = live_cases(site)
    now = site.settings.site_clock.instant(NOW.date(), NOW.time())
    return make_planned_day(site, make_uses(site, resolve_cases(site, cases), cases), now)


def measure(size: Size) -> Measured:
    """Conflicts, remedies, and the time against planning once."""
    planned = evening_of(size)
    plan = compose(planned)
    floor = processor_seconds(
        lambda: compose(make_planned_day(planned.context.site, planned.scenario.uses, planned.context.now))
    )
    found = list[Conflict]()
    took = processor_seconds(lambda: found.extend(conflicts_in(add_remedies(planned, plan.clusters))))
    listed = sum(len(one.remedies) for one in found)
    cut = sum(NOT_ALL in one.searched for one in found)
    words = f"{len(found)} conflicts, {listed} remedies listed, {cut} searches cut short"
    return Measured(work=f"remedies, {size.name}: {words}", seconds=took, floor=floor, against="planning once")


def main(*, small: bool = False) -> list[Measured]:
    """Measure the sample, and the big day."""
    return [measure(size) for size in ((FEW,) if small else (SAMPLE, BIG_DAY))]


if __name__ == "__main__":
    print(table(main()))
