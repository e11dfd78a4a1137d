"""Routes, stations, hours, transport runs and settings, as their lists say."""

from __future__ import annotations

from datetime import date, time

from benchmarks.scenario.lists import Row, read_list, split
from benchmarks.scenario.sizes import Size
from picklist.tables.columns import CellType
from picklist.tables.schema import BY_NAME, SETTING_ROWS

ROOMS_SERVED = 10  # by the machines and people of the list


def make_department(size: Size) -> dict[str, list[Row]]:
    """The rows of Routes, Stations, Hours, Departures and Holidays; a larger house has more machines."""
    names = {
        "Routes": "routes",
        "Stations": "stations",
        "Hours": "hours",
        "Departures": "departures",
        "Holidays": "holidays",
    }
    tables = {table: [_typed(table, dict(one)) for one in read_list(name)] for table, name in names.items()}
    times = max(1, size.rooms // ROOMS_SERVED)
    tables["Stations"] = [row | {"machines": times * int(str(row["machines"]))} for row in tables["Stations"]]
    return tables


def make_settings() -> list[Row]:
    """The rows of Settings, each with what it means."""
    meaning = {one.name: one.help for one in SETTING_ROWS}
    return [{**one, "meaning": meaning[one["setting"]]} for one in read_list("settings")]


def _typed(table: str, cells: dict[str, str]) -> Row:
    return {header: _value(BY_NAME[table].column(header).type, text) for header, text in cells.items()}


def _value(kind: CellType, text: str) -> object:
    if not text:
        return None
    match kind:
        case CellType.WHOLE | CellType.NUMBER:
            return int(text)
        case CellType.TIME:
            return time.fromisoformat(text)
        case CellType.DATE:
            return date.fromisoformat(text)
        case CellType.YES_NO:
            return text == "yes"
        case CellType.CODES:
            return split(text)
        case _:
            return text
