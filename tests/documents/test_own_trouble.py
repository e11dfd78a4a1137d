"""A list and the evening sheet mark a cart only where that cart lacks or risks something: the sample's day, changed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.stamp import printing_of
from picklist.documents.views.tray_rows import Strip, TrayRow
from picklist.model.conflicts import ConflictKind
from picklist.model.plan import Cart
from picklist.model.routes import StepOnlyFor
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.uses import Pace
from tests.documents.test_one_ready_time import NOW, SEEDS, seeded_day, seeded_site
from tests.sets.random_sites import Evening
from tests.sets.recount import CLEAN, RUSH, UNOPENED, Ledger, lines_of, under_floor
from tests.sets.walker import NEVER

KINDS = {kind.value.upper() for kind in ConflictKind}


def rows(seed: int, cart: Cart) -> tuple[TrayRow, ...]:
    plan = seeded_day(seed)
    return PickListView(Lookup(plan), cart, printing_of(plan)).trays


def strips(row: TrayRow, word: str) -> list[Strip]:
    return [strip for strip in row.strips if strip.word == word]


class SampleLedger(Ledger):
    """The sample's uses recounted with the minute-by-minute walker: routes by implants, and sets at a step."""

    def home(self, one: InstrumentSet) -> str:
        place = self.site.places.get(one.place)
        return place.building if place else ""

    def _walked(self, one: InstrumentSet, since: int, pace: Pace) -> int:
        if since >= NEVER:
            return NEVER
        tray = self.site.trays[one.tray]
        every = self.site.routes[tray.route].steps
        out = {one.name for one in every if one.only_for is StepOnlyFor.IMPLANTS and tray.implants is False}
        steps = tuple(
            replace(one, after=tuple(name for name in one.after if name not in out))
            for one in every
            if one.name not in out
        )
        if one.state is SetState.AT_STEP and since == self.walker.minute(self.now):
            began = self.walker.minute(one.step_since) if one.step_since else since
            return self.walker.ready_from_step(steps, one.step, began, since)
        key = (f"{tray.route} {sorted(out)}", pace)
        if key not in self._routes:
            self._routes[key] = self.walker.ready_lines(steps, pace)
        return int(self._routes[key][since])


def trouble_of_each_line(seed: int) -> dict[tuple[str, str, int], set[str]]:
    """By case, tray and copy what the line lacks or risks, counted from who has which set and from the sheets alone.

    When the department's own run is done with a set is taken from the plan.
    """
    plan, (site, _) = seeded_day(seed), seeded_site(seed)
    uses = tuple(one.use for one in plan.assignments)
    ledger = SampleLedger(Evening(site=site, uses=uses, now=NOW))
    served = {one.use.key: one.set_id for one in plan.assignments if one.set_id}
    runs = {(run.set_id, run.for_case): run for run in plan.department.runs} if plan.department else {}
    found: dict[tuple[str, str, int], set[str]] = {
        (use.case, use.tray, use.copy): set() if use.key in served else {"short"} for use in uses
    }
    for line in lines_of(ledger, served).values():
        for place, use in enumerate(line):
            one, need, mine = site.sets[served[use.key]], ledger.need(use), found[use.case, use.tray, use.copy]
            back = ledger.again(one, line[place - 1], use) if place else ledger.first(one, use)
            assert back is not None
            run = runs.get((one.id, use.case))
            words = {RUSH: "rush", UNOPENED: "conditional", CLEAN: "", None: "impossible"}
            mine.add(words[back.grade(need)])
            mine |= {"tight"} if not back.there and 0 <= need - back.usual < site.settings.margin else set()
            mine |= {"queue"} if run and back.usual <= need < ledger.walker.minute(run.ready) else set()
            mine |= {"reserve"} if under_floor(ledger, served, use, one.tray) else set()
            mine.discard("")
    return found


@pytest.mark.parametrize("seed", SEEDS)
def test_each_line_and_each_cart_is_marked_by_what_it_lacks_or_risks_itself_by_an_own_recount(seed: int) -> None:
    plan, trouble = seeded_day(seed), trouble_of_each_line(seed)
    sheet = {row.case: set(row.marks) for row in EveningView(Lookup(plan), lambda _: printing_of(plan)).carts}
    kinds = set()
    for cart in plan.carts:
        marks = set()
        for line, row in zip(cart.trays, rows(seed, cart), strict=True):
            mine = trouble[cart.case.number, line.need.thing, line.copy]
            assert {strip.word.lower() for strip in row.strips if strip.word in KINDS} == mine, (row.set_id, row.tray)
            assert row.missing is ("short" in mine)
            marks |= mine | ({"no set"} if "short" in mine else set())
        short = any(sum(p.open + p.hold for p in one.picks) < one.need.open + one.need.hold for one in cart.goods)
        assert sheet[cart.case.number] == marks | ({"item short"} if short else set()), cart.case.number
        kinds |= marks
    assert kinds >= {"short", "no set", "rush", "tight", "reserve", "conditional"}


@pytest.mark.parametrize("seed", SEEDS)
def test_a_conflict_marks_the_cart_that_waits_and_no_other(seed: int) -> None:
    plan = seeded_day(seed)
    marks = {row.case: set(row.marks) for row in EveningView(Lookup(plan), lambda _: printing_of(plan)).carts}
    seen = 0
    for cart in plan.carts:
        own = {one.kind.value for one in plan.conflicts if one.waiter == cart.case.number}
        on_list = {strip.word.lower() for row in rows(seed, cart) for strip in row.strips if strip.word in KINDS}
        assert on_list == own, cart.case.number
        assert marks[cart.case.number] & {kind.value for kind in ConflictKind} == own
        seen += len(own)
    assert seen


@pytest.mark.parametrize("seed", SEEDS)
def test_the_cart_whose_set_another_goes_without_says_to_send_it_out_at_once(seed: int) -> None:
    plan = seeded_day(seed)
    short = [one for one in plan.conflicts if one.kind is ConflictKind.SHORT and one.set_id and one.proof]
    carts = {cart.case.number: cart for cart in plan.carts}
    for one in short:
        holders = [bound.case for bound in one.proof.sets if bound.set_id == one.set_id] if one.proof else []
        for holder in set(holders) & carts.keys() - {one.waiter}:
            (row,) = (row for row in rows(seed, carts[holder]) if row.set_id == one.set_id)
            said = [strip.text for strip in strips(row, "NEEDED NEXT")]
            assert one.waiter in said[0], "what is due at once stands before what has time"
            assert "Send it out at once" in said[0]
    assert short


def test_both_lists_of_a_tray_on_hold_say_what_to_do_unopened_and_opened() -> None:
    # C-4125 holds VASC-01, ready 14:55 if opened; C-4131 needs it by 12:00. Unopened it may leave as late as 11:45.
    plan = seeded_day(0)
    held = [one for one in plan.conflicts if one.kind is ConflictKind.CONDITIONAL]
    assert held
    carts = {cart.case.number: cart for cart in plan.carts}
    for one in held:
        (giver,) = one.givers
        for number, word in ((giver, "NEEDED NEXT"), (one.waiter, "COMING")):
            (row,) = (row for row in rows(0, carts[number]) if row.set_id == one.set_id)
            texts = [strip.text for strip in strips(row, word)]
            assert any("Unopened: send back by " in text and ", fine. Opened: too late" in text for text in texts)
