"""What it costs to read a region's folder, and one of a large house, against reading its raw cells alone.

    python -m benchmarks.bench_reading

50,000 card lines, 120,000 lots and 80,000 past cases in workbooks; the floor is the time that the
spreadsheet library takes for the bare cells. Then the same with a slip in every item id of the cards, and
the big day over the cards of a large house: 260,000 lines, four million cells.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, date, datetime, time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from benchmarks.bench_commands import CELLS, read_cells
from benchmarks.measured import Measured, processor_seconds, table
from benchmarks.scenario import FEW, LARGE_HOUSE, make_site
from picklist.checks import check_site
from picklist.inputs import read_site
from picklist.model.site import Site
from picklist.tables.examples import example_rows
from picklist.tables.write import write_tables

NOW = datetime(2026, 11, 25, 23, 0, tzinfo=UTC)
Rows = dict[str, list[dict[str, Any]]]


def region(spoiled: bool, share: int = 1) -> Rows:
    """Rows of a region: the blank site's examples and many more of what there is much of, or one in ``share`` of it.

    Of the others there are ten at least.
    """
    draw = random.Random(1)
    rows: Rows = {name: [dict(row) for row in lines] for name, lines in example_rows(NOW.date()).items()}
    items = [f"{draw.randrange(10**7):07d}{n:04d}" for n in range(max(10, 6000 // share))]
    procedures, people = (
        [f"P-{n}" for n in range(max(10, 400 // share))],
        [f"S-{n}" for n in range(max(10, 300 // share))],
    )
    rows["Items"] += [{"item": one, "name": f"Item {one}", "place": "EXAMPLE-A-01"} for one in items]
    rows["Procedures"] += [{"procedure": one, "name": f"Procedure {one}"} for one in procedures]
    rows["Staff"] += [{"person": one, "name": f"Dr. {one}"} for one in people]
    rows["Schedule"] += [
        {
            "case": f"C-{n}",
            "day": date(2026, 11, 27),
            "room": "EXAMPLE-OR",
            "start": time(8, 0),
            "minutes": 30,
            "surgeon": draw.choice(people),
            "procedures": (draw.choice(procedures),),
        }
        for n in range(max(10, 500 // share))
    ]
    rows["Cards"] += [_card_line(n, draw, (items, procedures, people), spoiled) for n in range(50_000 // share)]
    rows["Lots"] += [
        {
            "item": items[n % len(items)],
            "lot": f"L{n}",
            "quantity": draw.randrange(50),
            "expiry": date(2027, 1, 1 + n % 28),
            "place": "EXAMPLE-A-01",
        }
        for n in range(120_000 // share)
    ]
    rows["Past cases"] += [
        {
            "procedure": draw.choice(procedures),
            "surgeon": draw.choice(people),
            "planned minutes": 90,
            "actual minutes": 80 + n % 40,
        }
        for n in range(80_000 // share)
    ]
    return rows


def _card_line(
    n: int, draw: random.Random, ids: tuple[list[str], list[str], list[str]], spoiled: bool
) -> dict[str, Any]:
    item = draw.choice(ids[0])
    place = draw.randrange(len(item))
    return {
        "procedure": draw.choice(ids[1]),
        "surgeon": draw.choice(ids[2]) if n % 2 else "every",
        "kind": "item",
        "thing": item[:place] + "O" + item[place + 1 :] if spoiled else item,
        "open": draw.randrange(1, 5),
        "from": date(2026, 1, 1),
    }


def measure(folder: Path, what: str, rows: Rows) -> list[Measured]:
    """Reading and checking one folder."""
    write_tables(folder, rows)
    floor, read = processor_seconds(lambda: read_cells(folder)), list[tuple[Site | None, int]]()

    def reading() -> None:
        site, problems = read_site(folder, now=NOW)
        read.append((site, len(problems)))

    found = [Measured(work=what, seconds=processor_seconds(reading), floor=floor, against=CELLS)]
    site, number = read[0]
    if site is not None:
        checking = processor_seconds(lambda: check_site(site, NOW))
        words = f"checks of meaning after it, {number} problems read"
        found.append(Measured(work=words, seconds=checking, floor=floor, against=CELLS))
    return found


def main(*, small: bool = False) -> list[Measured]:
    """Measure a sound folder and a spoiled one of a region, and one of a large house."""
    share, house = (500, FEW) if small else (1, LARGE_HOUSE)
    asked: dict[str, Callable[[], Rows]] = {
        "region read, sound": lambda: region(False, share),
        "region read, a slip in every item id": lambda: region(True, share),
        f"{house.name} read": lambda: make_site(house, 1),
    }
    found = []
    for what, make in asked.items():
        with TemporaryDirectory() as name:
            found += measure(Path(name), what, make())
    return found


if __name__ == "__main__":
    print(table(main()))
