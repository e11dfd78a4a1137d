"""What the state knows of a day beside its plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from picklist.clock import SiteClock
from picklist.evening.cart_state import CartReport, reports_on
from picklist.evening.keep_decisions import Decision, decisions
from picklist.evening.keep_facts import PutBack, built_carts, open_put_backs
from picklist.evening.keep_plans import lists_in_hand, standing_questions
from picklist.evening.questions import MatchQuestion
from picklist.model.built import BuiltCart
from picklist.store.state import StateFile


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known beside the plan: facts by case number, the list that counts for each case, decisions.

    ``decided`` holds the last word on each conflict and shortage, by its key; ``questions`` are those about
    renumbered cases that nobody answered, ``put_backs`` what is still to be put back.
    """

    built: Mapping[str, BuiltCart]
    revisions: Mapping[str, int]
    decided: Mapping[str, Decision]
    questions: Sequence[MatchQuestion] = ()
    put_backs: Sequence[PutBack] = ()

    def reports(self, clock: SiteClock) -> dict[str, CartReport]:
        """How far each cart is of which something was reported, in the words of all papers."""
        return reports_on(self.built, self.revisions, clock)


NOTHING_KNOWN = Known(built={}, revisions={}, decided={})


def what_is_known(state: StateFile, day: date) -> Known:
    """What the state knows of a day beside its plan."""
    return Known(
        built=built_carts(state, day),
        revisions={key: held.revision for key, held in lists_in_hand(state, day).items()},
        decided=decisions(state, day),
        questions=standing_questions(state, day),
        put_backs=open_put_backs(state, day),
    )
