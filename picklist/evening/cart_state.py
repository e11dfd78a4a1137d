"""How far a cart is, from what the crew reported."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from picklist.clock import SiteClock
from picklist.model.built import BuiltCart


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


def cart_state(facts: BuiltCart | None, clock: SiteClock | None = None, by: str = "") -> str:
    """How far a cart is, in words; trays it waits for with the time at which they are expected, given a clock."""
    signed = f" by {by}" if by else ""
    if facts is None:
        return "not started"
    if not facts.done:
        return f"started{signed}"
    waits = (f"{one.set_id} ({clock.stamp(one.expected)})" if clock else one.set_id for one in facts.to_come)
    return f"built{signed}, waits for {', '.join(waits)}" if facts.to_come else f"built{signed}"


def older_list(facts: BuiltCart | None, counts: int) -> str:
    """What is to be said of a cart that was built from a list which another one has replaced; empty of any other."""
    if facts is None or not facts.done or facts.revision >= counts:
        return ""
    return f"built from list {facts.revision}; the changes of list {counts} are not reported as made"
