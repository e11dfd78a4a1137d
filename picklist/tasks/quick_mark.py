"""A cart marked built by the end of its number, as it is typed by hand, and the mark undone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from picklist.evening.keep_facts import built_carts, withdraw_report
from picklist.evening.keep_plans import latest_revision
from picklist.model.built import BuiltCart
from picklist.model.plan import Cart, Plan
from picklist.problems import Problem
from picklist.tasks.cart_form import empty_report, report_mark
from picklist.tasks.cart_reports import carts_told
from picklist.tasks.crew import tell_by_form
from picklist.tasks.errors import WrongUse, opened_state
from picklist.wording import counted, listed

SHOWN = 3  # carts that a refusal names
LEAST = 2  # characters of an end: one alone is easily hit by mistake


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked:
    """The cart that was marked built, and what to look at in its report."""

    cart: Cart
    by: str
    problems: tuple[Problem, ...]


def shortest_endings(plan: Plan) -> dict[str, str]:
    """For each case number the shortest end that no other cart's number has; the whole number where there is none."""
    numbers = [cart.case.number for cart in plan.carts]
    spelled = [one.casefold() for one in numbers]

    def end(number: str) -> str:
        said = number.casefold()
        ends = (said[-length:] for length in range(LEAST, len(said) + 1))
        found = next((len(e) for e in ends if sum(other.endswith(e) for other in spelled) == 1), len(number))
        return number[-found:]

    return {number: end(number) for number in numbers}


def mark_built(folder: Path, plan: Plan, typed: str, by: str, now: datetime) -> Marked:
    """Record that the one cart whose number ends as typed was built as its list says. Raises WrongUse."""
    if not by:
        raise WrongUse("enter your initials first")
    cart = _cart(plan, typed)
    number = cart.case.number
    told = carts_told(folder, plan.day)
    facts = told.built.get(number)
    counts = told.revisions.get(number, plan.revision)
    if cart.stopped:
        raise WrongUse(f"the list of cart {number} is on hold: do not build it")
    if facts and facts.revision < counts:
        raise WrongUse(
            f"cart {number} was reported from list {facts.revision}, and list {counts} has replaced it; "
            "open the cart and report whether its changes are made"
        )
    if facts and facts.done:
        signed = f", by {facts.by}" if facts.by else ""
        raise WrongUse(f"cart {number} is built already{signed}; to change its report, open the cart")
    names = dict.fromkeys(part for part in (*(facts.by.split(", ") if facts else ()), by) if part)
    report = replace(facts or empty_report(plan, number, counts), done=True, by=", ".join(names))
    result = tell_by_form(folder, number, report, report_mark(facts), now)
    if not result.kept:
        raise WrongUse("; ".join(problem.sentence() for problem in result.problems))
    return Marked(cart=cart, by=report.by, problems=result.problems)


def undo_mark(folder: Path, day: date, case: str, over: str, revision: str) -> None:
    """Withdraw a mark, so that the cart is as it was reported before.

    ``over`` is the mark of the report (see ``report_mark``), ``revision`` that of the plan it was made on, as the
    form carries it.
    Raises WrongUse when the cart was reported again, or lists were built with the report in them.
    """
    with opened_state(folder) as state:
        if str(latest_revision(state, day)) != revision:
            raise WrongUse(f"lists were built since cart {case} was marked; open the cart and report what it is")
        report: BuiltCart | None = built_carts(state, day).get(case)
        if report is None or report_mark(report) != over or not withdraw_report(state, report):
            raise WrongUse(f"cart {case} was reported again since; open the cart and report what it is")


def _cart(plan: Plan, typed: str) -> Cart:
    """The cart whose number is, or alone ends as, typed. Raises WrongUse."""
    said = typed.casefold()
    if not said:
        raise WrongUse("enter the end of the cart's number, as the table shows it")
    exact = [cart for cart in plan.carts if cart.case.number.casefold() == said]
    if exact:
        return exact[0]
    if len(said) < LEAST:
        raise WrongUse(f"type at least {LEAST} characters of the cart's number")
    found = [cart for cart in plan.carts if cart.case.number.casefold().endswith(said)]
    if len(found) == 1:
        return found[0]
    if not found:
        raise WrongUse("No cart's number ends like that")
    some = [cart.case.number for cart in found[:SHOWN]]
    some += [f"{len(found) - SHOWN} more"] if len(found) > SHOWN else []
    raise WrongUse(f"{counted(len(found), 'number')} end like that ({listed(some)}); type one more character")
