"""What whole commands cost, each as a program of its own: processor seconds and memory.

    python -m benchmarks.bench_commands

The big day, built from nothing, then with one case five minutes later; ``check``, ``try`` and ``why`` after it.
The floors are measured on the same folder in the same run: the bare cells of all its sheets, and the typesetter
alone on the data of each pick list, one document each.
"""

from __future__ import annotations

import csv
import json
import sys
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import python_calamine

from benchmarks.measured import Measured, processor_seconds, run_program, table
from benchmarks.scenario import BIG_DAY, NOW, make_site
from picklist.clock import shift
from picklist.documents.missing_characters import CharacterCheck
from picklist.documents.pages import Sheet, typeset
from picklist.documents.plan_json import plan_from_json, plan_to_json
from picklist.documents.templates import fonts_of_sheets
from picklist.documents.views.finished_words import as_data
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.stamp import printing_of
from picklist.model.plan import Plan
from picklist.tables.examples import example_rows
from picklist.tables.write import write_tables

Tables = dict[str, list[dict[str, Any]]]
CELLS = "the bare cells"
ALONE = "the bare cells and the typesetter alone on each list"


def read_cells(folder: Path) -> None:
    """Every cell of every sheet of a folder, and nothing done with it."""
    for path in sorted(folder.glob("*.xlsx")):
        workbook = python_calamine.CalamineWorkbook.from_path(str(path))
        for name in workbook.sheet_names:
            workbook.get_sheet_by_name(name).to_python(skip_empty_area=False)
    for path in sorted(folder.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            list(csv.reader(file))


def list_sheets(plan: Plan) -> list[Sheet]:
    """The pick lists of a plan, ready for the typesetter."""
    found, signs = Lookup(plan), CharacterCheck(fonts_of_sheets())
    return [
        Sheet(
            file=cart.case.number,
            template="pick-list",
            data=signs.everywhere(as_data(PickListView(found, cart, printing_of(plan)))),
            made=plan.now,
        )
        for cart in plan.carts
    ]


def typeset_each(sheets: Sequence[Sheet]) -> None:
    """One document each, set once."""
    for sheet in sheets:
        typeset(sheet, accessible_only=False)


def picklist(*words: str) -> tuple[float, float]:
    """Processor seconds and megabytes of a command."""
    return run_program((sys.executable, "-m", "picklist", *words))


def measure(folder: Path, *, small: bool) -> list[Measured]:
    site, out = folder / "site", folder / "out"
    site.mkdir()
    made = example_rows(NOW.date()) if small else make_site(BIG_DAY, 1)
    rows: Tables = {name: [dict(row) for row in lines] for name, lines in made.items()}
    write_tables(site, rows)
    now = ("--now", f"{NOW:%Y-%m-%d %H:%M}")
    cells = processor_seconds(lambda: read_cells(site))
    build = ("build", str(site), "--out", str(out), *now, *(("--no-chance",) if small else ()))
    found = [_cold(build, out, cells)]
    if small:
        return found
    found.append(_against(CELLS, cells, "check", picklist("check", str(site), *now)))
    plan = plan_from_json((out / "plan.json").read_bytes())
    case = max(plan.carts, key=lambda cart: (cart.case.start, cart.case.number)).case
    later = plan.settings.site_clock.hhmm(shift(case.start, 5))
    thing = plan.carts[0].needs.needs[0].thing
    asked = {
        "try one move": ("try", str(site), f"move {case.number} to {later}", *now),
        "why one thing": ("why", str(site), plan.carts[0].case.number, thing, *now),
    }
    found += [_against(CELLS, cells, work, picklist(*words)) for work, words in asked.items()]
    _start_later(rows, case.number)
    write_tables(site, rows)
    found.append(_against(CELLS, cells, "build again, one case five minutes later", picklist(*build)))
    return [*found, *_plan_file(plan), _help()]


def _against(against: str, floor: float, work: str, used: tuple[float, float]) -> Measured:
    return Measured(work=work, seconds=used[0], floor=floor, against=against, megabytes=used[1])


def _cold(build: Sequence[str], out: Path, cells: float) -> Measured:
    used = picklist(*build)
    sheets = list_sheets(plan_from_json((out / "plan.json").read_bytes()))
    typesetter = processor_seconds(lambda: typeset_each(sheets))
    return _against(ALONE, cells + typesetter, f"build from nothing, {len(sheets)} lists", used)


def _start_later(rows: Tables, number: str) -> None:
    """One case of the schedule five minutes later."""
    for row in rows["Schedule"]:
        if row["case"] == number:
            row["start"] = (datetime.combine(row["day"], row["start"]) + timedelta(minutes=5)).time()


def _plan_file(plan: Plan) -> list[Measured]:
    """The plan as a file and back, against the plain encoder and decoder on the same text."""
    text = plan_to_json(plan)
    facts = json.loads(text)
    written, read = processor_seconds(lambda: plan_to_json(plan)), processor_seconds(lambda: plan_from_json(text))
    plain_written = processor_seconds(lambda: json.dumps(facts, separators=(",", ":")))
    plain_read = processor_seconds(lambda: json.loads(text))
    size = f"{len(text) / 1e6:.1f} MB"
    return [
        Measured(work=f"plan.json written, {size}", seconds=written, floor=plain_written, against="the plain encoder"),
        Measured(work="plan.json read", seconds=read, floor=plain_read, against="the plain decoder"),
    ]


def _help() -> Measured:
    floor, _ = run_program((sys.executable, "-c", "import typer"))
    return _against("importing typer", floor, "--help", picklist("--help"))


def main(*, small: bool = False) -> list[Measured]:
    """Measure each command."""
    with TemporaryDirectory() as name:
        return measure(Path(name), small=small)


if __name__ == "__main__":
    print(table(main()))
