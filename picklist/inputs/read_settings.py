"""The Settings table: one frozen object, or the reasons why there is none."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import replace
from typing import Any, get_type_hints
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

from picklist.inputs.site_reader import SiteReader, nowhere_in
from picklist.problems import Severity
from picklist.settings import Settings
from picklist.tables.columns import Column
from picklist.tables.nearest import Candidates, plain
from picklist.tables.parse import LISTED, ColumnParser
from picklist.tables.rows import Row
from picklist.tables.schema import SETTING_ROWS

BY_PLAIN = {plain(name): column for column in SETTING_ROWS for name in column.names}
NAMES = Candidates(tuple(column.name for column in SETTING_ROWS))
COMPANY_PREFIX = re.compile(r"\d{4,12}", re.ASCII)
TYPES = get_type_hints(Settings)
# Short names that a zone with summer time goes by all year round, and the zones that may be meant.
WITHOUT_SUMMER = {
    "EST": ("America/New_York", "America/Panama"),
    "MST": ("America/Denver", "America/Phoenix"),
    "HST": ("Pacific/Honolulu",),
    "GMT": ("Europe/London", "Africa/Abidjan"),
}
NO_SUMMER = "has no summer time; where clocks are set forward, the current time is an hour wrong in summer"
# What a computer has beside its time zones: its own zone, whatever that is, and one for when none is set.
NO_PLACES = frozenset({"localtime", "Factory"})


def read_settings(reader: SiteReader) -> Settings | None:
    """The site's settings; None (reported, stops everything) without a site name or a time zone."""
    found: dict[str, Any] = {}
    told: dict[str, Row] = {}
    for written, row, again in reader.keyed("Settings", "setting"):
        column = BY_PLAIN.get(plain(written))
        if again is not None:
            continue
        if column is None:
            message, nearest = "there is no setting of this name; it was not read", NAMES.nearest(written)
            reader.wrong(row, "setting", "unknown setting", message, expected="a setting", nearest=nearest)
            continue
        before = told.setdefault(column.name, row)
        if before is not row:  # one setting spelled in two ways
            message = f"'{column.name}' is in two rows; the first counts"
            reader.doubled(before.where("setting"), row, "setting", message)
            continue
        if "value" in row.bad:
            if column.required:
                row.bad["value"].change(severity=Severity.STOPS_ALL)
            continue
        _take(reader, row, column, found)
    return _made(reader, found, told)


def _take(reader: SiteReader, row: Row, column: Column, found: dict[str, Any]) -> None:
    parsed, fault = ColumnParser(column)(row.values["value"])
    if fault is None and column.field == "time_zone":
        if _is_zone(parsed):
            found[column.field] = parsed
            if parsed in WITHOUT_SUMMER:
                message, near = f"{parsed} {NO_SUMMER}", WITHOUT_SUMMER[parsed]
                kind, expected = "zone without summer time", "the zone by its city"
                reader.wrong(row, "value", kind, message, expected=expected, nearest=near)
        else:
            _report_zone(reader, row, parsed)
    elif fault is None and column.field == "gs1_company_prefix":
        found[column.field] = _prefix(reader, row, parsed)
    elif fault is None:
        found[column.field] = TYPES[column.field](parsed) if column.choices else parsed
    else:
        message = f"{column.name}: {fault.message}; the usual value {column.default} was taken"
        told, guessed = replace(fault, message=message), column.type not in LISTED
        reader.ledger.of_fault(told, row.where("value"), value=row.values["value"], guessed=guessed)


def _prefix(reader: SiteReader, row: Row, written: str) -> str:
    """A company prefix; empty for none, and for one that cannot be (reported)."""
    if COMPANY_PREFIX.fullmatch(written):
        return written
    if plain(written) != "none":
        message = "this is not a GS1 company prefix; labels carry Code 128"
        reader.wrong(row, "value", "not a company prefix", message, expected="4 to 12 digits, or none")
    return ""


def _is_zone(name: str) -> bool:
    if name in NO_PLACES or name.startswith(("posix", "right/")):
        return False
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def _report_zone(reader: SiteReader, row: Row, written: str) -> None:
    reader.ledger.report(
        "unknown time zone",
        row.where("value"),
        "there is no time zone of this name",
        severity=Severity.STOPS_ALL,
        value=written,
        expected="an IANA name such as America/Chicago",
        nearest=_nearest_zones(written),
    )


def _nearest_zones(written: str) -> tuple[str, ...]:
    zones = sorted(available_timezones())
    city = plain(written.rpartition("/")[2])
    same_city = tuple(zone for zone in zones if plain(zone.rpartition("/")[2]) == city)
    return (same_city or Candidates(zones).nearest(written))[:3]


def _made(reader: SiteReader, found: dict[str, Any], told: Collection[str]) -> Settings | None:
    for column in SETTING_ROWS:
        if column.required and column.name not in told and "Settings" in reader.tables.grids:
            reader.ledger.report(
                "missing setting",
                nowhere_in("Settings", reader.tables.grids),
                f"the setting '{column.name}' is missing",
                severity=Severity.STOPS_ALL,
                expected=f"a row '{column.name}': {column.help}, such as {column.shown_example}",
            )
    if any(column.required and column.field not in found for column in SETTING_ROWS):
        return None
    return Settings(**found)
