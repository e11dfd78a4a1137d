"""Sterilizer steps against published least cycle times.

The table is that for wrapped instruments of the CDC *Guideline for Disinfection and
Sterilization in Healthcare Facilities, 2008* (Rutala, Weber, HICPAC), Table 7: gravity
displacement 30 min at 121 °C and 15 min at 132 °C, drying 15 to 30 min; dynamic air removal
4 min at 132 °C, drying 20 to 30 min, and not applicable at 121 °C. It has no column for
135 °C; those rows are as ANSI/AAMI ST79 is remembered, not as it was read.
A longer time that the device's instructions ask for goes before any of these.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from picklist.model.routes import Step
from picklist.model.site import Site
from picklist.problems import Problem, Severity

CDC = "CDC guideline 2008, Table 7"
ST79 = "ANSI/AAMI ST79"
GRAVITY = "gravity"
DYNAMIC = "dynamic air removal"
COOLEST_STEAM = 100.0  # below that it is no steam cycle, and the table does not speak of it


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleMinimum:
    """The least exposure and drying of wrapped instruments from a temperature upwards; minutes and °C."""

    air_removal: str
    temperature_c: float
    exposure: int
    drying: int
    source: str


MINIMA: tuple[CycleMinimum, ...] = (
    CycleMinimum(air_removal=GRAVITY, temperature_c=121, exposure=30, drying=15, source=CDC),
    CycleMinimum(air_removal=GRAVITY, temperature_c=132, exposure=15, drying=15, source=CDC),
    CycleMinimum(air_removal=GRAVITY, temperature_c=135, exposure=10, drying=30, source=ST79),
    CycleMinimum(air_removal=DYNAMIC, temperature_c=132, exposure=4, drying=20, source=CDC),
    CycleMinimum(air_removal=DYNAMIC, temperature_c=135, exposure=3, drying=16, source=ST79),
)


def check_cycle_minima(site: Site, _now: datetime) -> Iterator[Problem]:
    """Steps whose documented temperature, exposure or drying is less than any published cycle."""
    for route in site.routes.values():
        for step in route.steps:
            if step.temperature_c is not None and step.temperature_c >= COOLEST_STEAM:
                yield from _against_table(step, step.temperature_c)


def least_for(cycle: str, temperature_c: float) -> CycleMinimum | None:
    """The published minimum for a cycle's word and temperature; None when there is none.

    A cycle whose word does not tell how air is removed is measured by the shorter of both.
    """
    kinds = _kinds(cycle)
    rows = [row for row in MINIMA if row.air_removal in kinds and row.temperature_c <= temperature_c]
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


def _against_table(step: Step, temperature_c: float) -> Iterator[Problem]:
    least = least_for(step.cycle, temperature_c)
    if least is None:
        message = f"no published cycle for wrapped instruments is as cool as {temperature_c:g} °C"
        yield _problem(step, "temperature C", f"{temperature_c:g}", message, f"132 °C for {DYNAMIC} ({CDC})")
        return
    at = f"at {least.temperature_c:g} °C with {least.air_removal} ({least.source}; wrapped instruments)"
    for column, minutes, minimum in (
        ("exposure minutes", step.exposure_min, least.exposure),
        ("drying minutes", step.drying_min, least.drying),
    ):
        if minutes is not None and minutes < minimum:
            message = f"{minutes} {column} of step '{step.name}' are fewer than any published cycle has"
            yield _problem(step, column, str(minutes), message, f"{minimum} or more {at}")


def check_cycle_minutes(site: Site, _now: datetime) -> Iterator[Problem]:
    """Steps whose least minutes are fewer than the exposure and drying that they document."""
    for route in site.routes.values():
        for step in route.steps:
            inside = (step.exposure_min or 0) + (step.drying_min or 0)
            if step.least_minutes < inside:
                message = f"the step '{step.name}' takes {step.least_minutes} minutes at least, but its cycle {inside}"
                yield _problem(step, "least minutes", str(step.least_minutes), message, f"{inside} or more")


def _problem(step: Step, column: str, value: str, message: str, expected: str) -> Problem:
    return Problem(
        kind="step shorter than its cycle" if column == "least minutes" else "below published minimum",
        severity=Severity.TO_MEND,
        where=replace(step.where, column=column),
        message=message,
        value=value,
        expected=expected,
    )
