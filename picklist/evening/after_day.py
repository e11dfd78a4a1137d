"""What the operations did to stock and sets, as changes to the rows of the site's tables."""

from __future__ import annotations

from datetime import datetime

from picklist.evening.after_lots import lot_changes
from picklist.evening.after_sets import set_changes
from picklist.evening.content import Content, as_built, true_facts
from picklist.evening.table_changes import DayChanges, DayFacts
from picklist.model.plan import Plan
from picklist.model.site import Site


def after_day(site: Site, plan: Plan, facts: DayFacts, now: datetime) -> DayChanges:
    """The new rows of Lots and Sets after the day's operations.

    A lot loses what stood on built carts and did not come back unopened; a count that the crew
    made takes the place of the table's number for what was there before. A set that was opened
    is dirty since it reached decontamination; one that came back unopened is on the shelf.
    Carts whose usage nobody told change nothing and are named. The table must not have been
    counted anew since the carts were built.
    """
    carts = _carts(facts)
    told = {line.case for line in facts.usage}
    lots, problems = lot_changes(site, {case: c for case, c in carts.items() if case in told}, facts)
    sets, more = set_changes(site, plan, facts.usage, now)
    return DayChanges(
        lots=lots,
        sets=sets,
        untold=tuple(sorted(case for case in carts if case not in told)),
        problems=(*problems, *more),
    )


def _carts(facts: DayFacts) -> dict[str, Content]:
    """What stood on each built cart."""
    return {
        case: as_built(facts.in_hand[case].content, true_facts(one, facts.in_hand[case].revision))
        for case, one in sorted(facts.built.items())
        if one.done and case in facts.in_hand
    }
