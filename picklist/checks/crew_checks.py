"""Check the tables against what the crew found, and what a plan takes from built carts of other days."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import date

from picklist.model.built import CountFound
from picklist.model.sets import SetState
from picklist.model.site import Site
from picklist.model.supply import Pick
from picklist.model.uses import Assignment
from picklist.problems import Problem, notice


def find_missed_sets(site: Site, missed: Mapping[str, str], on_carts: Collection[str]) -> Iterator[Problem]:
    """A notice for each set that was reported missing (``missed``: for which case) and is on its shelf by its row.

    One that is ``on_carts`` as others reported is found.
    """
    for set_id, case in sorted(missed.items()):
        one = site.sets.get(set_id)
        if one is not None and one.state is SetState.ON_SHELF and set_id not in on_carts:
            message = (
                f"set {one.id} was reported missing from the cart of case {case}, and its row says that it is on the "
                "shelf; it is planned as if it were there"
            )
            expected = "where it is now: correct its row, or the cart's report once it is found"
            yield notice("set not found", one.where.at("state"), message, expected=expected, cases=(case,))


def find_miscounts(site: Site, counts: Iterable[CountFound], picks: Iterable[Pick]) -> Iterator[Problem]:
    """A notice for each lot of which the crew counted more than its row says, or less than carts (``picks``) leave."""
    gone: Counter[tuple[str, str]] = Counter()
    for pick in picks:
        gone[pick.item, pick.lot.casefold()] += pick.open + pick.hold
    for count in counts:
        fit = [one for one in site.lots if one.item == count.item and count.lot in ("", one.lot)]
        fit = [one for one in fit if count.place in ("", one.place)]
        lot = fit[0] if len(fit) == 1 else None
        if lot is None or lot.quantity - gone[lot.item, lot.lot.casefold()] <= count.quantity <= lot.quantity:
            continue
        message = (
            f"the crew counted {count.quantity} of {lot.item} lot {lot.lot}, and its row says {lot.quantity}, by which "
            "lists are made"
        )
        expected = "how many there are, unless some came since; settling the day writes what was counted"
        yield notice("counted otherwise", lot.where.at("quantity"), message, expected=expected)


def find_lent_sets(
    site: Site, day: date, fixed: Mapping[str, str], assignments: Iterable[Assignment]
) -> Iterator[Problem]:
    """A notice for each set on a built cart of another day (``fixed``: use key -> set) that a case of ``day`` gets."""
    cases, clock = {case.number: case for case in site.cases}, site.settings.site_clock
    takers: dict[str, str] = {}
    for one in sorted(assignments, key=lambda each: (each.use.needed, each.use.key)):
        case, set_id = cases[one.use.case], fixed.get(one.use.key, "")
        if case.day == day:
            takers.setdefault(one.set_id, case.number)
        elif set_id and set_id in takers and not case.is_running:
            on, taker = clock.day_text(case.day), takers[set_id]
            message = f"set {set_id} is on the built cart of case {case.number} ({on}), and case {taker} gets it before"
            expected = f"it is taken off that cart: build {on} again, which prints what changes there"
            yield notice("set leaves a built cart", site.sets[set_id].where, message, expected=expected, cases=(taker,))
