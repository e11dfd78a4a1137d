"""Days that cannot be meant: so far from the days of the schedule that the year must be mistyped."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from picklist.inputs.site_reader import SiteReader
from picklist.model.cards import CardLine
from picklist.model.routes import Holiday
from picklist.problems import Where
from picklist.tables.drafts import Draft

# A year typed wrong by one is about 365 days away: half a year tells it from what is meant, and nothing
# that is planned with (a set on its way, a case of the same schedule) lies farther off. Common practice, no source.
NEAR = 183
YEARS = 3660  # ten years: records and old loans go back so far, and holidays are listed ahead so far
# Days before the first and after the last day of the schedule that a column may reach.
REACH = {
    "day": (NEAR, NEAR),
    "step since": (NEAR, NEAR),
    "back at": (YEARS, NEAR),
    "return by": (NEAR, YEARS),
    "recorded sterile at": (YEARS, NEAR),
    "recorded sterile until": (YEARS, YEARS),
    "from": (YEARS * 10, YEARS),
    "holiday": (YEARS, YEARS),
}


@dataclass(frozen=True, slots=True)
class Span:
    """The days of the schedule, first and last."""

    first: date
    last: date

    def is_far(self, day: date, column: str) -> bool:
        """Whether a day of a column lies farther off than it can be meant."""
        before, after = REACH[column]
        return day < self.first - timedelta(days=before) or day > self.last + timedelta(days=after)

    def with_its_year(self, day: date, column: str) -> tuple[str, ...]:
        """The same day and month in the years of the schedule, where that is near."""
        days = (_in_year(day, year) for year in dict.fromkeys((self.first.year, self.last.year)))
        return tuple(one.isoformat() for one in days if one is not None and not self.is_far(one, column))


def _in_year(day: date, year: int) -> date | None:
    try:
        return day.replace(year=year)
    except ValueError:  # 29 February
        return None


def span_of(days: Iterable[date]) -> Span | None:
    """The days that lie near the one in the middle; None of none at all."""
    ordered = sorted(days)
    if not ordered:
        return None
    middle = ordered[(len(ordered) - 1) // 2]
    near = [day for day in ordered if abs(day - middle) <= timedelta(days=NEAR)]
    return Span(near[0], near[-1])


def report_far(reader: SiteReader, span: Span, where: Where, day: date, column: str) -> Draft:
    """Report a day that is too far from the schedule."""
    return reader.ledger.report(
        "day far from the schedule",
        where,
        f"this day is far from those of the schedule ({span.first.isoformat()} to {span.last.isoformat()}), "
        "so its year may be mistyped",
        value=day.isoformat(),
        expected="a day that belongs to this schedule",
        nearest=span.with_its_year(day, column),
        guessed=True,
    )


def report_far_rows(reader: SiteReader, holidays: Iterable[Holiday], lines: Iterable[CardLine]) -> None:
    """Report holidays and begins of card lines that are too far from the schedule: they would never count."""
    span = span_of(reader.case_days)
    if span is None:
        return
    days = [(one.where, one.day, "day", "holiday") for one in holidays]
    days += [(one.where, one.begins, "from", "from") for one in lines if one.begins is not None]
    far = {key for key in {(day, reach) for _, day, _, reach in days} if span.is_far(*key)}
    for where, day, column, reach in days:
        if (day, reach) in far:
            report_far(reader, span, replace(where, column=column, cell=""), day, reach)
