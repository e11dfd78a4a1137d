"""Scans against reports that are kept in memory, as a scanner's sitting sees them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from picklist.clock import SiteClock
from picklist.evening.add_reports import with_reporters
from picklist.evening.scan_answers import say
from picklist.evening.scan_book import ScanBook
from picklist.evening.scans import ScanSession
from picklist.model.built import BuiltCart
from picklist.model.scan_answer import ScanAnswer, ScanKind
from tests.evening.builders import EVENING
from tests.evening.site_builder import a_plan, a_site

NOW = EVENING + timedelta(hours=3)  # 21:40
CLOCK = SiteClock("UTC")


def a_book() -> ScanBook:
    return ScanBook(plan=a_plan(), site=a_site(), revisions={"C-1": 1, "C-2": 1}, today=date(2026, 11, 25))


@dataclass(kw_only=True)
class InMemory:
    """Reports by case, and those that were there before the sitting."""

    the_book: ScanBook = field(default_factory=a_book)
    kept: dict[str, BuiltCart] = field(default_factory=dict)
    before: dict[str, BuiltCart] = field(default_factory=dict)

    def book(self) -> ScanBook:
        return self.the_book

    def reported(self) -> Mapping[str, BuiltCart]:
        return self.kept

    def keep(self, facts: BuiltCart, over: BuiltCart | None, *, by: str, going_on: bool) -> BuiltCart:
        assert self.kept.get(facts.case) == over
        report = with_reporters(facts, self.before.get(facts.case), by, NOW)
        self.kept[facts.case] = report
        if not going_on:
            self.before[facts.case] = report
        return report

    def forget(self, case: str) -> None:
        self.kept.pop(case, None)
        if case in self.before:
            self.kept[case] = self.before[case]


def sitting(reports: InMemory | None = None) -> ScanSession:
    return ScanSession(reports=reports or InMemory(), clock=CLOCK, now=lambda: NOW)


def answers(session: ScanSession, *lines: str) -> list[ScanAnswer]:
    """The first answer to each line."""
    return [session.take(line)[0] for line in lines]


def kinds_of(session: ScanSession, *lines: str) -> list[ScanKind]:
    return [one.kind for line in lines for one in session.take(line)]


def words_of(session: ScanSession, line: str) -> str:
    return " ".join(say(one, CLOCK) for one in session.take(line))


def take_all(session: ScanSession, lines: Iterable[str]) -> None:
    for line in lines:
        session.take(line)
    session.end()
