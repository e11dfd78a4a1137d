"""The one function that states how a folder becomes a site."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from pathlib import Path

from picklist.inputs.far_days import report_far_rows
from picklist.inputs.free_words import stop_near_words, without_near_words, without_unknown_sizes
from picklist.inputs.read_cards import BadLine, read_cards
from picklist.inputs.read_codes import read_codes
from picklist.inputs.read_export import check_export
from picklist.inputs.read_routes import read_routes
from picklist.inputs.read_schedule import ReadCase, read_cases, read_past_cases, read_procedures, read_rooms, read_staff
from picklist.inputs.read_sets import read_sets
from picklist.inputs.read_settings import read_settings
from picklist.inputs.read_stations import read_departures, read_holidays, read_hours, read_stations, read_transfers
from picklist.inputs.read_supplies import read_items, read_lots, read_packs, read_places
from picklist.inputs.read_trays import read_trays
from picklist.inputs.site_reader import SiteReader, escalate
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
    it is in the site (with what could be read of it) when its day, start and room could be
    read. ``now`` (an instant) tells a coming date in a note from what could be a date of birth.
    """
    ledger = Ledger(now.date() if now else None)
    if not folder.is_dir():
        ledger.report("no folder", Where(file=str(folder)), "there is no such folder", severity=Severity.STOPS_ALL)
        return None, ledger.problems()
    reader = SiteReader(read_folder(folder, ledger), ledger)
    settings = read_settings(reader)
    if settings is not None:
        reader.clock = settings.site_clock
        reader.order = settings.date_order
    site = _read_all(reader, settings or Settings(site="", time_zone="UTC"))
    stopped = any(draft.problem.severity is Severity.STOPS_ALL for draft in ledger.drafts)
    return (None if stopped or settings is None else site), ledger.problems()


def read_door(folder: Path) -> tuple[Settings | None, frozenset[str]]:
    """What must be known before messages can be taken in: the settings, and the systems of case numbers in FHIR."""
    ledger = Ledger()
    reader = SiteReader(read_folder(folder, ledger), ledger)
    codes = read_codes(reader)
    return read_settings(reader), frozenset(one.code for one in codes if one.means is Means.CASE_NUMBER)


def _read_all(reader: SiteReader, settings: Settings) -> Site:
    places, rooms, staff = read_places(reader), read_rooms(reader), read_staff(reader)
    items = read_items(reader)
    packs = read_packs(reader)
    stations = read_stations(reader)
    hours, departures = read_hours(reader, stations), read_departures(reader)
    holidays, transfers = read_holidays(reader), read_transfers(reader)
    routes = read_routes(reader)
    trays = read_trays(reader, routes, settings)
    procedures = read_procedures(reader)
    codes = read_codes(reader)
    check_export(reader)
    cases = read_cases(reader)
    trays, sets = read_sets(reader, trays, routes)
    lots = read_lots(reader, items)
    lines, bad_lines = read_cards(reader, items)
    lines, near_lines = without_near_words(reader, cases, lines)
    bad_lines += near_lines
    stop_near_words(reader, cases, lines, sets.values())
    cases = without_unknown_sizes(cases, lines, sets.values())
    past_cases = read_past_cases(reader)
    _stop_cases(cases, bad_lines)
    report_far_rows(reader, holidays, lines)
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
        unread=_unread(reader, bad_lines),
    )


def _unread(reader: SiteReader, bad_lines: tuple[BadLine, ...]) -> Unread:
    stopped = [draft for draft in reader.ledger.drafts if draft.problem.severity is Severity.STOPS_CASE]
    nameless = any(not draft.cases for draft in stopped)
    return Unread(
        cases=frozenset(case for draft in stopped for case in draft.cases),
        schedule=nameless or bool(reader.tables.unread) or "Schedule" in reader.tables.broken,
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
