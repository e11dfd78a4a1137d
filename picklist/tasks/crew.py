"""Take down what the crew tells of its carts: from the workbook of a build, a scanner, or the form of one cart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from picklist.documents.plan_json import plan_from_json
from picklist.evening.cart_form import FORM, CartSaid, amend_report, only_new, report_mark
from picklist.evening.check_facts import check_facts, sets_on_two_carts
from picklist.evening.crew_reader import read_cart_workbook
from picklist.evening.keep_facts import built_carts, record_built
from picklist.evening.keep_plans import listed_starts, lists_in_hand
from picklist.evening.revise import Standing, standing_on_other_days
from picklist.evening.scan_book import ScanBook
from picklist.evening.scans import read_scans
from picklist.evening.state import State, open_state, state_path
from picklist.evening.state_errors import StateError
from picklist.model.built import BuiltCart
from picklist.model.plan import Plan
from picklist.model.schedule import Case
from picklist.problems import Problem, Where, must_be_mended
from picklist.tasks.built_day import built_day
from picklist.tasks.errors import WrongUse
from picklist.tasks.folder import Loaded, choose_day, load_site, planned_days

PATIENCE = 90.0  # seconds to wait for another writer: a build holds the state while it prints


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """The facts that were kept, and what is wrong with the others."""

    kept: tuple[BuiltCart, ...]
    problems: tuple[Problem, ...]

    @property
    def exit_code(self) -> int:
        """0 when all was kept without anything to mend, else 1."""
        return int(must_be_mended(self.problems))


def tell_by_workbook(folder: Path, workbook: Path, now: datetime, day: date | None = None) -> Told:
    """Keep what the crew filled in. Raises WrongUse when there is no folder, workbook or built day."""
    if not workbook.is_file():
        raise WrongUse(f"there is no workbook {workbook}")
    loaded, site = load_site(folder, now)
    facts, problems = read_cart_workbook(workbook, site.settings.site_clock, loaded.now)
    with opened_state(folder) as state:
        return _keep(state, loaded, facts, (problems, day, workbook.name))


def tell_by_scans(folder: Path, lines: Iterable[str], now: datetime, day: date | None = None) -> Told:
    """Keep what was scanned, line by line. Raises WrongUse as ``tell_by_workbook``."""
    loaded, site = load_site(folder, now)
    with opened_state(folder) as state:
        plan, revisions = _plan(state, loaded, day)
        clock = site.settings.site_clock
        book = ScanBook(plan=plan, site=site, revisions=revisions, today=clock.day(loaded.now))
        facts, problems = read_scans(lines, book, clock, loaded.now)
        return _keep(state, loaded, facts, (problems, plan.day, "scans"))


def tell_by_form(folder: Path, said: CartSaid, now: datetime, day: date) -> Told:
    """Keep what a form says of one cart; what was told of it before and the form does not touch stays.

    Raises WrongUse when there is no such cart, or somebody told something of it since the form was shown.
    """
    loaded, site = load_site(folder, now)
    with opened_state(folder) as state:
        plan, revisions = _plan(state, loaded, day)
        cart = next((one for one in plan.carts if one.case.number == said.case and not one.stopped), None)
        if cart is None:
            raise WrongUse(f"there is no cart {said.case} that can be built")
        known = built_carts(state, plan.day)
        before = known.get(said.case)
        if report_mark(before) != said.over:
            raise WrongUse(
                f"something else was told of cart {said.case} since this form was opened, and nothing of the form "
                "was kept; open the cart again, where it stands, and fill in what is still missing"
            )
        revision = revisions.get(said.case, plan.revision)
        fresh = BuiltCart(day=plan.day, case=said.case, revision=revision, at=loaded.now, where=Where(file=FORM))
        report = amend_report(before, said, cart, fresh)
        new, doubts = check_facts([only_new(report, before)], plan, site)
        if not new:
            return Told(kept=(), problems=doubts)
        others = [one for case, one in known.items() if case != said.case]
        doubts += sets_on_two_carts([*others, report], of=said.case)
        refused = record_built(state, [report], loaded.now, FORM)
    return Told(kept=(report,), problems=(*doubts, *refused))


def what_stands(folder: Path, cases: Sequence[Case]) -> Standing:
    """What stands on carts that the crew told built and on printed lists, where the next build would leave it.

    ``cases`` are those of the schedule as it is now, of any days. Raises WrongUse.
    """
    if not state_path(folder).exists():
        return Standing()
    with opened_state(folder) as state:
        return standing_on_other_days(state, cases, plan_from_json)


def days_to_build(loaded: Loaded) -> tuple[date, ...]:
    """The days of a schedule that can be built, also those that are wholly cancelled after lists were printed.

    Those with cases alone where the state file cannot be read; the build itself will say so.
    """
    if loaded.site is None:
        return ()
    if state_path(loaded.folder).exists():
        with suppress(WrongUse), opened_state(loaded.folder) as state:
            listed = listed_starts(state, loaded.site.settings.site_clock.day(loaded.now))
            return planned_days(loaded.site, listed)
    return planned_days(loaded.site)


@contextmanager
def opened_state(folder: Path) -> Iterator[State]:
    """The state beside a folder; what it refuses becomes a wrong use with the same words."""
    try:
        with open_state(state_path(folder), patience=PATIENCE) as state:
            yield state
    except StateError as refused:
        raise WrongUse(str(refused)) from None


def _plan(state: State, loaded: Loaded, day: date | None) -> tuple[Plan, dict[str, int]]:
    """The newest plan of the day, and the revision of the list that counts for each case."""
    assert loaded.site is not None
    listed = listed_starts(state, loaded.site.settings.site_clock.day(loaded.now))
    wanted = choose_day(loaded.site, loaded.now, day, listed)
    revisions = {kept_as: held.revision for kept_as, held in lists_in_hand(state, wanted).items()}
    return built_day(state, loaded.folder, wanted), revisions


def _keep(
    state: State, loaded: Loaded, facts: Sequence[BuiltCart], told: tuple[tuple[Problem, ...], date | None, str]
) -> Told:
    problems, day, source = told
    assert loaded.site is not None
    plan, _ = _plan(state, loaded, day)
    kept, doubts = check_facts(facts, plan, loaded.site)
    refused = record_built(state, kept, loaded.now, source)
    return Told(kept=tuple(kept), problems=(*problems, *doubts, *refused))
