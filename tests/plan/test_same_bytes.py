"""The same inputs make the same bytes, whatever the run, and whatever the order of rows where no order is meant."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import pytest

import picklist
from picklist.documents.plan_json import plan_to_json
from picklist.inputs import read_site
from picklist.model.site import Site
from picklist.plan import PlanRequest, make_plan
from tests.builders import DAY
from tests.inputs.folders import NOW, Rows, write_site
from tests.patience import tries

# Lines of a card, and items that could both be meant, count in the order in which they stand in the sheet.
OF_THE_DAY = ("cases", "procedures", "packs", "lots", "staff", "rooms", "past_cases")
OF_THE_DEPARTMENT = ("routes", "stations", "hours", "departures", "holidays", "transfers")
LISTED_AS_THEY_STAND = ("trays", "sets", "places")


def busy(rows: Rows) -> None:
    """Eight cases for few sets: shortages, a tray that stands in, a tray on hold, a van, and stock that runs out."""
    for number in range(3, 9):
        knee = number % 2
        rows["Schedule"].append(
            {
                "case": f"C-{number}",
                "day": DAY if number < 8 else date(2026, 11, 27),
                "room": f"OR {1 + number % 3}",
                "start": time(7 + number, 15 * (number % 4)),
                "minutes": 60 + 5 * number,
                "surgeon": "S01" if knee else "S02",
                "procedures": ("KNEE",) if knee else ("HERNIA",),
                "side": "left" if knee else "none",
            }
        )
    rows["Rooms"].append({"room": "OR 3"})
    rows["Cards"].append({"procedure": "HERNIA", "kind": "tray", "thing": "T-FINE", "hold": 1})
    rows["Trays"].append(
        {
            "tray": "T-FINE",
            "name": "Fine",
            "route": "VAN",
            "kept ready": 1,
            "weight lb": 4,
            "sided": False,
            "implants": False,
        }
    )
    rows["Trays"][1]["stand-ins"] = "T-FINE"
    rows["Sets"] += [
        {"set": f"FINE-{n:02d}", "tray": "T-FINE", "state": "on shelf", "place": "A-02"} for n in range(1, 4)
    ]
    rows["Sets"] += [{"set": "KNEE-02", "tray": "T-KNEE", "state": "dirty"}]
    rows["Routes"] += [
        {"route": "VAN", "step": "pack", "usual minutes": 15, "least minutes": 10},
        {"route": "VAN", "step": "drive", "usual minutes": 30, "least minutes": 30, "run": "van"},
        {"route": "VAN", "step": "process", "usual minutes": 90, "least minutes": 80},
    ]
    rows["Departures"] = [{"run": "van", "weekday": "daily", "time": time(hour)} for hour in (9, 12, 15)]
    rows["Past cases"] = [
        {"procedure": "KNEE", "surgeon": "S01", "planned minutes": 90, "actual minutes": 80 + 7 * n} for n in range(6)
    ]


def test_a_build_writes_the_same_bytes_whatever_the_hashes_of_the_run(tmp_path: Path) -> None:
    written = []
    for seed in ("0", "1", "4242")[: tries(3, 2)]:
        site, out = tmp_path / seed / "site", tmp_path / seed / "evening"
        site.parent.mkdir()
        site.mkdir()
        build(write_site(site, busy), out, seed)
        written.append({str(one.relative_to(out)): one.read_bytes() for one in sorted(out.rglob("*")) if one.is_file()})
    first = written[0]
    kinds = {name.rpartition(".")[2] for name in first}
    assert {"pdf", "html", "json", "xlsx"} <= kinds
    facts = json.loads(first["plan.json"])
    assert len(facts["clusters"]) >= 2
    assert any(conflict["remedies"] for cluster in facts["clusters"] for conflict in cluster["conflicts"])
    for other in written[1:]:
        assert [name for name in first.keys() | other.keys() if first.get(name) != other.get(name)] == []


def build(site: Path, out: Path, seed: str) -> None:
    words = ["build", str(site), "--now", "2026-11-25 17:00", "--out", str(out)]
    here = str(Path(picklist.__file__).parents[1])
    made = subprocess.run(
        [sys.executable, "-m", "picklist", *words],
        env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": here},
        capture_output=True,
        text=True,
        check=False,
    )
    assert made.returncode == 0, made.stderr


@pytest.mark.parametrize("seed", range(tries(2, 1)))
def test_a_plan_does_not_depend_on_the_order_of_rows(tmp_path: Path, seed: int) -> None:
    site, problems = read_site(write_site(tmp_path, busy), now=NOW)
    assert site is not None
    order = PlanRequest(day=DAY, now=NOW, with_chance=seed == 0)
    plan = make_plan(site, problems, order)
    assert len(plan.clusters) >= 2
    other = shuffled(site, random.Random(seed), OF_THE_DAY + OF_THE_DEPARTMENT + LISTED_AS_THEY_STAND)
    written = [json.loads(plan_to_json(one)) for one in (plan, make_plan(other, problems, order))]
    first, again = (json.dumps(in_order(one)) for one in written)  # the order of what is in it counts as well
    assert first == again


def shuffled(site: Site, draw: random.Random, tables: tuple[str, ...]) -> Site:
    changes: dict[str, Any] = {}
    for table in tables:
        held = getattr(site, table)
        rows = list(held.items()) if isinstance(held, Mapping) else list(held)
        draw.shuffle(rows)
        changes[table] = dict(rows) if isinstance(held, Mapping) else tuple(rows)
    return replace(site, **changes)


def in_order(plan: dict[str, Any]) -> dict[str, Any]:
    """A plan with the lists that repeat the sheets in an order of their own."""
    return plan | {table: sorted(plan[table], key=lambda one: str(one["id"])) for table in LISTED_AS_THEY_STAND}


def test_that_the_moment_is_that_of_the_builds() -> None:
    assert datetime.fromisoformat("2026-11-25T17:00-06:00") == NOW
