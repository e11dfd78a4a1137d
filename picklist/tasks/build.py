"""Build a day: read, check, plan and write everything that the evening shift prints; or only plan it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import partial
from pathlib import Path

from picklist.documents.plan_json import plan_from_json
from picklist.documents.views.stamp import Printing
from picklist.documents.whole_folder import check_target, is_cut_short, recover
from picklist.documents.write_plan import Extent, PrintOrder, PrintResult
from picklist.evening.changes import PlanChange
from picklist.evening.crew_workbook import cart_workbook
from picklist.evening.keep_plans import listed_starts, site_mark, what_is_known
from picklist.evening.open_points import open_points
from picklist.evening.revise import Schedule, begin_revision, standing_on_other_days
from picklist.evening.usage import usage_workbook
from picklist.model.plan import Plan
from picklist.model.site import Site
from picklist.plan import PlanRequest, horizon_cases, make_plan
from picklist.problems import Problem, must_be_fixed
from picklist.settings import Paper
from picklist.store.state import StateFile, open_state, state_path
from picklist.store.state_errors import ToldMeanwhileError
from picklist.tables.files import keep_former
from picklist.tasks.beside_site import what_stands
from picklist.tasks.errors import WrongUse, refusals
from picklist.tasks.forms_in_place import CARTS_BOOK, USED_BOOK, FormsTaken, take_forms
from picklist.tasks.hand_out import Errand, Handed, HandOut
from picklist.tasks.progress import Report
from picklist.tasks.read_folder import Loaded, choose_day, load_folder, load_site

OWN_LOOK = "templates"  # a folder in the site's, with its own templates for the HTML lists
TRIES = 3  # plans made before the crew, who tell one cart after the other, are asked to wait
Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is asked of a build; ``day`` None is that of ``choose_day``.

    ``answers`` settle which case of the former schedule a case is (new number -> old, empty for none).
    """

    folder: Path
    out: Path
    now: datetime
    day: date | None = None
    paper: str | None = None
    clock: int | None = None
    with_chance: bool = True
    answers: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """What a build came to; plan and written are None when nothing could be planned.

    ``files`` are those of the folder as they were read, with their time and size.
    """

    problems: tuple[Problem, ...]
    plan: Plan | None = None
    change: PlanChange | None = None
    written: PrintResult | None = None
    files: tuple[tuple[str, int, int], ...] = ()

    @property
    def exit_code(self) -> int:
        """0 when there is nothing to fix, else 1."""
        return int(self.plan is None or must_be_fixed(self.problems))

    @property
    def new_lists(self) -> tuple[str, ...]:
        """The cases whose lists are new or changed, also by an earlier build that was never completed."""
        return self.change.lists_from(self.plan.first_new) if self.change and self.plan else ()

    @property
    def still_new(self) -> tuple[str, ...]:
        """Of those, the ones that such an earlier build handed out."""
        fresh = self.change.to_print() if self.change else ()
        return tuple(case for case in self.new_lists if case not in fresh)

    @property
    def unchanged_lists(self) -> tuple[str, ...]:
        """The cases whose lists stay as they were handed out with a plan that was completed."""
        every = self.change.lists_from(0) if self.change else ()
        return tuple(case for case in every if case not in self.new_lists)


def _nobody(_built: Built) -> None:
    """Nobody waits for the lists."""


def build_day(wanted: Wanted, progress: Progress, handed_out: Callable[[Built], None] = _nobody) -> Built:
    """Build the day's carts into ``wanted.out``, all of them or none, as the next revision of the day.

    ``handed_out`` is told what is built when the lists lie there and the search for remedies goes on, which is only
    where there are conflicts enough; what is given back in the end has the remedies.
    Raises WrongUse, also for a state file that cannot be used and an ``out`` that is someone else's or
    cannot be written.
    """
    progress("Reading the folder")
    loaded = load_folder(wanted.folder, wanted.now)
    if loaded.site is None:
        return Built(problems=loaded.problems)
    site = _as_printed(loaded.site, wanted)
    loaded = replace(loaded, site=site)
    with refusals(), open_state(state_path(wanted.folder)) as state:
        if is_cut_short(wanted.out):  # before what the crew filled in there, and printed lists, are looked for
            with state.writing():
                recover(wanted.out)
        check_target(wanted.out, owner=site_mark(state))
        listed = listed_starts(state, site.settings.site_clock.day(loaded.now))
        day = choose_day(site, loaded.now, wanted.day, listed)
        taken = take_forms(state, site, wanted.out, loaded.now)

        def tell(built: Built) -> None:
            handed_out(replace(built, files=loaded.files))

        built = _build_knowing_all(state, loaded, day, wanted, progress, tell)
        return replace(_with_forms(built, taken), files=loaded.files)


def plan_day(folder: Path | str, now: datetime | str, day: date | None = None, *, with_chance: bool = True) -> Plan:
    """The plan of ``day`` (by default the next with cases) as of ``now``, the site's wall time or an instant.

    What is on built carts and printed lists of a site is left where it is. Nothing is printed and no
    revision is kept; ``build_day`` does that. Raises WrongUse for a folder that cannot be planned from.
    """
    loaded, site = load_site(folder, now)
    stands = what_stands(loaded.folder, site, loaded.now)
    order = PlanRequest(
        day=choose_day(site, loaded.now, day),
        now=loaded.now,
        on_carts=stands,
        with_chance=with_chance,
    )
    return make_plan(site, loaded.problems, order)


