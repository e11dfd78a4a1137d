"""Read a site's folder whole: the model and every problem in it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from picklist.checks import check_site
from picklist.inputs import read_site
from picklist.model.schedule import Case, CaseStatus
from picklist.model.site import Site
from picklist.problems import Problem, must_be_mended
from picklist.tasks.errors import WrongUse

NOON = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """A site as read at ``now``; ``site`` is None when nothing can be planned from the folder."""

    folder: Path
    now: datetime
    site: Site | None
    problems: tuple[Problem, ...]

    @property
    def exit_code(self) -> int:
        """0 when there is nothing to mend, else 1."""
        return int(self.site is None or must_be_mended(self.problems))


def load_folder(folder: Path, now: datetime) -> Loaded:
    """Read and check a folder. ``now`` naive is the site's wall time, aware an instant.

    Raises WrongUse when there is no such folder.
    """
    if not folder.is_dir():
        raise WrongUse(f"there is no folder {folder}")
    site, problems = read_site(folder)
    if site is None:
        return Loaded(folder=folder, now=to_instant(now, "UTC"), site=None, problems=problems)
    instant = to_instant(now, site.settings.time_zone)
    return Loaded(folder=folder, now=instant, site=site, problems=problems + check_site(site, instant))


def load_site(folder: Path, now: datetime) -> tuple[Loaded, Site]:
    """A folder that can be planned from, with its site. Raises WrongUse for one that cannot."""
    loaded = load_folder(folder, now)
    if loaded.site is None:
        raise WrongUse(f"{folder} cannot be read as it is; picklist check {folder} says why")
    return loaded, loaded.site


def to_instant(now: datetime, time_zone: str) -> datetime:
    """``now`` in UTC; naive, it is the wall time of the zone."""
    local = now if now.tzinfo else now.replace(tzinfo=ZoneInfo(time_zone))
    return local.astimezone(UTC)


def choose_day(site: Site, now: datetime, asked: date | None) -> date:
    """The day to build carts for: the one asked for, else the next with a live case.

    That is today for a shift that works past midnight: before noon, while most of today's cases
    are still to begin. Else it is the first later day with a case, or today where there is none.

    Raises WrongUse, naming the days that the schedule has, when there is none.
    """
    live = _live_cases(site)
    days = planned_days(site)
    listed = ", ".join(day.isoformat() for day in days) or "none"
    if asked is not None:
        if asked not in days:
            raise WrongUse(f"no case is planned on {asked}; the schedule has {listed}")
        return asked
    today = site.settings.site_clock.day(now)
    ahead = [c.day for c in live if c.start > now]
    todays = ahead.count(today)
    if site.settings.site_clock.wall(now).hour < NOON and 2 * todays > sum(c.day == today for c in live):
        return today
    coming = [day for day in ahead if day > today] or ahead
    if not coming:
        raise WrongUse(f"no case starts after {site.settings.site_clock.stamp(now)}; the schedule has {listed}")
    return min(coming)


def planned_days(site: Site) -> tuple[date, ...]:
    """The days of the schedule that have a live case, in order."""
    return tuple(sorted({case.day for case in _live_cases(site)}))


def _live_cases(site: Site) -> list[Case]:
    return [case for case in site.cases if case.status in (CaseStatus.PLANNED, CaseStatus.RUNNING)]
