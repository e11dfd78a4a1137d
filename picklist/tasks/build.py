"""Build a day: read, check, plan and write everything that the evening shift prints."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from picklist.documents.write import NotOurFolderError
from picklist.documents.write_plan import Written, write_plan
from picklist.model.plan import Plan
from picklist.model.site import Site
from picklist.plan import Order, make_plan
from picklist.problems import Problem, must_be_mended
from picklist.settings import Paper
from picklist.tasks.errors import WrongUse
from picklist.tasks.folder import choose_day, load_folder

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is asked of a build; ``day`` None is the first day with a case after ``now``."""

    folder: Path
    out: Path
    now: datetime
    day: date | None = None
    paper: str | None = None
    clock: int | None = None
    with_chance: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """What a build came to; plan and written are None when nothing could be planned."""

    problems: tuple[Problem, ...]
    plan: Plan | None = None
    written: Written | None = None

    @property
    def exit_code(self) -> int:
        """0 when there is nothing to mend, else 1."""
        return int(self.plan is None or must_be_mended(self.problems))


def build_day(wanted: Wanted, progress: Progress) -> Built:
    """Build the day's carts into ``wanted.out``, whole or not at all. Raises WrongUse."""
    progress("Reading the folder")
    loaded = load_folder(wanted.folder, wanted.now)
    if loaded.site is None:
        return Built(problems=loaded.problems)
    site = _as_printed(loaded.site, wanted)
    day = choose_day(site, loaded.now, wanted.day)
    order = Order(day=day, now=loaded.now, with_chance=wanted.with_chance)
    plan = make_plan(site, loaded.problems, order, progress)
    try:
        written = write_plan(plan, wanted.out, progress=lambda file, n, of: progress(f"Printing {n} of {of}: {file}"))
    except NotOurFolderError as foreign:
        raise WrongUse(str(foreign)) from None
    return Built(problems=plan.problems, plan=plan, written=written)


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
    return replace(site, settings=settings)
