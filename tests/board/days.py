"""The days that the board is tried on: the sample hospital's, and one of 200 cases with too few sets."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from benchmarks.scenario import SIZES, make_site, write_site
from picklist.model.conflicts import Conflict, Edit, Remedy, RemedyKind
from picklist.model.plan import Plan
from picklist.plan import PlanRequest
from picklist.tasks.read_folder import choose_day, load_folder
from tests.kept import made_once, planned_once

HOSPITAL = Path(__file__).parents[2] / "sample_inputs" / "hospital"
NOW = datetime(2026, 11, 25, 22, 0, tzinfo=UTC)  # 18:00 at both sites

REMEDY = Remedy(
    edits=(Edit(kind=RemedyKind.SWAP),),
    text="Exchange cases C-4136 and C-4139 in OR 9: case C-4139 starts 10:30 and case C-4136 starts 15:10",
    cost="2 cases changed; 9 h 30 min moved; no new conflict; tight, 25 min to spare",
    minutes_moved=570,
    cases_touched=2,
    overtime=0,
)


def plan_of(folder: Path, *, whole: bool = True) -> Plan:
    loaded = load_folder(folder, NOW)
    assert loaded.site is not None
    day = choose_day(loaded.site, loaded.now, None)
    return planned_once(
        loaded.site, loaded.problems, PlanRequest(day=day, now=loaded.now, with_chance=whole, with_remedies=whole)
    )


@cache
def sample_day() -> Plan:
    return made_once("sample day", lambda: plan_of(HOSPITAL))


@cache
def big_day() -> Plan:
    """The big day, planned once in a run without remedies and chances."""
    return made_once("big day", plan_big_day)


def plan_big_day() -> Plan:
    """200 cases of which a fifth were booked without a look at the sets, and two fifths of the sets they would want."""
    tables = make_site(replace(SIZES["big day"], tastes=5), 1)
    with tempfile.TemporaryDirectory() as folder:
        write_site(Path(folder), tables)
        return plan_of(Path(folder), whole=False)


@cache
def heavy_day() -> Plan:
    """The big day with four remedies for each conflict.

    To look for remedies and chances takes most of the time; so many of such a length are usual.
    """
    plan = big_day()
    clusters = (replace(k, conflicts=tuple(map(with_four_remedies, k.conflicts))) for k in plan.clusters)
    return replace(plan, clusters=tuple(clusters))


def with_four_remedies(one: Conflict) -> Conflict:
    edits = (Edit(kind=RemedyKind.SWAP, case=f"{one.id} {number}") for number in range(4))
    texts = (f"{REMEDY.text} ({number})" for number in range(4))
    many = (replace(REMEDY, edits=(edit,), text=text) for edit, text in zip(edits, texts, strict=True))
    return replace(one, remedies=tuple(many))
