"""Plans, records and past cases as pandas frames, for whoever looks at them with tools of their own.

Instants are in the site's wall time, with its time zone; minutes are whole numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pandas as pd

from picklist.model.calibration import Calibration
from picklist.model.plan import Cart, Plan
from picklist.model.site import Site
from picklist.store.export import export_tables
from picklist.tasks.beside_site import built_day
from picklist.tasks.decisions import open_now
from picklist.tasks.errors import opened_state
from picklist.wording.say_conflicts import statement

Row = dict[str, Any]

TIMES = frozenset({
    *("planned_start", "actual_start"),
    *("start", "complete_by", "needed", "starts", "ends", "leaves_room", "received", "expected"),
    *("step_since", "back_at", "return_by", "recorded_at", "recorded_until", "latest", "last_resort", "decide_by"),
    "due",
})  # fmt: skip
CASES = ("case", "day", "room", "start", "minutes", "surgeon", "procedures", "side", "status", "complete_by", "on_hold")
USES = (
    *("use", "case", "tray", "copy", "side", "needed", "starts", "ends", "leaves_room", "received", "on_hold"),
    *("set", "tray_given", "stand_in", "expected", "slack", "late"),
)
SETS = (
    *("set", "tray", "side", "state", "step", "step_since", "in_case", "place"),
    *("back_at", "return_by", "recorded_at", "recorded_until"),
)
DEADLINES = ("set", "tray", "giver", "waiter", "use", "act", "station", "latest", "last_resort", "slack", "least_slack")
CONFLICTS = (
    *("conflict", "kind", "tray", "waiter", "givers", "set", "minutes", "decide_by"),
    *("chance_of_failing", "chance_if_hurried", "remedies", "statement"),
)
PAST = (
    *("procedure", "surgeon", "room", "planned_start", "actual_start"),
    *("planned_minutes", "actual_minutes", "overrun"),
)
OPEN = ("due", "past", "kind", "case", "what", "note", "about")
LINES = ("case", "kind", "thing", "name", "person", "open", "hold", "short_open", "short_hold", "set", "lots")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlanTables:
    """A plan as frames.

    ``cases`` of the horizon, ``uses`` with the set that serves each, ``sets`` as recorded, ``deadlines`` act by
    act, ``conflicts``, and the ``lines`` of the day's carts.
    """

    cases: pd.DataFrame
    uses: pd.DataFrame
    sets: pd.DataFrame
    deadlines: pd.DataFrame
    conflicts: pd.DataFrame
    lines: pd.DataFrame


def plan_tables(plan: Plan) -> PlanTables:
    """The tables of a plan; a stopped cart has a row among the cases and no lines."""
    zone = plan.settings.time_zone
    return PlanTables(
        cases=_frame(_cases(plan), CASES, zone),
        uses=_frame(_uses(plan), USES, zone),
        sets=_frame(_sets(plan), SETS, zone),
        deadlines=_frame(_deadlines(plan), DEADLINES, zone),
        conflicts=_frame(_conflicts(plan), CONFLICTS, zone),
        lines=_frame((line for cart in plan.carts for line in _lines(cart)), LINES, zone),
    )


def past_cases(site: Site) -> pd.DataFrame:
    """The finished cases of a site, with the minutes that each ran over its plan; starts where they are known."""
    rows = (_row(PAST, one, overrun=one.actual_minutes - one.planned_minutes) for one in site.past_cases)
    return _frame(rows, PAST, site.settings.time_zone)


def open_table(folder: Path, now: datetime, day: date | None = None) -> pd.DataFrame:
    """Everything that is open of the lists built last, or of a day's: ``due`` is until when it helps to act.

    In the order of time, as on the evening sheet and the page; ``now`` naive is the site's wall time. Raises WrongUse.
    """
    with opened_state(folder) as state:
        plan = built_day(state, folder, day)
    rows = ({"due": due, **asdict(row)} for due, row in open_now(folder, plan, now))
    return _frame(rows, OPEN, plan.settings.time_zone)


def calibration_table(found: Calibration) -> pd.DataFrame:
    """The forecasts of past cases in bins: mean forecast, how many came true, and where the true share lies at 95 %."""
    columns = ("low", "high", "forecasts", "cases", "happened", "forecast", "share", "lowest", "highest", "agreement")
    return pd.DataFrame([_row(columns, one) for one in found.bins], columns=list(columns))


def record_tables(folder: Path) -> dict[str, pd.DataFrame]:
    """Everything that is remembered of a site, table by table as ``picklist records`` writes it. Raises WrongUse."""
    with opened_state(folder) as state:
        return {
            table.name: pd.DataFrame(list(table.rows), columns=list(table.headers)) for table in export_tables(state)
        }


def _frame(rows: Iterable[Row], columns: Sequence[str], zone: str) -> pd.DataFrame:
    frame = pd.DataFrame(list(rows), columns=list(columns))
    for column in TIMES.intersection(columns):
        frame[column] = pd.to_datetime(frame[column], utc=True).dt.tz_convert(zone)
    return frame


def _row(columns: Sequence[str], *things: object, **said: object) -> Row:
    """A row: in each column what is said, else what the first of the things has that knows of it."""
    known = {name: next(one for one in things if hasattr(one, name)) for name in columns if name not in said}
    return {name: getattr(known[name], name) if name in known else said[name] for name in columns}


def _cases(plan: Plan) -> Iterator[Row]:
    carts = {cart.case.number: cart for cart in plan.carts}
    uncounted = frozenset(plan.uncounted)
    for case in plan.cases:
        due = carts[case.number].complete_by if case.number in carts else None
        held = case.number in uncounted
        yield _row(CASES, case, case=case.number, day=pd.Timestamp(case.day), complete_by=due, on_hold=held)


def _uses(plan: Plan) -> Iterator[Row]:
    for one in plan.assignments:
        yield _row(USES, one, one.use, use=one.use.key, set=one.set_id)


def _sets(plan: Plan) -> Iterator[Row]:
    for one in plan.sets:
        yield _row(SETS, one, set=one.id)


def _deadlines(plan: Plan) -> Iterator[Row]:
    for reuse in plan.reuses:
        for deadline in reuse.deadlines:
            yield _row(DEADLINES, deadline, reuse, set=reuse.set_id, use=reuse.waiter_use, act=str(deadline.act))


def _conflicts(plan: Plan) -> Iterator[Row]:
    for one in plan.conflicts:
        remedies = tuple(remedy.text for remedy in one.remedies)
        words = statement(one, plan.settings.site_clock)
        yield _row(CONFLICTS, one, conflict=one.id, set=one.set_id, remedies=remedies, statement=words)


def _lines(cart: Cart) -> Iterator[Row]:
    for tray in cart.trays:
        amounts = {"open": int(not tray.on_hold), "hold": int(tray.on_hold), "short_open": 0, "short_hold": 0}
        yield _row(
            LINES, tray, tray.need, case=cart.case.number, kind="tray", person="", set=tray.set_id, lots=(), **amounts
        )
    groups = (("pack", cart.packs), ("sundry", cart.sundries), ("peel pack", cart.peel_packs), ("person", cart.people))
    for kind, lines in groups:
        for line in lines:
            lots = tuple(pick.lot for pick in line.picks)
            yield _row(LINES, line, line.need, case=cart.case.number, kind=kind, set="", lots=lots)
