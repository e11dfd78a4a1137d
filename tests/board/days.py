"""The days that the board is tried on: the sample hospital's, and one of 200 cases with too few sets."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from benchmarks.scenario import SIZES, make_site, write_site
from picklist.model.plan import Plan
from picklist.plan import Order, make_plan
from picklist.tasks.folder import choose_day, load_folder

HOSPITAL = Path(__file__).parents[2] / "sample_inputs" / "hospital"
NOW = datetime(2026, 11, 25, 22, 0, tzinfo=UTC)  # 18:00 at both sites


def plan_of(folder: Path) -> Plan:
    loaded = load_folder(folder, NOW)
    assert loaded.site is not None
    day = choose_day(loaded.site, loaded.now, None)
    return make_plan(loaded.site, loaded.problems, Order(day=day, now=loaded.now))


@cache
def sample_day() -> Plan:
    return plan_of(HOSPITAL)


@cache
def heavy_day() -> Plan:
    """200 cases of which a fifth were booked without a look at the sets, and two fifths of the sets they would want."""
    with tempfile.TemporaryDirectory() as folder:
        write_site(Path(folder), make_site(replace(SIZES["big day"], sets=2), 1))
        return plan_of(Path(folder))
