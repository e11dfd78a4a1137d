"""Whatever tells who a patient is, in whatever column: it is not read, and its problem names the place alone.

The columns come from the schema, so that a new one is tried by itself.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from picklist.cli.summary import problem_facts
from picklist.inputs import read_site
from picklist.problems_report import write_report
from picklist.tables.schema import TABLES
from tests.inputs.folders import NOW, sound_rows
from tests.privacy.seeds import BARE, SAID, SURNAME, TRACES, seeded
from tests.privacy.writing import write_as_texts


@pytest.mark.parametrize("seed", [*SAID, *BARE, SURNAME])
def test_that_no_column_lets_it_through_and_each_is_named(tmp_path: Path, seed: str) -> None:
    rows = sound_rows()
    places = seeded(rows, seed)
    write_as_texts(tmp_path, rows)
    site, problems = read_site(tmp_path, now=NOW)
    found = {(Path(one.where.file).stem, one.where.column) for one in problems}
    assert set(places) <= found
    everything = "\n".join(
        [repr(site), repr(problems), write_report(problems), *map(str, map(problem_facts, problems))]
    )
    assert [trace for trace in TRACES if trace in everything] == []


def test_that_all_tables_are_tried() -> None:
    tried = {table for table, _ in seeded(sound_rows(), SAID[0])}
    assert tried == {table.name for table in TABLES}
