"""How far a cart is, from what the crew reported."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from picklist.clock import SiteClock
from picklist.model.built import BuiltCart
from picklist.wording.say_carts import cart_state, older_list


@dataclass(frozen=True, slots=True, kw_only=True)
class CartReport:
    """What is known of a cart: in words, and whether it is built from the list that counts and waits for nothing."""

    state: str
    finished: bool


NO_REPORTS: Mapping[str, CartReport] = {}


def reports_on(built: Mapping[str, BuiltCart], revisions: Mapping[str, int], clock: SiteClock) -> dict[str, CartReport]:
    """The carts of which something was reported, by case; ``revisions`` are those of the lists that count."""
    return {
        case: CartReport(
            state="; ".join(filter(None, (cart_state(facts, clock), older_list(facts, revisions.get(case, 0))))),
            finished=is_finished(facts, revisions.get(case, facts.revision)),
        )
        for case, facts in built.items()
    }


def is_finished(facts: BuiltCart | None, counts: int) -> bool:
    """Whether a cart is built from the list that counts, and waits for nothing."""
    return facts is not None and facts.done and facts.revision >= counts and not facts.to_come
