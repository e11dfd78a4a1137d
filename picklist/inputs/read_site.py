"""How a folder becomes a site: all that stays first, then the schedule on top of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from picklist.garbage import no_search_for_garbage
from picklist.inputs.far_days import report_far_rows
from picklist.inputs.free_words import stop_near_words, without_near_words, without_unknown_sizes
from picklist.inputs.known_ids import Names
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
from picklist.inputs.site_reader import SiteReader, TableRows, escalate
from picklist.model.cards import CardLine
from picklist.model.catalogue import Tray
from picklist.model.codes import Means
from picklist.model.schedule import Case
from picklist.model.sets import InstrumentSet
from picklist.model.site import Site, Unread
from picklist.problems import Problem, Severity, Where
from picklist.settings import Settings
from picklist.tables.cells import Grid
from picklist.tables.drafts import Draft, Ledger
from picklist.tables.folder import FolderTables, read_folder
from picklist.tables.schema import SCHEDULE, SETS


def read_site(folder: Path, *, now: datetime | None = None) -> tuple[Site | None, tuple[Problem, ...]]:
    """The site that a folder describes, and every problem found on the way.

    The site is None only when nothing can be planned (a problem of severity STOPS_ALL says
    why). Whatever is in the site is whole: a live case that no problem names has its
    procedures, people, trays with their routes, packs and items in the site. A case with
    anything wrong in its row or on a card that it uses is named in ``cases`` of that problem;
    it is in the site (with what could be read of it) when its day, start and room could be
    read. ``now`` (an instant) tells a coming date in a note from what could be a date of birth.
    """
    standing = read_standing(folder, now=now)
    scheduled = read_schedule(standing)
    return standing.with_schedule(scheduled), scheduled.problems


@dataclass(slots=True, kw_only=True)
class Standing:
    """What a folder says without its schedule: all that stays from one schedule to the next.

    ``site`` has no cases and no sets, which may be in cases; ``rows`` are those of the sets, and of the schedule where
    that is in other files than were asked to be left, and ``names`` the ids that they may refer to. No cell of a column
    that is not read is in it. What is wrong with lots and cards, and with past cases, comes after what is wrong
    with the schedule. Reading a schedule uses it up: problems learn which cases they stop.
    """

    today: date | None
    settings: Settings | None
    site: Site
    bad_lines: tuple[BadLine, ...]
    tables: FolderTables
    rows: dict[str, TableRows]
    names: dict[str, Names]
    drafts: list[Draft]
    drafts_of_cards: list[Draft]
    drafts_of_past: list[Draft]

    @property
    def has_schedule(self) -> bool:
        """Whether the schedule was looked at too."""
        return SCHEDULE.name in self.rows

    def with_schedule(self, scheduled: Scheduled) -> Site | None:
        """The whole site; None where nothing can be planned."""
        if not scheduled.can_be_planned:
            return None
        site, near = self.site, scheduled.near_lines
        return replace(
            site,
            cases=scheduled.cases,
            card_lines=tuple(line for line in site.card_lines if line.where not in near) if near else site.card_lines,
            trays=scheduled.trays,
            sets=scheduled.sets,
            unread=scheduled.unread,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Scheduled:
    """What a schedule adds to all that stays: cases and sets, what sets show of their trays, and every problem found.

    ``near_lines`` are the places of card lines that cannot be trusted beside it.
    """

    can_be_planned: bool
    cases: tuple[Case, ...]
    trays: Mapping[str, Tray]
    sets: Mapping[str, InstrumentSet]
    near_lines: frozenset[Where]
    unread: Unread
    problems: tuple[Problem, ...]


@no_search_for_garbage()
def read_standing(folder: Path, *, now: datetime | None = None, leave: Collection[str] = ()) -> Standing:
    """All of a folder but its cases and sets. A schedule that is only in files to ``leave`` is not looked at."""
    ledger = Ledger(now.date() if now else None)
    if folder.is_dir():
        tables = read_folder(folder, ledger)
    else:
        tables = FolderTables()
        ledger.report("no folder", Where(file=str(folder)), "there is no such folder", severity=Severity.STOPS_ALL)
    reader = SiteReader(tables, ledger)
    settings = read_settings(reader)
    reader.follow(settings)
    left = tables.is_in(SCHEDULE.name, leave)
    return _read_standing(reader, settings, [SETS.name] if left else [SCHEDULE.name, SETS.name])


def read_door(folder: Path) -> tuple[Settings | None, frozenset[str]]:
    """What must be known before messages can be taken in: the settings, and the systems of case numbers in FHIR."""
    ledger = Ledger()
    reader = SiteReader(read_folder(folder, ledger), ledger)
    codes = read_codes(reader)
    return read_settings(reader), frozenset(one.code for one in codes if one.means is Means.CASE_NUMBER)


def _read_standing(reader: SiteReader, settings: Settings | None, to_come: Iterable[str]) -> Standing:
    used = settings or Settings(site="", time_zone="UTC")
    places, rooms, staff = read_places(reader), read_rooms(reader), read_staff(reader)
    items = read_items(reader)
    packs = read_packs(reader)
    stations = read_stations(reader)
    hours, departures = read_hours(reader, stations), read_departures(reader)
    holidays, transfers = read_holidays(reader), read_transfers(reader)
    routes = read_routes(reader)
    trays = read_trays(reader, routes, used)
    procedures = read_procedures(reader)
    codes = read_codes(reader)
    check_export(reader)
    drafts = reader.ledger.take()
    lots = read_lots(reader, items)
    lines, bad_lines = read_cards(reader, items)
    drafts_of_cards = reader.ledger.take()
    past_cases = read_past_cases(reader)
    drafts_of_past = reader.ledger.take()
    return Standing(
        today=reader.ledger.today,
        settings=settings,
        site=Site(
            settings=used,
            procedures=procedures,
            card_lines=lines,
            items=items,
            packs=packs,
            trays=trays,
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
        ),
        bad_lines=bad_lines,
        rows={table: TableRows(rows=reader.rows(table), drafts=reader.ledger.take()) for table in to_come},
        tables=reader.tables.without_cells(),
        names=reader.known_names(),
        drafts=drafts,
        drafts_of_cards=drafts_of_cards,
        drafts_of_past=drafts_of_past,
    )


def read_schedule(standing: Standing, schedule: Sequence[Grid] = ()) -> Scheduled:
    """The cases and sets of a folder whose other tables were read; ``schedule`` are the sheets that were left."""
    if not standing.has_schedule:
        standing.tables.grids[SCHEDULE.name] = [*schedule]
    site, ledger = standing.site, Ledger(standing.today)
    ledger.drafts = standing.drafts
    reader = SiteReader(standing.tables, ledger)
    reader.names, reader.known_rows = standing.names, standing.rows
    reader.follow(standing.settings)
    cases = read_cases(reader)
    trays, sets = read_sets(reader, site.trays, site.routes)
    ledger.drafts += standing.drafts_of_cards
    lines, near_lines = without_near_words(reader, cases, site.card_lines)
    bad_lines = standing.bad_lines + near_lines
    stop_near_words(reader, cases, lines, sets.values())
    cases = without_unknown_sizes(cases, lines, sets.values())
    ledger.drafts += standing.drafts_of_past
    _stop_cases(cases, bad_lines)
    report_far_rows(reader, site.holidays, lines)
    stopped = any(draft.problem.severity is Severity.STOPS_ALL for draft in ledger.drafts)
    return Scheduled(
        can_be_planned=standing.settings is not None and not stopped,
        cases=tuple(one.case for one in cases if one.case is not None),
        trays=trays,
        sets=sets,
        near_lines=_places(site.card_lines) - _places(lines) if len(lines) < len(site.card_lines) else frozenset(),
        unread=_unread(reader, bad_lines),
        problems=ledger.problems(),
    )


def _places(lines: tuple[CardLine, ...]) -> frozenset[Where]:
    return frozenset(line.where for line in lines)


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
