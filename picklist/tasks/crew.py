"""Record what the crew reports of its carts: from the workbook of a build, a scanner, or the form of one cart."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import date, datetime
from io import StringIO
from pathlib import Path

from picklist.clock import SiteClock
from picklist.evening.add_reports import add_to_report, only_new, with_reporters, with_trays_to_come
from picklist.evening.check_facts import as_spelled, check_facts, sets_in_two_places
from picklist.evening.crew_workbook import read_cart_workbook
from picklist.evening.keep_facts import (
    built_carts,
    forget_scans,
    mark_scanned,
    record_built,
    record_scans,
    when_scanned,
)
from picklist.evening.keep_plans import latest_revision, listed_starts, lists_in_hand
from picklist.evening.scan_answers import say
from picklist.evening.scan_book import ScanBook
from picklist.evening.scans import ScanSession
from picklist.labels.gs1 import get_ready
from picklist.model.built import BuiltCart
from picklist.model.plan import Cart, Plan
from picklist.model.site import Site
from picklist.problems import Problem, Where, join_problems, notice
from picklist.store.keep_forms import mark_taken, not_said_before
from picklist.store.state import StateFile
from picklist.tables.files import digest_now
from picklist.tasks.beside_site import built_day
from picklist.tasks.cart_form import FORM, report_mark, with_numbers, without_what_left_the_list
from picklist.tasks.errors import WrongUse, opened_state, refuse_private, refuse_private_name
from picklist.tasks.moment import to_instant
from picklist.tasks.read_folder import Loaded, day_in_hand, load_site


class StaleForm(WrongUse):
    """A form was filled in over a report that another one has replaced since."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportResult:
    """The facts that were kept, or would be, and what is wrong with the others.

    ``answers`` are those to the scans of a file, ``day`` the one that it is about; ``before``: it was read before.
    """

    kept: tuple[BuiltCart, ...]
    problems: tuple[Problem, ...]
    answers: tuple[str, ...] = ()
    day: date | None = None
    before: bool = False


def tell_by_workbook(folder: Path, workbook: Path, now: datetime, day: date | None = None) -> ReportResult:
    """Keep what the crew filled in. Raises WrongUse when there is no folder, workbook or built day."""
    if not workbook.is_file():
        raise WrongUse(f"there is no workbook {workbook}")
    refuse_private_name(workbook)
    loaded, site = load_site(folder, now)
    with opened_state(folder) as state:
        return record_form(state, workbook, site, loaded.now, lambda named: _plan(state, loaded, day or named)[0])


def record_form(
    state: StateFile, form: Path, site: Site, now: datetime, plan_of: Callable[[date | None], Plan]
) -> ReportResult:
    """Keep what a form of carts says and did not say the last time: other rows may have been corrected since.

    ``plan_of`` gives the plan of the day that the form names. A cart that could not be recorded is asked about again.
    """
    digest = digest_now(form)
    facts, problems = read_cart_workbook(form, site.settings.site_clock, now, site.items)
    fresh = not_said_before(state, facts)
    told = keep_reports(state, fresh, site=site, plan=plan_of(_day_of(facts)), now=now, source=form.name)
    kept = {one.case for one in told.kept}
    mark_taken(state, form.name, digest, now, [one for one in fresh if one.case in kept])
    if facts and not fresh:
        message = "all of this form was recorded before; what was reported since stays"
        problems += (notice("read before", Where(file=form.name), message),)
    return replace(told, problems=(*problems, *told.problems))


def look_at_workbook(folder: Path, workbook: Path, now: datetime) -> ReportResult:
    """What ``tell_by_workbook`` would keep of what the crew filled in; nothing is written. Raises WrongUse."""
    loaded, site = load_site(folder, now)
    facts, problems = read_cart_workbook(workbook, site.settings.site_clock, loaded.now, site.items)
    with opened_state(folder) as state:
        plan, _ = _plan(state, loaded, _day_of(facts))
        fresh = not_said_before(state, facts)
    kept, doubts = check_facts(_spelled(fresh, site, loaded.now), plan, site)
    return ReportResult(kept=kept, problems=(*problems, *doubts), day=_day_of(facts))


def tell_by_scan_file(folder: Path, file: Path, now: datetime, day: date | None = None) -> ReportResult:
    """Keep what a file of scans says; a file that was read before is not counted a second time. Raises WrongUse."""
    if not file.is_file():
        raise WrongUse(f"there is no file {file}")
    refuse_private_name(file)
    data = file.read_bytes()
    if b"\0" in data:
        raise WrongUse(f"{file.name} is no text of scanned lines; a filled-in workbook is for picklist carts")
    loaded, site = load_site(folder, now)
    digest, clock = hashlib.sha256(data).hexdigest(), site.settings.site_clock
    get_ready()
    with opened_state(folder) as state, state.writing():  # all of it or none, so that it can be read again
        reports = KeptReports(state, loaded, day, lambda: now)
        day = reports.book().plan.day
        read_at = when_scanned(state, day, digest)
        if read_at is not None:
            return ReportResult(kept=(), problems=(_read_before(file.name, clock.stamp(read_at)),))
        told = _take_scans(reports, _scanned_lines(data), clock)
        mark_scanned(state, day, digest, loaded.now)
    return told


