"""What helps most, against working the whole day out again for every change and counting carts one by one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from picklist.department import draw_chances, run_again, run_department
from picklist.department.best_run import queue_times
from picklist.department.day import ChanceModel, Day, make_day
from picklist.department.draw_day import DayDrawer
from picklist.department.improvements import HOUR, lengthen
from picklist.department.propagate import Draws, propagate
from picklist.department.queue_conflicts import with_one_more
from picklist.model.department import DepartmentRun, headline
from picklist.model.site import Site
from picklist.model.uses import Assignment, Pace, Reuse
from tests.builders import at, case
from tests.department.ward import STATIONS, give, open_daily, ward

NIGHT = at("00:00")
DRAWS = 300


def tight_day(seed: int) -> tuple[Site, list[Assignment], list[Reuse]]:
    """Eight sets go from a morning case to an afternoon one through one washer and short hours of the sterilizers."""
    pairs = [
        (
            case(f"1{n}", f"07:{10 * (n % 4) + 10}", 90 + 7 * ((n + seed) % 5), f"OR {n}"),
            case(f"2{n}", f"15:{10 * (n % 3) + 10}", 60, f"OR {n}"),
        )
        for n in range(1, 9)
    ]
    site = ward(
        {"WRIST": 8},
        cases=[one for pair in pairs for one in pair],
        stations=[replace(one, machines=1, per_load=1) if one.id == "washers" else one for one in STATIONS],
        hours=[*open_daily("steam", "06:00", "13:00"), *open_daily("sinks", "05:00", "23:00")],
    )
    assignments, reuses = give(site, NIGHT, *((f"WRIST-{n:02d}", pair) for n, pair in enumerate(pairs, start=1)))
    return site, assignments, reuses


def day_of(site: Site, given: list[Assignment], reuses: list[Reuse], run: DepartmentRun) -> Day:
    return make_day(
        ChanceModel(
            site=site,
            cases=site.cases,
            assignments=tuple(given),
            reuses=tuple(reuses),
            now=NIGHT,
            queue=queue_times(run),
        )
    )


def late_carts(day: Day, draws: Draws) -> int:
    late = propagate(day, draws).late
    found = 0
    for draw in range(draws.count):
        found += len({link.waiter for place, link in enumerate(day.links) if late[place, draw] > 0})
    return found


def slowly(site: Site, given: list[Assignment], reuses: list[Reuse], run: DepartmentRun, seed: int) -> dict[str, int]:
    """Late carts saved by each change to stations and by each further set, everything worked out anew."""
    day = day_of(site, given, reuses, run)
    draws = DayDrawer(site, NIGHT, draws=DRAWS, seed=seed).draw(day)
    before = late_carts(day, draws)
    saved = {}
    for name, one in site.stations.items():
        changed = with_one_more(site, name)
        again = run_again(changed, given, NIGHT, run)
        saved[f"one more at {name} ({one.machines} now)"] = before - late_carts(
            day_of(changed, given, reuses, again), draws
        )
    for name, stations in (("steam", {"steam"}), ("sinks", {"sinks"}), ("all stations", {"steam", "sinks"})):
        for earlier, words in ((True, "open an hour earlier"), (False, "close an hour later")):
            changed = replace(site, hours=lengthen(site.hours, stations, HOUR, earlier=earlier))
            again = run_again(changed, given, NIGHT, run)
            saved[f"{name} to {words}"] = before - late_carts(day_of(changed, given, reuses, again), draws)
    late = propagate(day, draws).late
    most = sorted(range(len(day.links)), key=lambda place: (-int((late[place] > 0).sum()), place))[:2]
    saved["one more set of Wrist (WRIST)"] = max(
        before - late_carts(replace(day, links=day.links[:place] + day.links[place + 1 :]), draws) for place in most
    )
    return {text: count for text, count in saved.items() if count >= before / 100}


@pytest.mark.parametrize("seed", range(3))
def test_that_on_plan_each_set_is_as_late_as_the_papers_say(seed: int) -> None:
    """At usual pace, or in today's queue where that is later; hurried by the least minutes."""
    site, given, reuses = tight_day(seed)
    run = run_department(site, given, NIGHT)
    day = day_of(site, given, reuses, run)
    drawn = propagate(day, Draws.of_minutes(np.array([[one.minutes] for one in day.cases])))
    ways = run.by_wait()
    paces = set()
    for place, link in enumerate(day.links):
        said = headline(link.reuse, ways.get((link.reuse.set_id, link.reuse.waiter)))
        assert drawn.late[place, 0] == max(0, -said.slack)
        assert drawn.hurried[place, 0] == max(0, -link.reuse.least_slack)
        paces.add(said.pace)
    assert paces == {Pace.USUAL, Pace.QUEUE}


@pytest.mark.parametrize("seed", range(3))
def test_that_the_ranking_is_that_of_working_everything_out_again(seed: int) -> None:
    site, given, reuses = tight_day(seed)
    run = run_department(site, given, NIGHT)
    found = draw_chances(site, site.cases, given, reuses, NIGHT, draws=DRAWS, seed=seed, department=run)
    helps = {one.text: one.draws_saved for one in found.helps if not one.text.startswith("sets collected")}
    assert helps == slowly(site, given, reuses, run, seed)
    assert len(helps) >= 3
