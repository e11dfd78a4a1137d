"""Checks of meaning: what no single cell shows. Those of cards look at a day, all others at an instant."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date, datetime

from picklist.checks.buildings import check_buildings, check_reach, check_ways_back
from picklist.checks.card_checks import check_live_cases, check_retired_things, check_standing_cards
from picklist.checks.catalogue_checks import (
    check_count_sheets,
    check_expiries,
    check_expiry_recorded,
    check_gtins,
    check_hibcs,
    check_latex_stated,
    check_latex_twins,
    check_sizes,
    check_trays_without_sets,
    check_weights,
)
from picklist.checks.cycles import check_cycle_minima, check_cycle_minutes
from picklist.checks.route_checks import find_dead_ends, find_hasty_routes, find_whole_days
from picklist.checks.schedule_checks import check_case_times, check_room_hours, check_rooms, check_surgeons
from picklist.checks.set_state_checks import find_state_problems
from picklist.checks.spelling import check_runs, check_set_sizes, check_spellings
from picklist.garbage import no_search_for_garbage
from picklist.model.site import Site
from picklist.problems import Problem, join_problems
from picklist.resolve import find_idle_lines

Check = Callable[[Site, datetime], Iterable[Problem]]
CardCheck = Callable[[Site, date], Iterable[Problem]]


SCHEDULE_CHECKS: tuple[Check, ...] = (check_rooms, check_surgeons, check_room_hours, check_case_times)
CARD_CHECKS: tuple[CardCheck, ...] = (check_live_cases, check_standing_cards, find_idle_lines, check_retired_things)
OTHER_CHECKS: tuple[Check, ...] = (
    check_gtins,
    check_hibcs,
    check_latex_stated,
    check_latex_twins,
    check_sizes,
    check_weights,
    check_count_sheets,
    check_trays_without_sets,
    check_cycle_minima,
    check_cycle_minutes,
    find_hasty_routes,
    find_whole_days,
    find_dead_ends,
    check_buildings,
    check_reach,
    check_ways_back,
    check_runs,
    check_spellings,
    check_set_sizes,
    find_state_problems,
    check_expiries,
    check_expiry_recorded,
)


@no_search_for_garbage()
def check_cards(site: Site, today: date) -> tuple[Problem, ...]:
    """What is wrong with the sense of the cards on a day: most of the work, and the same from hour to hour."""
    return tuple(problem for check in CARD_CHECKS for problem in check(site, today))


def check_site(site: Site, now: datetime, of_cards: Iterable[Problem] | None = None) -> tuple[Problem, ...]:
    """Every problem of meaning in a site at an instant, in the order of the checks, each fault once.

    ``of_cards`` is what ``check_cards`` found for the site's day of that instant, where that is known.
    """
    found = [problem for check in SCHEDULE_CHECKS for problem in check(site, now)]
    found += check_cards(site, site.settings.site_clock.day(now)) if of_cards is None else of_cards
    found += [problem for check in OTHER_CHECKS for problem in check(site, now)]
    return join_problems(found)


__all__ = ["CARD_CHECKS", "OTHER_CHECKS", "SCHEDULE_CHECKS", "CardCheck", "Check", "check_cards", "check_site"]
