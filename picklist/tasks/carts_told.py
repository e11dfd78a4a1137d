"""What is known of a day's carts: what the crew told, and which list counts for each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from picklist.clock import SiteClock
from picklist.evening.cart_state import CartReport, reports_on
from picklist.evening.keep_facts import PutBack, built_carts, open_put_backs
from picklist.evening.keep_plans import lists_in_hand, standing_questions
from picklist.evening.questions import MatchQuestion
from picklist.model.built import BuiltCart
from picklist.store.state import state_path
from picklist.tasks.crew import opened_state


@dataclass(frozen=True, slots=True, kw_only=True)
class CartsTold:
    """By case number: the last report on its cart and the revision of its list.

    And what is still to be put back, and the questions about renumbered cases that nobody answered.
    """

    built: Mapping[str, BuiltCart]
    revisions: Mapping[str, int]
    put_backs: tuple[PutBack, ...]
    questions: tuple[MatchQuestion, ...] = ()

    def reports(self, clock: SiteClock) -> dict[str, CartReport]:
        """How far each cart is of which something was reported, in the words of all papers."""
        return reports_on(self.built, self.revisions, clock)


def carts_told(folder: Path, day: date) -> CartsTold:
    """Read from the state beside the folder; nothing is known before the first build. Raises WrongUse."""
    if not state_path(folder).exists():
        return CartsTold(built={}, revisions={}, put_backs=())
    with opened_state(folder) as state:
        held = lists_in_hand(state, day)
        return CartsTold(
            built=built_carts(state, day),
            revisions={case: one.revision for case, one in held.items()},
            put_backs=open_put_backs(state, day),
            questions=standing_questions(state, day),
        )
