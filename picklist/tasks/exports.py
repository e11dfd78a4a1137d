"""What goes out of a site whole: its records as tables and plans, and its deadlines as calendars."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from picklist.documents.calendars import calendars
from picklist.documents.plan_json import plan_from_json
from picklist.documents.whole_folder import PutAside, write_folder
from picklist.evening.keep_plans import listed_starts, site_mark
from picklist.evening.revise import plan_kept
from picklist.model.plan import Plan
from picklist.store.export import export_csv
from picklist.store.state import StateFile
from picklist.tasks.beside_site import built_day
from picklist.tasks.errors import WrongUse, check_folder, opened_state, refusals
from picklist.tasks.fix_cell import bring_in_fixes
from picklist.tasks.moment import ask_if_meant, to_instant
from picklist.upkeep.approval import catch_up

RECORDS = "records"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordsWritten:
    """How many files were written, and what others had changed in the folder."""

    files: int
    aside: tuple[PutAside, ...]


def write_records(folder: Path, out: Path) -> RecordsWritten:
    """Write the records into ``out``, all of them or none; other people's files in it stay. Raises WrongUse."""
    check_folder(folder)
    _bring_in(folder)
    count: list[int] = []
    with refusals(), opened_state(folder) as state:
        bring_in_fixes(state, folder)
        aside = write_folder(
            out, lambda fresh: count.append(len(export_csv(state, fresh))), kind=RECORDS, owner=site_mark(state)
        )
    return RecordsWritten(files=count[-1], aside=aside)


def _bring_in(folder: Path) -> None:
    """What an earlier version kept elsewhere belongs to the records too. Raises WrongUse when it cannot be read."""
    for problem in catch_up(folder):
        raise WrongUse(f"{problem.where}: {problem.message}")


CALENDARS = "calendars"


def write_calendars(folder: Path, out: Path, now: datetime) -> tuple[tuple[str, ...], tuple[PutAside, ...]]:
    """Write a calendar for the department, the coordinator and each room into ``out``: all of them or none.

    They hold the days whose lists were built, from the day before ``now`` on (naive: the site's wall time).
    The files written, and what others had changed in the folder. Raises WrongUse.
    """
    check_folder(folder)
    with refusals(), opened_state(folder) as state:
        clock = built_day(state, folder, None).settings.site_clock
        days_built = listed_starts(state, date.min)
        ask_if_meant(now, days_built, clock)
        since = clock.day(to_instant(now, clock.zone)) - timedelta(days=1)
        days = [_revisions(state, folder, day) for day in sorted(days_built) if day >= since]
        files = calendars(days, site_mark(state))
        aside = write_folder(out, lambda fresh: _put(fresh, files), kind=CALENDARS, owner=site_mark(state))
    return tuple(files), aside


def _revisions(state: StateFile, folder: Path, day: date) -> tuple[Plan, ...]:
    """The plans of a day that can be read; the newest must be one of them. Raises WrongUse."""
    newest = built_day(state, folder, day)
    older = (plan_kept(state, day, plan_from_json, number) for number in range(1, newest.revision))
    return (*(one for one in older if one), newest)


def _put(folder: Path, files: dict[str, bytes]) -> None:
    for name, data in files.items():
        (folder / name).write_bytes(data)
