"""Stations, their hours, transport runs, holidays and ways between buildings."""

from __future__ import annotations

from picklist.inputs.known_ids import Causes, fold
from picklist.inputs.site_reader import SiteReader, causes_of
from picklist.model.routes import Departure, Holiday, Station, Transfer, WorkPeriod
from picklist.tables.rows import Row


def read_stations(reader: SiteReader) -> dict[str, Station]:
    """Stations by id; one whose machines or starts cannot be read is broken."""
    return reader.by_id("Stations", Station)


def read_hours(reader: SiteReader, stations: dict[str, Station]) -> tuple[WorkPeriod, ...]:
    """Working hours. A station all of whose rows are bad would seem to work always: it is broken instead."""
    made: list[WorkPeriod] = []
    wrongs: dict[str, Causes] = {}
    for row in reader.rows("Hours"):
        fields, wrong = reader.fields(row, "Hours", WorkPeriod)
        wrong = wrong or causes_of(row)
        station = fields.get("station", "")
        if not wrong:
            made += (WorkPeriod(**fields | {"weekday": day}) for day in row.values["weekday"])
        elif station:
            wrongs[station] = (*wrongs.get(station, ()), *wrong)
    working = {period.station for period in made}
    for station, wrong in wrongs.items():
        if station not in working:
            reader.index("Stations").break_(station, wrong)
            stations.pop(station, None)
    return tuple(made)


def read_departures(reader: SiteReader) -> tuple[Departure, ...]:
    """Departures of transport runs; their names are the index of runs."""
    made: list[Departure] = []
    runs = reader.index("Departures")
    for row in reader.rows("Departures"):
        if row.has("run") and fold(row.values["run"]) not in runs.known:
            runs.add(row.values["run"])
        if row.bad:
            continue
        fields, _ = reader.fields(row, "Departures", Departure, run=runs.known[fold(row.values["run"])])
        made += (Departure(**fields | {"weekday": day}) for day in row.values["weekday"])
    reader.seal("Departures")
    return tuple(made)


def read_holidays(reader: SiteReader) -> tuple[Holiday, ...]:
    """Days on which a station, a run or all of them rest."""
    made: list[Holiday] = []
    for row in reader.rows("Holidays"):
        if not row.has("day", "(row)"):
            for draft in causes_of(row, "day"):
                draft.change(message=f"{draft.problem.message}; this row counts for no day")
            continue
        run = reader.index("Departures").known.get(fold(row.values.get("station") or ""))
        station, wrong = (run, ()) if run else reader.refer(row, "station", "Stations")
        resting = _meant(reader, row, wrong) if wrong else (station,)
        made += (Holiday(**reader.fields(row, "Holidays", Holiday, station=one)[0]) for one in resting)
    return tuple(made)


def _meant(reader: SiteReader, row: Row, wrong: Causes) -> tuple[str, ...]:
    """Who rests by a row whose station cannot be read, as is said: those that it may mean, else all."""
    written = row.values.get("station") or ""
    meant = tuple(one for table in ("Stations", "Departures") for one in reader.index(table).nearest(written))
    for draft in wrong:
        if draft.problem.where == row.where("station"):
            named = ", ".join(meant) or "all stations and runs"
            draft.change(message=f"{draft.problem.message}; until it is corrected, closed that day: {named}")
    return meant or ("",)


def read_transfers(reader: SiteReader) -> tuple[Transfer, ...]:
    """Ways of sets from one building to another."""
    made: dict[tuple[str, str], Transfer] = {}
    for row in reader.rows("Transfers"):
        run, wrong = reader.refer(row, "run", "Departures")
        if row.bad or wrong:
            continue
        way = Transfer(**reader.fields(row, "Transfers", Transfer, run=run)[0])
        start, end = way.from_building, way.to_building
        before = made.setdefault((fold(start), fold(end)), way)
        if before is not way:
            message = f"the transfer from '{start}' to '{end}' is in two rows; the first counts"
            reader.doubled(before.where, row, "to building", message)
    return tuple(made.values())
