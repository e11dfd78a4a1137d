"""What the sheets leave open about a tray on a list, in sentences that stand beside it."""

from __future__ import annotations

from collections.abc import Iterator

from picklist.model.catalogue import Tray
from picklist.model.schedule import Case
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site


def left_open(site: Site, case: Case, tray: Tray, given: InstrumentSet | None) -> tuple[str, ...]:
    """What is not stated about a case's tray, and of one without a set, about the sets that could not be given."""
    return tuple(_sentences(site, case, tray, given))


def _sentences(site: Site, case: Case, tray: Tray, given: InstrumentSet | None) -> Iterator[str]:
    route = site.routes.get(tray.route)
    if tray.implants is None and site.settings.implants_wait and route is not None and route.waits_for_implants:
        yield "not stated whether it holds implants: counted with the steps that are only for implants"
    if tray.sided is None and case.sided_as is not None:
        yield "not stated whether its sets are left or right: check the side"
    if given is not None:
        return
    sets = [one for one in site.sets.values() if one.tray == tray.id]
    unknown = [one.id for one in sets if one.state is SetState.UNKNOWN]
    if unknown:
        yield f"state not recorded, so look for: {', '.join(unknown)}"
    no_side = [one.id for one in sets if tray.sided and one.side is None and one.state is not SetState.UNKNOWN]
    if no_side:
        yield f"left or right not recorded, so look at: {', '.join(no_side)}"
