"""What 2,000 draws of a day of 200 cases cost, and what the short cut through the department loses.

    python -m benchmarks.bench_chance

The draws add to each set's walk what the department's queues cost it on plan. The long way runs
the whole department again for each draw, with the cases as that draw has them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from benchmarks.department_day import DepartmentDay, make_department_day
from benchmarks.measured import Measured, processor_seconds, table
from benchmarks.scenario import BIG_DAY, FEW, SAMPLE
from picklist.clock import shift
from picklist.department import draw_chances, run_department
from picklist.department.best_run import queue_times, run_again
from picklist.department.day import ChanceModel, Day, make_day
from picklist.department.draw_day import DayDrawer
from picklist.department.jobs import department_steps
from picklist.department.propagate import DrawnDays, propagate
from picklist.model.department import DepartmentRun
from picklist.model.uses import Assignment

DRAWS = 2000
LONG_WAY = 60


def main(*, small: bool = False) -> list[Measured]:
    """Measure the draws, and say how far the short way is from the long one."""
    found = []
    scarce = replace(BIG_DAY, name="big day with two sets where the sample has one", sets=2)
    for size in (FEW,) if small else (SAMPLE, scarce):
        day = make_department_day(size)
        run = run_department(day.site, day.assignments, day.now)
        print(f"{size.name}: {len(day.cases)} cases, {len(day.reuses)} reuses, {len(run.runs)} ways")
        found += compare_cost(size.name, day, run, 20 if small else DRAWS)
        compare_ways(day, run, 2 if small else LONG_WAY)
    return found


def compare_cost(name: str, day: DepartmentDay, run: DepartmentRun, draws: int) -> list[Measured]:
    """The floor is the drawing alone: minutes and a late start of each case."""
    made = make_day(_model(day, run))
    chance, shape = np.random.default_rng(1), (len(made.cases), draws)
    floor = processor_seconds(lambda: (chance.lognormal(size=shape), chance.lognormal(size=shape)))
    drawer, found = DayDrawer(day.site, day.now, draws=draws, seed=1), list[Measured]()

    def add(work: str, task: Callable[[], object]) -> None:
        took = processor_seconds(task)
        found.append(
            Measured(work=f"{draws} draws, {name}, {work}", seconds=took, floor=floor, against="drawing alone")
        )

    add("followed through the day", lambda: propagate(made, drawer.draw(made)))
    for department, words in ((None, "usual minutes, with what would help"), (run, "queues, with what would help")):
        add(words, partial(_chances, day, draws, department))
    return found


def _chances(day: DepartmentDay, draws: int, department: DepartmentRun | None) -> None:
    draw_chances(day.site, day.cases, day.assignments, day.reuses, day.now, draws=draws, seed=1, department=department)


def _model(day: DepartmentDay, run: DepartmentRun) -> ChanceModel:
    return ChanceModel(
        site=day.site,
        cases=day.cases,
        assignments=day.assignments,
        reuses=day.reuses,
        now=day.now,
        queue=queue_times(run),
    )


def compare_ways(day: DepartmentDay, run: DepartmentRun, draws: int) -> None:
    made = make_day(_model(day, run))
    # As the run has them: in the least minutes at every station, where the chances take the pace of the entry.
    links = (replace(one, steps=department_steps(one.steps, one.steps)) for one in made.links)
    made = replace(made, links=tuple(links))
    drawn = propagate(made, DayDrawer(day.site, day.now, draws=draws, seed=2).draw(made))
    short = np.count_nonzero(drawn.late, axis=1) / draws
    late = np.array([long_way(day, run, made, drawn, draw) for draw in range(draws)])
    long = np.count_nonzero(late, axis=0) / draws
    apart = np.abs(short - long)
    print(
        f"  {draws} draws, share that fails over {len(short)} reuses: short way {short.mean():.3f}, "
        f"whole department {long.mean():.3f}; apart {apart.mean():.3f} on average, {apart.max():.3f} at most"
    )


def long_way(day: DepartmentDay, run: DepartmentRun, made: Day, drawn: DrawnDays, draw: int) -> list[int]:
    """Minutes late of each link when the department works the cases of one draw."""
    places = {case.number: place for place, case in enumerate(made.cases)}
    moved = tuple(_moved(given, places, drawn, draw) for given in day.assignments)
    again = run_again(day.site, moved, day.now, run)
    late = {(way.set_id, way.for_case): way.late for way in again.runs}
    return [late.get((link.reuse.set_id, link.reuse.waiter), 0) for link in made.links]


def _moved(given: Assignment, places: dict[str, int], drawn: DrawnDays, draw: int) -> Assignment:
    place = places[given.use.case]
    starts, ends = int(drawn.rooms[place, draw]), int(drawn.ends[place, draw])
    use = replace(
        given.use,
        needed=shift(given.use.needed, starts),
        starts=shift(given.use.starts, starts),
        ends=shift(given.use.ends, ends),
        leaves_room=shift(given.use.leaves_room, ends),
        received=shift(given.use.received, ends),
    )
    return replace(given, use=use)


if __name__ == "__main__":
    print(table(main()))