def look_at_scan_file(folder: Path, file: Path, now: datetime) -> ReportResult:
    """What ``tell_by_scan_file`` would keep, by the same session; nothing is written. Raises WrongUse."""
    data = file.read_bytes()
    loaded, site = load_site(folder, now)
    get_ready()
    answers: list[str] = []
    with opened_state(folder) as state:
        reports = LookedReports(state, loaded, None, lambda: now)
        day = reports.book().plan.day
        before = when_scanned(state, day, hashlib.sha256(data).hexdigest()) is not None
        told = _take_scans(reports, _scanned_lines(data), site.settings.site_clock, answers.append)
    return replace(told, answers=tuple(answers), day=day, before=before)


def _scanned_lines(data: bytes) -> Iterable[str]:
    return StringIO(data.decode("utf-8-sig", errors="replace"), newline=None)  # splitlines parts at FNC1 as well


def scan_carts(
    folder: Path,
    lines: Iterable[str],
    now: Callable[[], datetime],
    day: date | None = None,
    show: Callable[[str], None] = lambda _: None,
) -> ReportResult:
    """Keep scans one by one as they come; ``show`` gets each answer at once. Raises WrongUse as ``tell_by_workbook``.

    ``now`` gives the moment of a scan, naive for the site's wall time.
    """
    loaded, site = load_site(folder, now())
    get_ready()
    with opened_state(folder) as state:
        return _take_scans(KeptReports(state, loaded, day, now), lines, site.settings.site_clock, show)


def _take_scans(
    reports: KeptReports, lines: Iterable[str], clock: SiteClock, show: Callable[[str], None] = lambda _: None
) -> ReportResult:
    """Take scans one by one; ``show`` gets each answer at once."""
    session = ScanSession(reports=reports, clock=clock, now=reports.now)
    try:
        for line in lines:
            for answer in session.take(line):
                show(say(answer, clock))
    finally:
        for answer in session.end():
            show(say(answer, clock))
    return ReportResult(kept=tuple(session.touched.values()), problems=tuple(session.problems))


class KeptReports:
    """The reports of a day in its state, for scans; lists that a build lays meanwhile count at once."""

    def __init__(self, state: StateFile, loaded: Loaded, day: date | None, now: Callable[[], datetime]) -> None:
        self._state, self._loaded, self._now = state, loaded, now
        self._own: dict[str, int] = {}
        self._book = self._read_book(day)

    @contextmanager
    def through(self, state: StateFile) -> Iterator[None]:
        """Keep reports through this opening of the state, for scans that come over hours."""
        before, self._state = self._state, state
        try:
            yield
        finally:
            self._state = before

    def now(self) -> datetime:
        """The instant."""
        assert self._loaded.site is not None
        return to_instant(self._now(), self._loaded.site.settings.time_zone)

    def book(self) -> ScanBook:
        """What may be scanned, by the lists that count now."""
        day = self._book.plan.day
        if latest_revision(self._state, day) != self._book.plan.revision:
            with suppress(WrongUse):  # a table that cannot be read just now; the items of before are known
                self._loaded, _ = load_site(self._loaded.folder, self._now())
            self._book = self._read_book(day)
        return self._book

    def _read_book(self, day: date | None) -> ScanBook:
        site = self._loaded.site
        assert site is not None
        plan, revisions = _plan(self._state, self._loaded, day)
        return ScanBook(plan=plan, site=site, revisions=revisions, today=site.settings.site_clock.day(self.now()))

    def reported(self) -> Mapping[str, BuiltCart]:
        """The last report on each cart."""
        return built_carts(self._state, self._book.plan.day)

    def keep(self, facts: BuiltCart, over: BuiltCart | None, *, by: str, going_on: bool) -> BuiltCart:
        """Keep a report. Raises ReportedMeanwhileError."""
        own = self._own.get(facts.case)
        row, kept = record_scans(self._state, facts, over, self.now(), by=by, own=own, going_on=going_on)
        if row is None:
            self._own.pop(facts.case, None)
        else:
            self._own[facts.case] = row
        return kept

    def forget(self, case: str) -> None:
        """Drop what was kept of a cart since it was opened."""
        if (own := self._own.pop(case, None)) is not None:
            forget_scans(self._state, own)


