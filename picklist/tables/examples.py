"""The made-up sites that travel with the program: an example line or more of each table, and the demo hospital.

Each is a folder of CSV files in ``made_up``. What begins with $ there is a day, or a day and a time.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from pathlib import Path
from string import Template
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from picklist.tables.columns import CellType, Table
from picklist.tables.parse import ColumnParser
from picklist.tables.schema import SETTING_ROWS, TABLES

EXAMPLE = "EXAMPLE"  # every id of an example begins with it, so that nobody takes one for their own
MADE_UP = Path(__file__).with_name("made_up")
TYPED = frozenset({CellType.WHOLE, CellType.NUMBER, CellType.DATE, CellType.TIME, CellType.YES_NO})
# Of zones with the same clock, the first of these is named; any other is as good.
USUAL_ZONES = ("America/New_York", "America/Chicago", "America/Denver", "America/Los_Angeles", "Europe/London")
RAN_ALREADY = timedelta(minutes=40)  # for which D-099 of the demo has been running
Rows = tuple[dict[str, Any], ...]


def example_rows(today: date) -> dict[str, Rows]:
    """The example lines of each table, with days that are to come on the day on which they are written.

    Together they make a tiny site without problems.
    """
    christmas = date(today.year, 12, 25)
    days = {
        "tomorrow": (today + timedelta(days=1)).isoformat(),
        "new_year": date(today.year, 1, 1).isoformat(),
        "holiday": (christmas if christmas > today else date(today.year + 1, 12, 25)).isoformat(),
        "last_month": (today - timedelta(days=30)).isoformat(),
        "in_three_years": f"{today.year + 3}-06",
    }
    settings = ({"setting": one.name, "value": one.default or one.example, "meaning": one.help} for one in SETTING_ROWS)
    return made_up_rows("example", days) | {"Settings": tuple(settings)}


def demo_rows(now: datetime) -> dict[str, Rows]:
    """A small made-up hospital to try picklist on, its cases on the day after ``now``, by this computer's clock.

    It has one of each thing that an evening can bring: D-103 wants a tray that D-101 gives back too late, D-104 more
    mesh than there is, the room of D-106 is mistyped, a stand-in serves D-107, D-105 waits for a set, and D-102 has
    a latex alert. ``now`` naive is this computer's wall time.
    """
    moment = now.astimezone()
    wall = moment.replace(tzinfo=None)
    running, day = wall - RAN_ALREADY, timedelta(days=1)
    words = {
        "zone": _zone_of(moment),
        "running_day": f"{running:%Y-%m-%d}",
        "running_start": f"{running:%H:%M}",
        "tomorrow": f"{wall + day:%Y-%m-%d}",
        "day_after": f"{wall + 2 * day:%Y-%m-%d}",
        "in_three_days": f"{wall + 3 * day:%Y-%m-%d} 12:00",
        "days_ago": f"{wall - 3 * day:%Y-%m-%d} 16:20",
        "last_week": f"{wall - 7 * day:%Y-%m-%d}",
        "in_a_month": f"{wall + 30 * day:%Y-%m-%d}",
        "in_two_years": f"{wall.year + 2}-06",
    }
    rows = made_up_rows("demo", words)
    return {"Settings": rows.pop("Settings")} | rows


def _zone_of(moment: datetime) -> str:
    """A time zone in which the clock shows what it shows at ``moment``."""
    names: Iterable[str] = (*USUAL_ZONES, *sorted(available_timezones()))
    return next((one for one in names if moment.astimezone(ZoneInfo(one)).utcoffset() == moment.utcoffset()), "UTC")


def made_up_rows(site: str, words: Mapping[str, str]) -> dict[str, Rows]:
    """The rows of a made-up site by table, with words in the place of what begins with $."""
    files = ((table, MADE_UP / site / f"{table.name}.csv") for table in TABLES)
    return {table.name: _rows(table, path, words) for table, path in files if path.is_file()}


def _rows(table: Table, path: Path, words: Mapping[str, str]) -> Rows:
    """Numbers, days, times and yes or no as values, all else as text; what is not filled in is not there."""
    parsers = {column.name: ColumnParser(column) for column in table.columns if column.type in TYPED}
    lines = Template(path.read_text(encoding="utf-8")).substitute(words)
    return tuple(
        {column: parsers[column](text)[0] if column in parsers else text for column, text in line.items() if text}
        for line in csv.DictReader(io.StringIO(lines))
    )
