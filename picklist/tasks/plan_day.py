"""Plan a day as the next build would, with nothing written."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

from picklist.model.plan import Plan
from picklist.plan import PlanRequest, horizon_cases, make_plan
from picklist.tasks.crew import what_stands
from picklist.tasks.read_folder import choose_day, load_site


def plan_day(folder: Path, now: datetime, day: date | None = None, *, with_chance: bool = True) -> Plan:
    """The plan of ``day`` (by default the next with cases) as of ``now``, the site's wall time or an instant.

    What stands on built carts and printed lists of a site is left where it is. Nothing is printed and no
    revision is kept; ``build_day`` does that. Raises WrongUse for a folder that cannot be planned from.
    """
    loaded, site = load_site(folder, now)
    stands = what_stands(loaded.folder, site, horizon_cases(site, loaded.now))
    order = PlanRequest(
        day=choose_day(site, loaded.now, day),
        now=loaded.now,
        fixed=stands.fixed,
        standing=stands.picks,
        counted=stands.counted,
        printed=stands.printed,
        printed_picks=stands.printed_picks,
        with_chance=with_chance,
    )
    return make_plan(site, loaded.problems, order)
