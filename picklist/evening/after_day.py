"""What the operations did to stock and sets, as changes to the rows of the site's tables."""

from __future__ import annotations

from datetime import datetime, timedelta

from picklist.evening.after_lots import lot_changes
from picklist.evening.after_sets import set_changes
from picklist.evening.content import Content, as_built, true_facts
from picklist.evening.counted import CountedBefore
from picklist.evening.table_changes import DayChanges, DayFacts, RowChange
from picklist.model.cards import ThingKind
from picklist.model.plan import Plan
from picklist.model.site import Site


def after_day(site: Site, plan: Plan, facts: DayFacts, counted: CountedBefore, now: datetime) -> DayChanges:
    """The rows of Lots and Sets as they shall be after the day's operations.

    A lot loses what stood on built carts and did not come back unopened; a count that the crew
    made takes the place of the table's number for what was there before. A set that was opened
    is dirty since it reached decontamination; one that came back unopened is on the shelf.
    What was ``counted`` before is not counted again, only what a late or corrected form adds to
    it. Carts whose usage nobody told change nothing and are named. The table must not have been
    counted anew since the carts were built.
    """
    carts = _carts(facts)
    told = {line.case for line in facts.usage}
    ends = {case.number: case.start + timedelta(minutes=case.minutes) for case in plan.cases}
    lots, problems = lot_changes(
        site, {case: content for case, content in carts.items() if case in told}, facts, counted, ends
    )
    sets, more = set_changes(site, plan, facts.usage, counted, now)
    return DayChanges(
        rows=(*lots, *sets),
        untold=tuple(sorted(carts.keys() - told)),
        unbuilt=tuple(sorted({u.case for u in facts.usage if u.kind is not ThingKind.TRAY} - carts.keys())),
        counted_before=_counted_before(told, counted, (*lots, *sets)),
        problems=(*problems, *more),
    )


def _carts(facts: DayFacts) -> dict[str, Content]:
    """What stood on each built cart."""
    return {
        case: as_built(facts.in_hand[case].content, true_facts(one, facts.in_hand[case].revision))
        for case, one in sorted(facts.built.items())
        if one.done and case in facts.in_hand
    }


def _counted_before(told: set[str], counted: CountedBefore, rows: tuple[RowChange, ...]) -> tuple[str, ...]:
    """Told cases of which something was counted before and nothing is new."""
    known = {one.cart for one in counted.items} | {one.cart for one in counted.sets}
    new = {one.cart for row in rows for one in row.counts.items} | {one.cart for row in rows for one in row.counts.sets}
    return tuple(sorted(case for case in told if counted.cart(case) in known - new))
