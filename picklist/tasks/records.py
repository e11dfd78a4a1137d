"""All that picklist remembers of a site, as a folder of tables and plans."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from picklist.documents.write import PutAside, write_folder
from picklist.evening.keep_plans import site_mark
from picklist.store.export import export_csv
from picklist.tasks.crew import opened_state
from picklist.tasks.errors import WrongUse, refusals
from picklist.upkeep import catch_up

RECORDS = "records"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordsWritten:
    """How many files were written, and what others had changed in the folder."""

    files: int
    aside: tuple[PutAside, ...]


def write_records(folder: Path, out: Path) -> RecordsWritten:
    """Write the records into ``out``, whole or not at all; other people's files in it stay. Raises WrongUse."""
    if not folder.is_dir():
        raise WrongUse(f"there is no folder {folder}")
    _bring_in(folder)
    count: list[int] = []
    with refusals(), opened_state(folder) as state:
        aside = write_folder(
            out, lambda fresh: count.append(len(export_csv(state, fresh))), kind=RECORDS, owner=site_mark(state)
        )
    return RecordsWritten(files=count[-1], aside=aside)


def _bring_in(folder: Path) -> None:
    """What an earlier version kept elsewhere belongs to the records too. Raises WrongUse when it cannot be read."""
    for problem in catch_up(folder):
        raise WrongUse(f"{problem.where}: {problem.message}")
