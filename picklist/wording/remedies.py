"""What the remedies of a conflict say."""

from __future__ import annotations

from picklist.wording.quantities import counted, span


def direct_words(*, set_id: str, case: str, room: str, ready: str, spare: int, collected: str = "") -> str:
    """A set goes straight to the room when it is ready, so many minutes before wheels-in.

    ``collected``: the case in whose room it is then collected at once.
    """
    first = f"Collect {set_id} as soon as case {collected} ends and take it" if collected else f"Take {set_id}"
    before = f"{span(spare)} before wheels-in" if spare else "at wheels-in"
    return f"{first} straight to {room} for case {case}, not onto its cart: there {ready}, {before}"


def late_words(*, set_id: str, tray: str, case: str, start: str, ready: str, without: int) -> str:
    """A case starts without a tray and gets it later."""
    return (
        f"Accept the gap: case {case} starts at {start} without {tray} and gets {set_id} {ready}, "
        f"{span(without)} after wheels-in"
    )


def reserve_gap_words(*, tray: str, begins: str, ends: str, left: int, keep: int) -> str:
    """Fewer sets stand ready than are to be kept, from and until."""
    until = f"until {ends}" if ends else "for as long as the schedule says"
    there = f"{counted(left, 'set')} of {tray} {'is' if left == 1 else 'are'}" if left else f"no set of {tray} is"
    return f"Accept the gap: from {begins} {until} {there} ready for an emergency; {keep} should be kept"


def complete_words(*, set_id: str, tray: str, state: str, missing: str, case: str, by: str) -> str:
    """A set that is recorded as incomplete, away or unknown is made ready for a case."""
    act = {"incomplete": "Complete", "unknown": "Find"}.get(state, "Get back")
    what = f" (missing: {missing})" if missing and state == "incomplete" else ""
    return f"{act} {set_id} ({tray}), recorded as {state}{what}: ready for case {case} by {by}"
