"""Where a set is, in words that leave no doubt on a list for another day."""

from __future__ import annotations

import pytest

from picklist.model.sets import InstrumentSet, SetState
from picklist.wording.set_states import place_now
from tests.builders import at


@pytest.mark.parametrize(
    ("recorded", "words"),
    [
        ({"place": "T-2-04"}, "T-2-04"),
        ({}, "place not recorded"),
        ({"state": SetState.DIRTY, "place": "sink room"}, "dirty, sink room"),
        # An hour without its day would be read as one of the day of the list.
        ({"state": SetState.AT_STEP, "step": "wash", "step_since": at("17:30", -1)}, "at wash"),
        ({"state": SetState.IN_USE, "in_case": "C-7"}, "in use, case C-7"),
        ({"state": SetState.AWAY, "back_at": at("10:00")}, "away"),
        ({"state": SetState.ON_LOAN, "back_at": at("06:50")}, "on loan"),
        ({"state": SetState.INCOMPLETE, "place": "T-1"}, "incomplete, T-1"),
    ],
)
def test_the_place_of_a_set(recorded: dict[str, object], words: str) -> None:
    one = InstrumentSet(id="W-1", tray="wrist", **recorded)  # type: ignore[arg-type]
    assert place_now(one) == words
