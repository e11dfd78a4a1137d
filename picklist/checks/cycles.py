"""Sterilizer steps against published least cycle times, by the table that the site chooses.

*CDC 2008*: the *Guideline for Disinfection and Sterilization in Healthcare Facilities, 2008* (Rutala,
Weber, HICPAC), Table 7, wrapped instruments: gravity displacement 30 min at 121 °C and 15 min at
132 °C, drying 15 to 30 min; dynamic air removal 4 min at 132 °C, drying 20 to 30 min, and not
applicable at 121 °C. It has no column for 134 or 135 °C.
*EN 285*: holding 3 min or more at 134 °C (EN 285:2015 as reviewed in *Zentralsterilisation* 1/2020);
with 10 min at 126 °C and 15 min at 121 °C as in Central Sterilising Club, *The Principles of Medical
Device Decontamination* (2025), table 10.2. Neither gives a drying time.
*ST79*: dynamic air removal 4 min at 132 °C or 3 min at 135 °C, as one instrument's instructions quote
ANSI/AAMI ST79; its drying times, and 10 min at 135 °C with gravity, are from memory and said to be.
A longer time that the device's instructions ask for goes before any of these.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from picklist.model.routes import Step
from picklist.model.site import Site
from picklist.problems import Problem, Severity, to_fix
from picklist.settings import CycleTable
from picklist.wording import span

CDC = CycleTable.CDC_2008
EN = CycleTable.EN_285
ST79 = CycleTable.ST79
SOURCES = {CDC: "CDC 2008, Table 7", EN: "EN 285", ST79: "ANSI/AAMI ST79"}
FROM_MEMORY = "from memory, not read in the standard"
GRAVITY = "gravity"
DYNAMIC = "dynamic air removal"
COOLEST_STEAM = 100.0  # below that it is no steam cycle, and the tables do not cover it
COLDEST = 35.0  # below that it is no sterilizer's: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleMinimum:
    """The least exposure and drying of wrapped instruments from a temperature upwards; minutes and °C.

    ``recalled``: the columns whose minutes are from memory.
    """

    air_removal: str
    temperature_c: float
    exposure: int
    drying: int
    table: CycleTable
    recalled: frozenset[str] = frozenset()

    def source(self, column: str) -> str:
        """Where the minutes of a column come from, as users see it."""
        return SOURCES[self.table] + (f", {FROM_MEMORY}" if column in self.recalled else "")


EXPOSURE, DRYING = "exposure minutes", "drying minutes"


def _row(table: CycleTable, air: str, celsius: float, exposure: int, drying: int, *recalled: str) -> CycleMinimum:
    return CycleMinimum(
        air_removal=air,
        temperature_c=celsius,
        exposure=exposure,
        drying=drying,
        table=table,
        recalled=frozenset(recalled),
    )


MINIMA: tuple[CycleMinimum, ...] = (
    _row(CDC, GRAVITY, 121, 30, 15),
    _row(CDC, GRAVITY, 132, 15, 15),
    _row(CDC, DYNAMIC, 132, 4, 20),
    *(_row(EN, air, 121, 15, 0) for air in (GRAVITY, DYNAMIC)),
    *(_row(EN, air, 126, 10, 0) for air in (GRAVITY, DYNAMIC)),
    *(_row(EN, air, 134, 3, 0) for air in (GRAVITY, DYNAMIC)),
    _row(ST79, GRAVITY, 135, 10, 30, EXPOSURE, DRYING),
    _row(ST79, DYNAMIC, 132, 4, 20, DRYING),
    _row(ST79, DYNAMIC, 135, 3, 16, DRYING),
)


def check_cycle_minima(site: Site, _now: datetime) -> Iterator[Problem]:
    """Steps whose documented temperature, exposure or drying is less than the site's table has: a notice.

    Less than every table here has is to be fixed.
    """
    for route in site.routes.values():
        for step in route.steps:
            degrees = step.temperature_c or 0.0
            if degrees >= COOLEST_STEAM:
                yield from _against_table(step, degrees, site.settings.cycle_table)
            elif 0 < degrees < COLDEST:
                where, message = step.where.at("temperature C"), f"no sterilizer works at {degrees:g} °C"
                yield to_fix("too cold", where, message, value=f"{degrees:g}", expected="the temperature in °C, as 132")


def least_for(cycle: str, temperature_c: float, table: CycleTable = CDC) -> CycleMinimum | None:
    """A table's minimum for a cycle's word and temperature; None when there is none.

    A cycle whose word does not tell how air is removed is measured by the shorter of both.
    """
    kinds = _kinds(cycle)
    rows = [
        row for row in MINIMA if row.table is table and row.air_removal in kinds and row.temperature_c <= temperature_c
    ]
    warmest = {kind: max((r for r in rows if r.air_removal == kind), key=_warmth, default=None) for kind in kinds}
    return min((row for row in warmest.values() if row is not None), key=lambda row: row.exposure, default=None)


def _warmth(row: CycleMinimum) -> float:
    return row.temperature_c


def _kinds(cycle: str) -> tuple[str, ...]:
    word = cycle.casefold()
    if "grav" in word:
        return (GRAVITY,)
    if "vac" in word or "dynamic" in word or "pulse" in word or "sfpp" in word:
        return (DYNAMIC,)
    return (GRAVITY, DYNAMIC)


def _against_table(step: Step, temperature_c: float, table: CycleTable) -> Iterator[Problem]:
    least = least_for(step.cycle, temperature_c, table)
    if least is None:
        anywhere = any(least_for(step.cycle, temperature_c, one) for one in CycleTable)
        message = f"{temperature_c:g} °C is below {SOURCES[table]}, for this cycle and wrapped instruments"
        coolest = min((r for r in MINIMA if r.table is table and r.air_removal in _kinds(step.cycle)), key=_warmth)
        expected = f"{coolest.temperature_c:g} °C or more for {coolest.air_removal}"
        yield _problem(step, "temperature C", f"{temperature_c:g}", message, expected, notice=anywhere)
        return
    for column, minutes in ((EXPOSURE, step.exposure_min), (DRYING, step.drying_min)):
        minimum = _minutes(least, column)
        if minutes is not None and minutes < minimum:
            message = f"{minutes} {column} of step '{step.name}' are below {least.source(column)}"
            expected = (
                f"{minimum} or more at {least.temperature_c:g} °C with {least.air_removal} (wrapped instruments), "
                "what the device's instructions say, or another table in the setting 'cycle table'"
            )
            yield _problem(step, column, str(minutes), message, expected, notice=_somewhere(step, column, minutes))


def _somewhere(step: Step, column: str, minutes: int) -> bool:
    """Whether any table here has so short a cycle at the step's temperature."""
    found = (least_for(step.cycle, step.temperature_c or 0.0, table) for table in CycleTable)
    return any(one is not None and _minutes(one, column) <= minutes for one in found)


def _minutes(least: CycleMinimum, column: str) -> int:
    return least.exposure if column == EXPOSURE else least.drying


def check_cycle_minutes(site: Site, _now: datetime) -> Iterator[Problem]:
    """Steps whose least minutes are fewer than the exposure and drying that they document."""
    for route in site.routes.values():
        for step in route.steps:
            inside = (step.exposure_min or 0) + (step.drying_min or 0)
            if step.least_minutes < inside:
                least, cycle = span(step.least_minutes), span(inside)
                message = f"the step '{step.name}' takes {least} at least, but its cycle takes {cycle}"
                yield _problem(step, "least minutes", str(step.least_minutes), message, f"{inside} or more")


def _problem(step: Step, column: str, value: str, message: str, expected: str, *, notice: bool = False) -> Problem:
    kind = "step shorter than its cycle" if column == "least minutes" else "below published minimum"
    found = to_fix(kind, step.where.at(column), message, value=value, expected=expected)
    return replace(found, severity=Severity.NOTICE) if notice else found
