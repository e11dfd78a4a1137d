"""An evening of the sample hospital, or of three of its rooms: three plans, carts built in between, on one state."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from picklist.clock import SiteClock
from picklist.documents.plan_json import plan_from_json, plan_to_json
from picklist.evening.changes import CartChangeKind, PlanChange
from picklist.evening.check_facts import check_facts
from picklist.evening.content import ContentChange, cart_content
from picklist.evening.crew_workbook import cart_workbook, read_cart_workbook
from picklist.evening.keep_facts import record_built
from picklist.evening.keep_plans import what_is_known
from picklist.evening.open_points import open_points
from picklist.evening.revise import Schedule, begin_revision, finish_revision, what_changes
from picklist.inputs import read_site
from picklist.model.built import BuiltCart
from picklist.model.plan import Plan
from picklist.model.schedule import Case, CaseStatus
from picklist.model.site import Site
from picklist.plan import PlanRequest, make_plan
from picklist.store.state import StateFile, open_state
from tests.evening.builders import apply_change
from tests.evening.test_crew_workbook import put
from tests.patience import THOROUGH
from tests.small_hospital import HOSPITAL, small_hospital

DAY = date(2026, 11, 26)


@cache
def sample() -> Site:
    """All rooms in a thorough run."""
    with TemporaryDirectory() as place:
        site, problems = read_site(HOSPITAL if THOROUGH else small_hospital(Path(place) / "hospital"))
    assert site is not None
    assert not [p for p in problems if p.cases]
    return site


def evening(hours: str) -> datetime:
    clock: SiteClock = sample().settings.site_clock
    return clock.instant(DAY - timedelta(days=1), datetime.strptime(hours, "%H:%M").time())  # noqa: DTZ007


def changed(change: Callable[[Case], Case | None], *more: Case) -> Site:
    cases = [made for case in sample().cases if (made := change(case)) is not None]
    return replace(sample(), cases=(*cases, *more))


def build(state: StateFile, site: Site, now: datetime) -> tuple[Plan, PlanChange]:
    cases = [c for c in site.cases if c.day == DAY and c.status is not CaseStatus.CANCELLED]
    start = begin_revision(state, DAY, Schedule.of(site, cases), plan_from_json)
    order = PlanRequest(
        day=DAY, now=now, revision=start.number, replaces=start.replaces, on_carts=start.standing,
        with_chance=False, with_remedies=False,
    )  # fmt: skip
    plan = make_plan(site, (), order)
    change = what_changes(start, plan)
    finish_revision(state, plan, plan_to_json(plan), change)
    return plan, change


def test_that_an_evening_of_the_sample_hospital_adds_up(tmp_path: Path) -> None:
    with open_state(tmp_path / "hospital.picklist.sqlite") as state:
        first, change = build(state, sample(), evening("18:40"))
        assert len(change.to_print()) == len([c for c in first.carts if not c.stopped]) > (30 if THOROUGH else 10)

        again, change = build(state, sample(), evening("18:50"))
        assert [
            (c.case, c.details, c.add, c.take_off) for c in change.carts if c.kind is not CartChangeKind.UNCHANGED
        ] == []
        assert change.to_print() == ()

        done = again.carts[0]
        (tmp_path / "carts.xlsx").write_bytes(cart_workbook(again))
        tell_done(tmp_path / "carts.xlsx", done.case.number)
        facts, problems = read_cart_workbook(tmp_path / "carts.xlsx", sample().settings.site_clock, evening("20:00"))
        facts, more = check_facts(facts, again, sample())
        assert (problems, more) == ((), ())
        assert [one.case for one in facts] == [done.case.number]
        record_built(state, facts, evening("20:00"), "workbook")

        gone = again.carts[5].case.number
        second, change = build(state, changed(lambda c: None if c.number == gone else c), evening("20:15"))
        assert_adds_up(again, second, change)
        kinds = {c.case: c.kind for c in change.carts}
        assert kinds[gone] is CartChangeKind.CANCELLED
        assert kinds[done.case.number] is CartChangeKind.UNCHANGED
        assert len(change.to_print()) < len(second.carts) / 2

        points = open_points(second, what_is_known(state, DAY), evening("23:00"))
        assert done.case.number not in {c.case for c in points.carts}
        assert len(points.carts) == len([c for c in second.carts if not c.stopped]) - 1
        assert points.put_backs == ()  # nobody began the cart of the case that is gone
        fact = BuiltCart(day=DAY, case=gone, revision=1, at=evening("19:50"), done=True)
        record_built(state, [fact], evening("23:10"), "workbook")
        points = open_points(second, what_is_known(state, DAY), evening("23:10"))
        assert {p.case for p in points.put_backs} == {gone}


def tell_done(path: Path, case: str) -> None:
    from openpyxl import load_workbook

    book = load_workbook(path)
    put(book, "Carts", case, "done", "yes")
    put(book, "Carts", case, "by", "mk")
    book.save(path)


def assert_adds_up(old: Plan, new: Plan, change: PlanChange) -> None:
    """Carrying out the change turns each old cart into the new one; nothing is lost between carts."""
    before = {c.case.number: cart_content(c, {}) for c in old.carts}
    after = {c.case.number: cart_content(c, {}) for c in new.carts}
    for cart in change.carts:
        work = ContentChange(add=cart.add, take_off=cart.take_off, remark=cart.remarks)
        assert apply_change(before.get(cart.old_case, Counter()), work) == after.get(cart.case, Counter())
    given = sum(line.quantity for cart in change.carts for line in cart.take_off if line.cart)
    assert given == sum(line.quantity for cart in change.carts for line in cart.add if line.cart)
