"""The load of each station over the board's stretch of time, as a small plot."""

from __future__ import annotations

from datetime import timedelta

from picklist.documents.board.axis import Axis
from picklist.documents.board.index import BoardIndex
from picklist.documents.views.finished_words import View
from picklist.documents.views.station_load import by_station
from picklist.model.department import StationHour

QUARTER = timedelta(minutes=15)


class StationPlot(View):
    """A station: outlines in a field 100 wide and 1 high, ``busy`` below and ``waiting`` upon it.

    ``most_busy`` and ``most_waiting`` are of the day, without the night before. ``hours``: time, busy and waiting, at
    whole hours with either.
    """

    def __init__(self, index: BoardIndex, hours: list[StationHour]) -> None:
        when = index.found.when
        tallest = max(one.busy + one.waiting for one in hours)
        of_day = [one for one in hours if one.begins >= index.axis.day_from] or hours
        busiest = max(of_day, key=lambda one: one.busy)
        longest = max(of_day, key=lambda one: one.waiting)
        self.station = busiest.station
        self.busy = _outline(index.axis, [(one, 0.0, one.busy / tallest) for one in hours])
        self.waiting = _outline(
            index.axis, [(one, one.busy / tallest, one.waiting / tallest) for one in hours if one.waiting]
        )
        self.most_busy = f"busiest {_number(busiest.busy)} at {when(busiest.begins)}"
        self.most_waiting = (
            f"longest queue {longest.waiting} at {when(longest.begins)}" if longest.waiting else "no queue"
        )
        self.hours = tuple(_hour(index, one) for one in hours if _tells(index, one))


def station_plots(index: BoardIndex) -> tuple[StationPlot, ...]:
    """The stations with any load on the board, by name."""
    run, axis = index.plan.department, index.axis
    hours = [one for one in run.hours if axis.shows(one.begins, one.begins + QUARTER)] if run else []
    return tuple(StationPlot(index, own) for own in by_station(hours))


def _tells(index: BoardIndex, one: StationHour) -> bool:
    return index.found.clock.wall(one.begins).minute == 0 and bool(one.busy or one.waiting)


def _hour(index: BoardIndex, one: StationHour) -> tuple[str, str, str]:
    return index.found.when(one.begins), _number(one.busy), str(one.waiting)


def _number(busy: float) -> str:
    """Machines or people busy over a quarter of an hour, on average."""
    return f"{round(busy, 1):g}"


def _outline(axis: Axis, bars: list[tuple[StationHour, float, float]]) -> str:
    """A path of rectangles, neighbours of one height joined."""
    path: list[str] = []
    last: tuple[float, float, float] | None = None
    for hour, low, high in bars:
        left, right = axis.at(hour.begins), axis.at(hour.begins + QUARTER)
        if high <= 0 or right <= left:
            continue
        if last == (left, low, high):
            path.pop()
        else:
            path.append(f"M{left:g} {1 - low:.3g}V{1 - low - high:.3g}")
        path.append(f"H{right:g}V{1 - low:.3g}z")
        last = (right, low, high)
    return "".join(path)
