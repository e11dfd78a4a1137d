"""Trays and their contents."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from picklist.inputs.known_ids import fold
from picklist.inputs.site_reader import SiteReader
from picklist.inputs.unstated import Unstated, report_unstated
from picklist.model.catalogue import StandIn, Tray, TrayInstrument
from picklist.model.routes import Route
from picklist.settings import Settings
from picklist.tables.rows import Row


def read_trays(reader: SiteReader, routes: dict[str, Route], settings: Settings) -> dict[str, Tray]:
    """Trays by id; one without a usable route, or whose sides, implants or latex cannot be read, is broken."""
    rows: dict[str, Row] = {}

    def more(one: str, row: Row) -> dict[str, Any]:
        rows[one] = row
        stated = {column: row.values.get(column) for column in ("sided", "implants", "latex")}
        return {**stated, "stand_ins": _stand_ins(reader, one, row)}

    made = reader.by_id("Trays", Tray, more)
    if settings.implants_wait:
        _say_implants(reader, rows, made, routes)
    contents = _contents(reader)
    return {
        one: replace(tray, instruments=tuple(contents.get(one, {}).values()), stand_ins=_kept(tray, made))
        for one, tray in made.items()
    }


def _stand_ins(reader: SiteReader, one: str, row: Row) -> tuple[StandIn, ...]:
    others, _ = reader.refer_all(row, "stand-ins", "Trays")
    if one in others:
        reader.ledger.report(
            "stands in for itself", row.where("stand-ins"), f"'{one}' stands in for itself", expected="other trays"
        )
    return tuple(StandIn(tray=other, preference=n) for n, other in enumerate(others, 1) if other != one)


def _kept(tray: Tray, made: dict[str, Tray]) -> tuple[StandIn, ...]:
    return tuple(one for one in tray.stand_ins if one.tray in made)


def _say_implants(reader: SiteReader, rows: dict[str, Row], trays: dict[str, Tray], routes: dict[str, Route]) -> None:
    """A tray that does not say whether it holds implants takes the steps that are only for them."""
    waiting = {route.id for route in routes.values() if route.waits_for_implants}
    found = Unstated(
        column="implants",
        of=len(trays),
        what="trays",
        assumed="they count with the steps that are only for implants, which take longer",
        expected="yes or no",
    )
    blank = [
        (one, rows[one].where("implants"))
        for one, tray in trays.items()
        if tray.implants is None and tray.route in waiting
    ]
    report_unstated(reader, found, blank)


def _contents(reader: SiteReader) -> dict[str, dict[str, TrayInstrument]]:
    contents: dict[str, dict[str, TrayInstrument]] = {}
    for row in reader.rows("Tray contents"):
        tray, wrong = reader.refer(row, "tray", "Trays")
        if wrong or row.bad:
            continue
        name = row.values["instrument"]
        lines = contents.setdefault(tray, {})
        before = lines.get(fold(name))
        if before is None:
            lines[fold(name)] = TrayInstrument(**reader.fields(row, "Tray contents", TrayInstrument)[0])
        else:
            message = f"'{name}' is in the tray '{tray}' twice; the first row counts"
            reader.doubled(before.where, row, "instrument", message, "each instrument once, with the whole quantity")
    return contents
