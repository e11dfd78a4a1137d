"""When a step may start, in whole minutes. The calendar is read only as far as it is asked for."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable
from dataclasses import dataclass

HORIZON_DAYS = 60  # nobody waits longer for a washer: a step that cannot start by then never does
DAY_MINUTES = 1440
HORIZON = HORIZON_DAYS * DAY_MINUTES
_SPARE = 15 * DAY_MINUTES

Spans = list[tuple[int, int]]


@dataclass(frozen=True, slots=True)
class Timetable:
    """What a stretch of the calendar says about a step, in minutes since the epoch.

    ``windows`` are working times, disjoint and in order (None: always working);
    ``starts`` are the moments at which it may begin (None: any).
    """

    windows: Spans | None
    starts: list[int] | None


class StartSlots:
    """The times at which a step of ``minutes`` may start: it starts and ends inside one working window.

    With ``past_closing`` it may end after closing and is then unloaded at the next opening.
    All arguments and results are minutes since the epoch; None means not within the horizon.
    """

    __slots__ = ("_closes", "_first", "_from", "_last", "_opens", "_read", "_to", "minutes", "past_closing")

    def __init__(self, minutes: int, past_closing: bool, read: Callable[[int, int], Timetable]) -> None:
        self.minutes = minutes
        self.past_closing = past_closing
        self._read = read
        self._from, self._to = 0, -1
        self._first: list[int] = []
        self._last: list[int] = []
        self._opens: list[int] | None = None
        self._closes: list[int] = []

    def begin_from(self, minute: int) -> int | None:
        """The first start at or after a minute."""
        self._cover(minute)
        at = bisect_left(self._last, minute)
        if at == len(self._last):
            return None
        begin = max(self._first[at], minute)
        return begin if begin - minute <= HORIZON else None

    def turns(self, first: int, last: int) -> Spans:
        """All spans of minutes in which it may start that reach into ``first`` to ``last``, in order."""
        self._cover(first)
        self._cover(last)
        at, past = bisect_left(self._last, first), bisect_right(self._first, last)
        return list(zip(self._first[at:past], self._last[at:past], strict=True))

    def begin_until(self, minute: int) -> int | None:
        """The last start at or before a minute."""
        self._cover(minute)
        at = bisect_right(self._first, minute) - 1
        if at < 0:
            return None
        begin = min(self._last[at], minute)
        return begin if minute - begin <= HORIZON else None

    def end(self, begin: int) -> int | None:
        """When a step that started then is done and unloaded."""
        done = begin + self.minutes
        if not self.past_closing:
            return done
        self._cover(done)
        if self._opens is None:
            return done
        at = bisect_left(self._closes, done)
        if at == len(self._closes):
            return None
        out = max(self._opens[at], done)
        return out if out - done <= HORIZON else None

    def begin_to_end_by(self, minute: int) -> int | None:
        """The last start whose step is done at or before a minute."""
        done = self._done_by(minute)
        return None if done is None else self.begin_until(done - self.minutes)

    def _done_by(self, minute: int) -> int | None:
        """The latest end of a cycle that is unloaded at or before a minute."""
        if not self.past_closing:
            return minute
        self._cover(minute)
        if self._opens is None:
            return minute
        at = bisect_right(self._opens, minute) - 1
        return min(self._closes[at], minute) if at >= 0 else None

    def _cover(self, minute: int) -> None:
        reach = HORIZON + self.minutes
        if self._from <= minute - reach and minute + reach <= self._to:
            return
        begins, ends = minute - reach - _SPARE, minute + reach + _SPARE
        if self._to >= self._from:
            begins, ends = min(begins, self._from), max(ends, self._to)
        self._from, self._to = begins, ends
        self._take(self._read(begins, ends))

    def _take(self, table: Timetable) -> None:
        if table.windows is None:
            points = table.starts or []
            self._first, self._last, self._opens = points, points, None
            return
        self._opens = [opens for opens, _ in table.windows]
        self._closes = [closes for _, closes in table.windows]
        turns = [(opens, self._last_turn(closes)) for opens, closes in table.windows]
        turns = [turn for turn in turns if turn[0] <= turn[1]]
        if table.starts is not None:
            turns = _points_within(table.starts, turns)
        self._first = [first for first, _ in turns]
        self._last = [last for _, last in turns]

    def _last_turn(self, closes: int) -> int:
        fits = closes - self.minutes
        return max(fits, closes - 1) if self.past_closing else fits


def _points_within(starts: list[int], turns: Spans) -> Spans:
    """The fixed starts that lie inside a span, each as a span of its own."""
    return [
        (start, start)
        for first, last in turns
        for start in starts[bisect_left(starts, first) : bisect_right(starts, last)]
    ]


def join_spans(spans: Spans) -> Spans:
    """Spans in order, those that touch or overlap made one, empty ones dropped."""
    joined: Spans = []
    for begins, ends in sorted(span for span in spans if span[0] < span[1]):
        if joined and begins <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], ends))
        else:
            joined.append((begins, ends))
    return joined
