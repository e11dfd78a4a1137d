"""The one function that states how a folder becomes a site."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from pathlib import Path

from picklist.inputs.cards import BadLine, read_cards
from picklist.inputs.codes import read_codes
from picklist.inputs.desk import Desk, escalate
from picklist.inputs.far_days import report_far_rows
from picklist.inputs.free_words import stop_near_words, without_near_words
from picklist.inputs.routes import read_routes
from picklist.inputs.schedule import ReadCase, read_cases, read_past_cases, read_procedures, read_rooms, read_staff
from picklist.inputs.sets import read_sets
from picklist.inputs.site_settings import read_settings
from picklist.inputs.stations import read_departures, read_holidays, read_hours, read_stations, read_transfers
from picklist.inputs.supplies import read_items, read_lots, read_packs, read_places
from picklist.inputs.trays import read_trays
from picklist.model.codes import Means
from picklist.model.schedule import Case
from picklist.model.site import Site, Unread
from picklist.problems import Problem, Severity, Where
from picklist.settings import Settings
from picklist.tables.drafts import Ledger
from picklist.tables.folder import read_folder


def read_site(folder: Path, *, now: datetime | None = None) -> tuple[Site | None, tuple[Problem, ...]]:
    """The site that a folder describes, and every problem found on the way.

    The site is None only when nothing can be planned (a problem of severity STOPS_ALL says
    why). Whatever is in the site is whole: a live case that no problem names has its
    procedures, people, trays with their routes, packs and items in the site. A case with
    anything wrong in its row or on a card that it uses is named in ``cases`` of that problem;
    it stands in the site (with what could be read of it) when its day, start and room could be
    read. ``now`` (an instant) tells a coming date in a note from what could be a date of birth.
    """
    ledger = Ledger(now.date() if now else None)
    if not folder.is_dir():
        ledger.report("no folder", Where(file=str(folder)), "there is no such folder", severity=Severity.STOPS_ALL)
        return None, ledger.problems()
    desk = Desk(read_folder(folder, ledger), ledger)
    settings = read_settings(desk)
    if settings is not None:
        desk.clock = settings.site_clock
        desk.order = settings.date_order
    site = _read_all(desk, settings or Settings(site="", time_zone="UTC"))
    stopped = any(draft.severity is Severity.STOPS_ALL for draft in ledger.drafts)
    return (None if stopped or settings is None else site), ledger.problems()


def read_door(folder: Path) -> tuple[Settings | None, frozenset[str]]:
    """What must be known before messages can be taken in: the settings, and the systems of case numbers in FHIR."""
    ledger = Ledger()
    desk = Desk(read_folder(folder, ledger), ledger)
    codes = read_codes(desk)
    return read_settings(desk), frozenset(one.code for one in codes if one.means is Means.CASE_NUMBER)


def _read_all(desk: Desk, settings: Settings) -> Site:
    places, rooms, staff = read_places(desk), read_rooms(desk), read_staff(desk)
    items = read_items(desk)
    packs = read_packs(desk)
    stations = read_stations(desk)
    hours, departures = read_hours(desk, stations), read_departures(desk)
    holidays, transfers = read_holidays(desk), read_transfers(desk)
    routes = read_routes(desk)
    trays = read_trays(desk, routes, settings)
    procedures = read_procedures(desk)
    codes = read_codes(desk)
    cases = read_cases(desk)
    trays, sets = read_sets(desk, trays, routes)
    lots = read_lots(desk, items)
    lines, bad_lines = read_cards(desk, items)
    lines, near_lines = without_near_words(desk, cases, lines)
    bad_lines += near_lines
    stop_near_words(desk, cases, lines, sets.values())
    past_cases = read_past_cases(desk)
    _stop_cases(cases, bad_lines)
    report_far_rows(desk, holidays, lines)
    return Site(
        settings=settings,
        cases=tuple(one.case for one in cases if one.case is not None),
        procedures=procedures,
        card_lines=lines,
        items=items,
        packs=packs,
        trays=trays,
        sets=sets,
        lots=lots,
        places=places,
        routes=routes,
        stations=stations,
        hours=hours,
        departures=departures,
        holidays=holidays,
        transfers=transfers,
        staff=staff,
        rooms=rooms,
        past_cases=past_cases,
        codes=codes,
        unread=_unread(desk, bad_lines),
    )


def _unread(desk: Desk, bad_lines: tuple[BadLine, ...]) -> Unread:
    stopped = [draft for draft in desk.ledger.drafts if draft.severity is Severity.STOPS_CASE]
    nameless = any(not draft.cases for draft in stopped)
    return Unread(
        cases=frozenset(case for draft in stopped for case in draft.cases),
        schedule=nameless or bool(desk.tables.unread) or "Schedule" in desk.tables.broken,
        cards=frozenset(card for line in bad_lines for card in line.cards()),
    )


def _stop_cases(cases: list[ReadCase], bad_lines: tuple[BadLine, ...]) -> None:
    """A card line that could not be read stops the live cases that would use it."""
    live = [one.case for one in cases if one.case is not None and one.case.is_live]
    by_procedure: dict[str, list[Case]] = defaultdict(list)
    by_surgeon: dict[str, list[Case]] = defaultdict(list)
    for case in live:
        by_surgeon[case.surgeon].append(case)
        for procedure in case.procedures:
            by_procedure[procedure].append(case)
    for line in bad_lines:
        for case in line.chosen(live, by_procedure, by_surgeon):
            if line.touches(case.procedures, case.surgeon, case.day):
                escalate(line.causes, case.number)
