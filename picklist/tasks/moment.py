"""The moment that a task works as of, as it is typed, and the question when it can hardly be meant."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from datetime import UTC, date, datetime

from picklist.clock import NoSuchTimeError, SiteClock
from picklist.inputs.far_days import span_of
from picklist.settings import DateOrder
from picklist.tables.cells import Fault
from picklist.tables.parse_dates import parse_date_text
from picklist.tables.parse_times import parse_stamp_text
from picklist.tasks.errors import WrongUse

EXAMPLE = "2026-11-25 18:00"


def typed_moment(text: str) -> datetime:
    """A moment as it is typed: ISO 8601, also with an offset, or as in a cell that holds a day and a time.

    Raises WrongUse, with the nearest moment.
    """
    if ":" in text:
        with suppress(ValueError):
            return datetime.fromisoformat(text.strip())
    moment, fault = parse_stamp_text(text)
    if fault is None:
        found: datetime = moment
        return found
    near = " or ".join(f'"{one}"' for one in fault.nearest)
    hint = f"did you mean {near}?" if near else f'use a day and a time, as "{EXAMPLE}"'
    raise WrongUse(f'--now "{text}" is not a day and time{_why(fault)}; {hint}')


def typed_day(text: str, option: str) -> date:
    """The day that an option asks for, as it may be typed in a cell. Raises WrongUse, with the nearest day."""
    day, fault = parse_date_text(text.strip(), DateOrder.ANY)
    if fault is None:
        found: date = day
        return found
    near = " or ".join(fault.nearest)
    hint = f"did you mean {near}?" if near else "use a day, as 2026-11-26"
    raise WrongUse(f'{option} "{text}" is not a day{_why(fault)}; {hint}')


def _why(fault: Fault) -> str:
    """What is wrong with a day or time, unless that is only that it is none."""
    return "" if fault.message.startswith("this is not") else f": {fault.message}"


class Meant(datetime):
    """A ``now`` of which somebody said that it is meant, however far from the schedule it lies."""

    @classmethod
    def of(cls, moment: datetime) -> Meant:
        """The same moment, confirmed."""
        return cls.combine(moment.date(), moment.timetz())


def to_instant(now: datetime, time_zone: str) -> datetime:
    """``now`` in UTC; naive, it is the wall time of the zone, of two equal ones in autumn the first.

    Raises WrongUse, with the next time there is, for one that the spring change of the clock skips.
    """
    if now.tzinfo:
        return datetime.combine(now.date(), now.timetz()).astimezone(UTC)
    clock = SiteClock(time_zone)
    try:
        return clock.instant(now.date(), now.time())
    except NoSuchTimeError:
        near = clock.wall(clock.at_or_after(now.date(), now.time()))
        raise WrongUse(
            f'--now "{now:%Y-%m-%d %H:%M}" does not exist in {time_zone}: the clock goes forward over it; '
            f'did you mean "{near:%Y-%m-%d %H:%M}"?'
        ) from None


def ask_if_meant(now: datetime, days: Iterable[date], clock: SiteClock) -> None:
    """Refuse a moment more than half a year from the days that a task looks at, unless it is ``Meant``.

    A plan runs from its moment on, day by day, and after its last day nothing is left of it to say; a year is
    easily mistyped. ``now`` naive is wall time. Raises WrongUse with the question and the nearest moment.
    """
    span = span_of(days)
    instant = to_instant(now, clock.zone)
    today = clock.day(instant)
    if isinstance(now, Meant) or span is None or not span.is_far(today, "day"):
        return
    first, last = clock.day_text(span.first), clock.day_text(span.last)
    where = f"first case is on {first}, more than half a year later"
    if today > span.last:
        where = f"last case was on {last}, more than half a year earlier"
    near = (*span.with_its_year(today, "day"), span.first.isoformat())[0]
    raise WrongUse(
        f"it is {clock.day_text(today)} by --now or this computer's clock, and the {where}. Is that meant? If so, "
        f'use --far as well. If not, correct the clock or use --now "{near} {clock.wall(instant):%H:%M}"'
    )
