"""Trays and their contents."""

from __future__ import annotations

from dataclasses import replace

from picklist.inputs.desk import Causes, Desk, causes_of, fold, value
from picklist.inputs.unstated import Unstated, report_unstated
from picklist.model.catalogue import StandIn, Tray, TrayInstrument
from picklist.model.routes import Route
from picklist.settings import Settings
from picklist.tables.rows import Row


def read_trays(desk: Desk, routes: dict[str, Route], settings: Settings) -> dict[str, Tray]:
    """Trays by id; one without a usable route, or whose sides, implants or latex cannot be read, is broken."""
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
        wrong = (*no_route, *causes_of(row, "sided", "implants", "latex"))
        made[one] = _tray(desk, one, row, route)
        if wrong:
            broken.append((one, wrong))
    for one, wrong in broken:
        names.break_(one, wrong)
        del made[one]
    if settings.implants_wait:
        _say_implants(desk, [(one, row) for one, row in rows if one in made], made, routes)
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
        sided=row.values.get("sided"),
        implants=row.values.get("implants"),
        latex=row.values.get("latex"),
        keep_ready=value(row, "keep ready", 0),
        stand_ins=tuple(StandIn(tray=other, preference=n) for n, other in enumerate(others, 1) if other != one),
        count_sheet=value(row, "count sheet", True),
        retired=value(row, "retired", False),
        where=row.where(),
    )


def _kept(tray: Tray, made: dict[str, Tray]) -> tuple[StandIn, ...]:
    return tuple(one for one in tray.stand_ins if one.tray in made)


def _say_implants(desk: Desk, rows: list[tuple[str, Row]], trays: dict[str, Tray], routes: dict[str, Route]) -> None:
    """A tray that does not say whether it holds implants takes the steps that are only for them."""
    waiting = {route.id for route in routes.values() if route.waits_for_implants}
    found = Unstated(
        column="implants",
        of=len(rows),
        what="trays",
        assumed="they count with the steps that are only for implants, which take longer",
        expected="yes or no",
    )
    blank = [
        (one, row.where("implants")) for one, row in rows if trays[one].implants is None and trays[one].route in waiting
    ]
    report_unstated(desk, found, blank)


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
