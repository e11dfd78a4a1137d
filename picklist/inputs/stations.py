"""Stations, their hours, transport runs, holidays and ways between buildings."""

from __future__ import annotations

from picklist.inputs.desk import Causes, Desk, causes_of, fold, value
from picklist.model.routes import Departure, Holiday, Station, Transfer, WorkPeriod
from picklist.tables.rows import Row

VITAL_OF_STATION = ("machines", "trays per load", "start every", "start times", "may run past closing")


def read_stations(desk: Desk) -> dict[str, Station]:
    """Stations by id; one whose machines or starts cannot be read is broken."""
    made: dict[str, Station] = {}
    names = desk.index("Stations")
    for one, row, again in desk.keyed("Stations", "station"):
        if again is not None:
            continue
        names.add(one)
        wrong = causes_of(row, *VITAL_OF_STATION)
        if wrong:
            names.break_(one, wrong)
            continue
        made[one] = Station(
            id=one,
            machines=row.values["machines"],
            per_load=row.values["trays per load"],
            start_every=row.values["start every"],
            start_times=row.values["start times"],
            past_closing=row.values["may run past closing"],
            longest_wait=value(row, "longest wait", 0),
            where=row.where(),
        )
    desk.seal("Stations")
    return made


def read_hours(desk: Desk, stations: dict[str, Station]) -> tuple[WorkPeriod, ...]:
    """Working hours. A station all of whose rows are bad would seem to work always: it is broken instead."""
    made: list[WorkPeriod] = []
    wrongs: dict[str, Causes] = {}
    for row in desk.rows("Hours"):
        station, wrong = desk.refer(row, "station", "Stations")
        wrong = wrong or causes_of(row)
        if not wrong:
            made += _periods(row, station)
        elif station:
            wrongs[station] = (*wrongs.get(station, ()), *wrong)
    working = {period.station for period in made}
    for station, wrong in wrongs.items():
        if station not in working:
            desk.index("Stations").break_(station, wrong)
            stations.pop(station, None)
    return tuple(made)


def _periods(row: Row, station: str) -> list[WorkPeriod]:
    return [
        WorkPeriod(station=station, weekday=day, opens=row.values["from"], closes=row.values["to"], where=row.where())
        for day in row.values["weekday"]
    ]


def read_departures(desk: Desk) -> tuple[Departure, ...]:
    """Departures of transport runs; their names are the index of runs."""
    made: list[Departure] = []
    runs = desk.index("Departures")
    for row in desk.rows("Departures"):
        if row.has("run") and fold(row.values["run"]) not in runs.known:
            runs.add(row.values["run"])
        if row.bad:
            continue
        run = runs.known[fold(row.values["run"])]
        made += [
            Departure(run=run, weekday=day, leaves=row.values["time"], where=row.where())
            for day in row.values["weekday"]
        ]
    desk.seal("Departures")
    return tuple(made)


def read_holidays(desk: Desk) -> tuple[Holiday, ...]:
    """Days on which a station, a run or all of them rest."""
    made: list[Holiday] = []
    for row in desk.rows("Holidays"):
        if row.bad:
            continue
        written = row.values["station"]
        run = desk.index("Departures").known.get(fold(written)) if written else None
        station, wrong = (run, ()) if run else desk.refer(row, "station", "Stations")
        if not wrong:
            made.append(Holiday(day=row.values["day"], station=station, where=row.where()))
    return tuple(made)


def read_transfers(desk: Desk) -> tuple[Transfer, ...]:
    """Ways of ready sets from one building to another."""
    made: dict[tuple[str, str], Transfer] = {}
    for row in desk.rows("Transfers"):
        run, wrong = desk.refer(row, "run", "Departures")
        if row.bad or wrong:
            continue
        start, end = row.values["from building"], row.values["to building"]
        way = Transfer(from_building=start, to_building=end, minutes=row.values["minutes"], run=run, where=row.where())
        before = made.setdefault((fold(start), fold(end)), way)
        if before is not way:
            desk.ledger.report(
                "doubled key",
                row.where("to building"),
                f"the way from '{start}' to '{end}' stands in two rows; the first counts",
                expected="each once",
                related=(before.where,),
            )
    return tuple(made.values())
