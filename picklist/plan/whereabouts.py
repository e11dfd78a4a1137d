"""Where a set is at the time of planning, in the few words that stand on the list.

Since when, and until when, is said where its way to the case is told.
"""

from __future__ import annotations

from picklist.model.sets import InstrumentSet, SetState

NO_PLACE = "place not recorded"


def place_in_words(physical: InstrumentSet) -> str:
    """The recorded whereabouts of a set: its place, its step, or the case that uses it."""
    match physical.state:
        case SetState.ON_SHELF:
            return physical.place or NO_PLACE
        case SetState.AT_STEP:
            return f"at {physical.step}"
        case SetState.IN_USE:
            return f"in use, case {physical.in_case}" if physical.in_case else "in use"
        case SetState.AWAY | SetState.ON_LOAN:
            return physical.state.value
        case _:
            return physical.state.value + (f", {physical.place}" if physical.place else "")