class LookedReports(KeptReports):
    """Reports that are only looked at: what scans would keep stays here, and the state as it is."""

    def __init__(self, state: StateFile, loaded: Loaded, day: date | None, now: Callable[[], datetime]) -> None:
        super().__init__(state, loaded, day, now)
        self._looked: dict[str, BuiltCart] = {}

    def reported(self) -> Mapping[str, BuiltCart]:
        """The last report on each cart, with those that would be kept."""
        return {**super().reported(), **self._looked}

    def keep(self, facts: BuiltCart, over: BuiltCart | None, *, by: str, going_on: bool) -> BuiltCart:  # noqa: ARG002
        """Keep a report here alone."""
        base = super().reported().get(facts.case)
        kept = with_reporters(facts, base, by, self.now())
        self._looked[facts.case] = kept
        return kept

    def forget(self, case: str) -> None:
        """Drop what would be kept of a cart."""
        self._looked.pop(case, None)


def _read_before(name: str, when: str) -> Problem:
    message = f"this file of scans was already recorded {when}; nothing is counted twice"
    return notice("read before", Where(file=name), message)


def tell_by_form(folder: Path, case: str, said: BuiltCart, over: str, now: datetime) -> ReportResult:
    """Keep the report on the cart of a case that a form makes of the report with the mark ``over``.

    Raises WrongUse when there is no such cart, or somebody reported something of it since the form was shown.
    """
    refuse_private({"the note": said.remark, "who built the cart": said.by}, now)
    loaded, site = load_site(folder, now)
    with opened_state(folder) as state:
        plan, revisions = _plan(state, loaded, said.day)
        cart = plan.cart(case)
        if cart is None or cart.stopped:
            raise WrongUse(f"there is no cart {case} to build")
        known = built_carts(state, plan.day)
        before = known.get(case)

        def if_unchanged(last: BuiltCart | None, report: BuiltCart) -> BuiltCart:
            if report_mark(last) != over:
                raise StaleForm(
                    f"cart {case} was reported again after this form was opened, so nothing of the form was recorded"
                )
            return report

        amended = if_unchanged(before, as_spelled(with_numbers(said), site, site.settings.site_clock.day(loaded.now)))
        counts = revisions.get(case, plan.revision)
        report = with_trays_to_come(_of_its_list(amended, before, cart, counts, loaded.now), before, cart)
        new, doubts = check_facts([only_new(replace(report, case=case), before)], plan, site)
        if not new:
            return ReportResult(kept=(), problems=doubts)
        others = [one for number, one in known.items() if number != case]
        doubts += sets_in_two_places([*others, replace(report, case=case)], of=case)
        refused = record_built(state, [report], loaded.now, FORM, if_unchanged)
    return ReportResult(kept=(report,), problems=(*doubts, *refused))


def _of_its_list(said: BuiltCart, before: BuiltCart | None, cart: Cart, counts: int, now: datetime) -> BuiltCart:
    """A form's report under the number of its list; a cart that was built before keeps the time at which it was."""
    if before is None:
        return replace(said, at=now)
    lines_only = before.done and said.done and said.revision == before.revision
    report = replace(said, at=before.at if lines_only else now)
    if said.revision < counts:
        return report
    return without_what_left_the_list(replace(report, case=cart.case.number), cart)


def _plan(state: StateFile, loaded: Loaded, day: date | None) -> tuple[Plan, dict[str, int]]:
    """The newest plan of a day, and the revision of the list that counts for each case.

    Without a day that of the carts being built by the lists that were printed, whatever the schedule says of others.
    """
    assert loaded.site is not None
    clock = loaded.site.settings.site_clock
    wanted = day or day_in_hand(clock, loaded.now, listed_starts(state, clock.day(loaded.now)))
    plan = built_day(state, loaded.folder, wanted)
    return plan, {kept_as: held.revision for kept_as, held in lists_in_hand(state, plan.day).items()}


def _day_of(facts: Sequence[BuiltCart]) -> date | None:
    """The day that a filled workbook names."""
    return facts[0].day if facts else None


def _spelled(facts: Iterable[BuiltCart], site: Site, now: datetime) -> list[BuiltCart]:
    today = site.settings.site_clock.day(now)
    return [as_spelled(one, site, today) for one in facts]


def keep_reports(
    state: StateFile, facts: Sequence[BuiltCart], *, site: Site, plan: Plan, now: datetime, source: str
) -> ReportResult:
    """Keep reports beside those that are known: what is known of their carts now, and what is wrong in them."""
    carts = {cart.case.number: cart for cart in plan.carts}

    def join(before: BuiltCart | None, said: BuiltCart) -> BuiltCart:
        return with_trays_to_come(add_to_report(before, said, now), before, carts[said.case])

    kept, doubts = check_facts(_spelled(facts, site, now), plan, site)
    before = built_carts(state, plan.day)
    refused = record_built(
        state, [one for one in kept if one.case in before or not one.is_not_begun], now, source, join
    )
    mine = {one.case for one in kept}
    known = built_carts(state, plan.day)
    others = [one for case, one in known.items() if case not in mine]
    stand = tuple(known.get(one.case, one) for one in kept)
    doubled = (
        p
        for one, all_of in zip(kept, stand, strict=True)
        for p in sets_in_two_places([*others, all_of, one], of=one.case)
    )
    return ReportResult(kept=stand, problems=join_problems((*doubts, *doubled, *refused)))
