"""Where a set is at the time of planning, in the words that stand on the list."""

from __future__ import annotations

from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site


def place_in_words(physical: InstrumentSet, site: Site) -> str:
    """The recorded whereabouts of a set: its place, its step, or the case that uses it."""
    clock = site.settings.site_clock
    place = f", {physical.place}" if physical.place else ""
    match physical.state:
        case SetState.ON_SHELF:
            return physical.place or "on shelf"
        case SetState.DIRTY:
            return f"dirty{place}"
        case SetState.AT_STEP:
            since = f" since {clock.hhmm(physical.step_since)}" if physical.step_since else ""
            return f"at {physical.step}{since}"
        case SetState.IN_USE:
            return f"in use, case {physical.in_case}" if physical.in_case else "in use"
        case SetState.AWAY | SetState.ON_LOAN:
            back = f" until {clock.stamp(physical.back_at)}" if physical.back_at else ""
            return f"{physical.state.value}{back}"
        case _:
            return f"{physical.state.value}{place}"
