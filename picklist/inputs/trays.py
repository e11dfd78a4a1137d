"""Trays, their contents and their sets."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta

from picklist.inputs.desk import Causes, Desk, causes_of, fold, value
from picklist.model.catalogue import StandIn, Tray, TrayInstrument
from picklist.model.routes import Route
from picklist.model.schedule import Side
from picklist.model.sets import InstrumentSet, SetState
from picklist.tables.nearest import Candidates
from picklist.tables.rows import Row


def read_trays(desk: Desk) -> dict[str, Tray]:
    """Trays by id; one without a usable route, or whose sidedness cannot be read, is broken."""
    names = desk.index("Trays")
    rows = []
    for one, row, again in desk.keyed("Trays", "tray"):
        if again is None:
            names.add(one, value(row, "name", ""))
            rows.append((one, row))
    desk.seal("Trays")
    made: dict[str, Tray] = {}
    broken: list[tuple[str, Causes]] = []
    for one, row in rows:
        route, no_route = desk.refer(row, "route", "Routes")
        wrong = (*no_route, *causes_of(row, "sided", "implants"))
        made[one] = _tray(desk, one, row, route)
        if wrong:
            broken.append((one, wrong))
    for one, wrong in broken:
        names.break_(one, wrong)
        del made[one]
    contents = _contents(desk)
    return {
        one: replace(tray, instruments=tuple(contents.get(one, {}).values()), stand_ins=_kept(tray, made))
        for one, tray in made.items()
    }


def _tray(desk: Desk, one: str, row: Row, route: str) -> Tray:
    others, _ = desk.refer_all(row, "equals", "Trays")
    if one in others:
        desk.ledger.report(
            "stands in for itself", row.where("equals"), f"'{one}' stands in for itself", expected="other trays"
        )
    return Tray(
        id=one,
        name=value(row, "name", one),
        route=route,
        weight_lb=row.values.get("weight lb"),
        container=value(row, "container", False),
        sided=value(row, "sided", False),
        implants=value(row, "implants", False),
        keep_ready=value(row, "keep ready", 0),
        stand_ins=tuple(StandIn(tray=other, preference=n) for n, other in enumerate(others, 1) if other != one),
        count_sheet=value(row, "count sheet", True),
        retired=value(row, "retired", False),
        where=row.where(),
    )


def _kept(tray: Tray, made: dict[str, Tray]) -> tuple[StandIn, ...]:
    return tuple(one for one in tray.stand_ins if one.tray in made)


def _contents(desk: Desk) -> dict[str, dict[str, TrayInstrument]]:
    contents: dict[str, dict[str, TrayInstrument]] = {}
    for row in desk.rows("Tray contents"):
        tray, wrong = desk.refer(row, "tray", "Trays")
        if wrong or row.bad:
            continue
        name = row.values["instrument"]
        lines = contents.setdefault(tray, {})
        before = lines.get(fold(name))
        if before is None:
            lines[fold(name)] = TrayInstrument(instrument=name, quantity=row.values["quantity"], where=row.where())
        else:
            desk.ledger.report(
                "doubled key",
                row.where("instrument"),
                f"'{name}' stands twice in the tray '{tray}'; the first row counts",
                value=name,
                expected="each instrument once, with the whole quantity",
                related=(before.where,),
            )
    return contents


def read_sets(desk: Desk, trays: dict[str, Tray], routes: dict[str, Route]) -> dict[str, InstrumentSet]:
    """Sets by id; one with a cell that cannot be trusted is left out, as is one that stands in two rows."""
    made: dict[str, InstrumentSet] = {}
    twice: set[str] = set()
    for one, row, again in desk.keyed("Sets", "set"):
        if again is not None:
            twice.add(fold(one))
            again.kind = "set in two places"
            again.message = f"the set '{one}' stands in two rows; it was left out, as nobody can say where it is"
            continue
        copy = _set(desk, one, row, trays, routes)
        if copy is not None:
            made[one] = copy
    return {one: copy for one, copy in made.items() if fold(one) not in twice}


def _set(desk: Desk, one: str, row: Row, trays: dict[str, Tray], routes: dict[str, Route]) -> InstrumentSet | None:
    tray_id, wrong = desk.refer(row, "tray", "Trays")
    place, _ = desk.refer(row, "place", "Places")
    case, no_case = desk.refer(row, "in case", "Schedule")
    if wrong or no_case or tray_id not in trays or not _all_but_place(row):
        return None
    tray = trays[tray_id]
    if tray.route not in routes:  # only when the Routes themselves could not be read
        return None
    moments = _moments(desk, row)
    if moments is None or not _side_fits(desk, row, tray):
        return None
    state = SetState(value(row, "state", "on shelf"))
    step = _step(desk, row, state, routes[tray.route])
    if step is None or not _state_is_whole(desk, row, state):
        return None
    side = row.values.get("side")
    return InstrumentSet(
        id=one,
        tray=tray_id,
        side=Side(side) if side else None,
        size=fold(value(row, "size", "")),
        state=state,
        step=step,
        in_case=case,
        place=place or value(row, "place", ""),
        step_since=moments["step since"],
        back_at=moments["back at"],
        return_by=moments["return by"],
        recorded_at=moments["recorded sterile at"],
        recorded_until=_end_of(desk, row.values.get("recorded sterile until")),
        where=row.where(),
    )


def _all_but_place(row: Row) -> bool:
    return all(column == "place" for column in row.bad)


def _moments(desk: Desk, row: Row) -> dict[str, datetime | None] | None:
    found: dict[str, datetime | None] = {}
    for column in ("step since", "back at", "return by", "recorded sterile at"):
        found[column], wrong = desk.instant(row, column, row.values.get(column))
        if wrong:
            return None
    return found


def _end_of(desk: Desk, day: date | None) -> datetime | None:
    """The instant at which a day ends."""
    return None if day is None else desk.clock.at_or_after(day + timedelta(days=1), time(0))


def _side_fits(desk: Desk, row: Row, tray: Tray) -> bool:
    if not tray.sided or row.values.get("side"):
        return True
    desk.ledger.report(
        "set without side",
        row.where("side"),
        f"sets of the tray '{tray.id}' are left or right, and this one does not say which; it was left out",
        expected="left or right",
        related=(tray.where,),
    )
    return False


def _step(desk: Desk, row: Row, state: SetState, route: Route) -> str | None:
    """The step in the route's spelling; None when it is needed and not there, or unknown."""
    written = value(row, "step", "")
    steps = {fold(step.name): step.name for step in route.steps}
    if written and fold(written) in steps:
        return steps[fold(written)]
    if not written and state is not SetState.AT_STEP:
        return ""
    desk.ledger.report(
        "step not in route" if written else "step missing",
        row.where("step"),
        f"the route '{route.id}' of this set has no step of this name"
        if written
        else "which step the set is at is missing",
        value=written,
        expected="one of " + ", ".join(steps.values()),
        nearest=Candidates(tuple(steps.values())).nearest(written),
        related=(route.where,),
    )
    return None


NEEDED = {
    SetState.AT_STEP: ("step since", "when the step began"),
    SetState.IN_USE: ("in case", "the running case"),
    SetState.AWAY: ("back at", "when it comes back"),
}


def _state_is_whole(desk: Desk, row: Row, state: SetState) -> bool:
    """A set whose state lacks the moment or the case that it needs cannot be planned with."""
    column, what = NEEDED.get(state, ("", ""))
    if not column or row.values.get(column):
        return True
    desk.ledger.report(
        "state incomplete",
        row.where(column),
        f"the state '{state.value}' needs {what}; the set was left out",
        expected=what,
        related=(row.where("state"),),
    )
    return False
