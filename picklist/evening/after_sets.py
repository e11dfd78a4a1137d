"""What the operations did to the sets."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from picklist.evening.table_changes import TableChange, Value
from picklist.evening.usage import UsageLine
from picklist.model.cards import ThingKind
from picklist.model.plan import Plan
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site
from picklist.problems import Problem, Severity


def set_changes(
    site: Site, plan: Plan, usage: Iterable[UsageLine], now: datetime
) -> tuple[tuple[TableChange, ...], tuple[Problem, ...]]:
    """The new rows of the sets that were told, each by its last case of the day."""
    received = {(a.use.case, a.set_id): a.use.received for a in plan.assignments}
    ends = {case.number: case.start for case in plan.cases}
    last: dict[str, UsageLine] = {}
    problems: list[Problem] = []
    for line in sorted(usage, key=lambda u: (ends.get(u.case, now), u.case)):
        if line.kind is not ThingKind.TRAY:
            continue
        if line.set_id in site.sets:
            last[line.set_id] = line
        else:
            problems.append(_unknown_set(line))
    changes: list[TableChange] = []
    for set_id, line in sorted(last.items()):
        since = min(now, received.get((line.case, set_id), now))
        changes += _one_set(site, site.sets[set_id], line, since)
    return tuple(changes), tuple(problems)


def _unknown_set(line: UsageLine) -> Problem:
    return Problem(
        kind="unknown set",
        severity=Severity.TO_MEND,
        where=line.where,
        message=f"it is not told which set of {line.thing} case {line.case} had"
        if not line.set_id
        else f"no set is called {line.set_id}",
        value=line.set_id,
        expected="the id of the set that was on the cart",
        cases=(line.case,),
    )


def _one_set(site: Site, one: InstrumentSet, line: UsageLine, since: datetime) -> list[TableChange]:
    wall = site.settings.site_clock
    if line.opened:
        why = f"opened in case {line.case}"
        becomes: dict[str, Value] = {
            "state": SetState.DIRTY.value,
            "step": "",
            "step since": wall.wall(since).replace(tzinfo=None, second=0, microsecond=0),
            "in case": "",
            "recorded sterile at": None,
            "recorded sterile until": None,
        }
    else:
        why = f"came back unopened from case {line.case}; check its package before it goes on the shelf"
        becomes = {"state": SetState.ON_SHELF.value, "step": "", "step since": None, "in case": ""}
    return [
        TableChange(table="Sets", key=(one.id,), column=column, was=was, becomes=value, why=why)
        for column, value in becomes.items()
        if (was := _now(site, one, column)) != value
    ]


def _now(site: Site, one: InstrumentSet, column: str) -> Value:
    """What the table says of a set."""
    clock = site.settings.site_clock

    def wall(moment: datetime | None) -> datetime | None:
        return clock.wall(moment).replace(tzinfo=None) if moment else None

    return {
        "state": one.state.value,
        "step": one.step,
        "step since": wall(one.step_since),
        "in case": one.in_case,
        "recorded sterile at": wall(one.recorded_at),
        "recorded sterile until": clock.last_day(one.recorded_until) if one.recorded_until else None,
    }[column]