def _with_forms(built: Built, taken: FormsTaken) -> Built:
    """A build that also says what it took in from filled forms."""
    written = built.written and replace(built.written, notices=(*taken.notices, *built.written.notices))
    return replace(built, written=written, problems=(*taken.problems, *built.problems))


def _build_knowing_all(
    state: StateFile, loaded: Loaded, day: date, wanted: Wanted, progress: Progress, handed_out: Callable[[Built], None]
) -> Built:
    """Build, and start again when the crew reported a cart before the lists were handed out."""
    for _ in range(TRIES - 1):
        with suppress(ToldMeanwhileError):
            return _build(state, loaded, day, wanted, progress, handed_out)
        progress("A cart was reported while planning; planning again")
    return _build(state, loaded, day, wanted, progress, handed_out)


def _build(
    state: StateFile, loaded: Loaded, day: date, wanted: Wanted, progress: Progress, handed_out: Callable[[Built], None]
) -> Built:
    assert loaded.site is not None
    site = loaded.site
    coming = Schedule.of(site, horizon_cases(site, loaded.now))
    start = begin_revision(state, day, coming, plan_from_json, wanted.answers)
    stands = standing_on_other_days(state, coming, site.settings.site_clock, loaded.now, day).and_of(start.standing)
    order = PlanRequest(
        day=day,
        now=loaded.now,
        revision=start.number,
        replaces=start.replaces,
        lists_from=start.old.lists_until_next if start.old else None,
        on_carts=stands,
        left_alone=start.match.unread,
        with_chance=wanted.with_chance,
    )
    report = Report(progress)
    errand = Errand(
        state=state,
        start=start,
        site=site,
        now=loaded.now,
        out=wanted.out,
        order=partial(_print_order, state, wanted),
        handed_out=lambda handed: handed_out(_built(handed)),
        report=report,
    )
    with HandOut(errand) as hand_out:

        def tell(doing: str, done: int = 0, of: int = 0) -> None:
            report(doing, done, of)
            hand_out.look()

        problems = (*loaded.problems, *start.match.problems)
        return _built(hand_out.complete(make_plan(site, problems, order, tell, hand_out.carts_known)))


def _built(handed: Handed) -> Built:
    """A build by what it handed out, with what it took in from forms that were filled in meanwhile."""
    built = Built(problems=handed.plan.problems, plan=handed.plan, change=handed.change, written=handed.written)
    return _with_forms(built, handed.taken)


def _print_order(state: StateFile, wanted: Wanted, plan: Plan, change: PlanChange, extent: Extent) -> PrintOrder:
    every = extent >= Extent.SHEETS  # only the sheets of the whole day say what is open
    return PrintOrder(
        printings=_printings(change),
        change=change,
        own_html=own if (own := wanted.folder / OWN_LOOK).is_dir() else None,
        extra=_forms(plan, change),
        keep=partial(_keep_aside, wanted.folder, plan),
        owner=site_mark(state),
        points=open_points(plan, what_is_known(state, plan.day), plan.now) if every else None,
        extent=extent,
    )


def _keep_aside(site_folder: Path, plan: Plan, file: str, path: Path) -> Path:
    """What somebody changed of the papers goes where former files of the site are kept."""
    stamp = plan.settings.site_clock.wall(plan.now)
    return keep_former(site_folder, file.replace("/", " "), path.read_bytes(), stamp)


def _forms(plan: Plan, change: PlanChange) -> dict[str, Callable[[], bytes]]:
    """The workbooks that come back filled in: tonight which carts are built, tomorrow what was used."""
    lists = {cart.case: cart.revision for cart in change.carts if cart.is_live}
    return {CARTS_BOOK: partial(cart_workbook, plan, lists), USED_BOOK: partial(usage_workbook, plan)}


def _printings(change: PlanChange) -> dict[str, Printing]:
    """Of each cart, the revision and time of the list that counts."""
    return {
        cart.case: Printing(revision=cart.revision, printed=cart.made, replaces=cart.replaces)
        for cart in change.carts
        if cart.is_live
    }


def _as_printed(site: Site, wanted: Wanted) -> Site:
    """The site with the paper and clock that were asked for. Raises WrongUse for others than exist."""
    settings = site.settings
    if wanted.paper is not None:
        sizes = {size.value.casefold(): size for size in Paper}
        if wanted.paper.casefold() not in sizes:
            raise WrongUse(f"--paper {wanted.paper} is not one of {', '.join(s.value for s in Paper)}")
        settings = replace(settings, paper=sizes[wanted.paper.casefold()])
    if wanted.clock is not None:
        if wanted.clock not in (12, 24):
            raise WrongUse(f"--clock {wanted.clock} is neither 12 nor 24")
        settings = replace(settings, clock=wanted.clock)
    return site.with_settings(settings)
