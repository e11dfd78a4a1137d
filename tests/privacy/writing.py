"""Tables as plain CSV files, whatever stands in their cells."""

from __future__ import annotations

import csv
from pathlib import Path

from picklist.tables.cells import plain_text
from picklist.tables.schema import BY_NAME
from tests.inputs.folders import Rows


def write_as_texts(folder: Path, rows: Rows) -> None:
    """Write each table of the schema into a CSV file of its name."""
    folder.mkdir(exist_ok=True)
    for name, lines in rows.items():
        header = [column.name for column in BY_NAME[name].columns]
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(header)
            writer.writerows([plain_text(line.get(column)) for column in header] for line in lines)
