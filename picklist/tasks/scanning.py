"""Scans that come over a whole evening, each answered at once: the sitting of one window of the page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from threading import Lock

from picklist.evening.left_to_fetch import LeftThing, left_to_fetch
from picklist.evening.scan_answers import ScanVerdict, about, gravest, say, verdict_of
from picklist.evening.scans import ScanSession
from picklist.labels.gs1 import get_ready
from picklist.model.built import BuiltCart
from picklist.model.plan import Cart
from picklist.model.scan_answer import ScanAnswer
from picklist.tasks.crew import KeptReports
from picklist.tasks.errors import opened_state
from picklist.tasks.read_folder import load_site

KEPT = 30  # answers that can be looked back at


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanSaid:
    """The answer to one scan: the gravest of it in a word, what it is about and where that belongs, and sentences."""

    number: int
    verdict: ScanVerdict
    about: str
    belongs: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitting:
    """Where the scans stand: the answers, newest first, the open cart with its last report, and what is left."""

    said: tuple[ScanSaid, ...]
    cart: Cart | None
    facts: BuiltCart | None
    left: tuple[LeftThing, ...]


class Scanner:
    """Takes the scans of one window, as ``scan`` takes those of a terminal; safe to use from several threads.

    The state is opened for each scan, so that a build and other windows get on meanwhile.
    """

    def __init__(self, folder: Path, now: Callable[[], datetime], day: date | None = None) -> None:
        """Raises WrongUse when the folder cannot be read, or the day has no lists yet."""
        self._folder, self._lock, self._number = folder, Lock(), 0
        loaded, site = load_site(folder, now())
        self._clock = site.settings.site_clock
        get_ready()
        with opened_state(folder) as state:
            self._reports = KeptReports(state, loaded, day, now)
        self._session = ScanSession(reports=self._reports, clock=self._clock, now=self._reports.now, name="the page")
        self._said: tuple[ScanSaid, ...] = ()

    def take(self, line: str) -> Sitting:
        """Take one scan. Raises WrongUse."""
        with self._lock, opened_state(self._folder) as state, self._reports.through(state):
            self._keep(self._session.take(line))
            return self._sitting()

    def look(self) -> Sitting:
        """Where the scans stand now, with what others reported meanwhile. Raises WrongUse."""
        with self._lock, opened_state(self._folder) as state, self._reports.through(state):
            return self._sitting()

    def leave(self) -> None:
        """The window is closed: what was scanned counts, and a cart without DONE is started. Raises WrongUse."""
        with self._lock, opened_state(self._folder) as state, self._reports.through(state):
            self._keep(self._session.end())

    def _keep(self, answers: Sequence[ScanAnswer]) -> None:
        if answers:
            self._number += 1
            sentences = tuple(say(one, self._clock) for one in answers)
            main = gravest(answers)
            said = ScanSaid(
                number=self._number,
                verdict=verdict_of(main),
                about=about(main) or about(answers[0]),
                belongs=" ".join(main.cases[:1]) or main.place,
                sentences=sentences,
            )
            self._said = (said, *self._said)[:KEPT]

    def _sitting(self) -> Sitting:
        case = self._session.open_case
        cart = self._reports.book().cart(case) if case else None
        facts = self._reports.reported().get(case)
        return Sitting(said=self._said, cart=cart, facts=facts, left=left_to_fetch(cart, facts) if cart else ())
