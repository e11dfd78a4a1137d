"""What the crew tells of a cart on the page; nothing that was told before is lost by leaving it out."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from urllib.parse import quote

import pytest

from picklist.model.built import BuiltCart
from picklist.model.known import NOTHING_KNOWN
from picklist.model.plan import Cart, Plan
from picklist.model.sets import SetState
from picklist.server.cart_pages import FormTold
from picklist.server.carts import CartRow
from picklist.server.desk import Desk
from picklist.server.work import LongTask
from picklist.store.state import open_state, state_path
from picklist.tasks.cart_reports import carts_told
from picklist.tasks.crew import ReportResult
from picklist.tasks.shown import Lookup
from tests.server.forms import fields_of
from tests.server.site import DOOR, NOW, at, client_of, work_of
from tests.tasks.small_folder import tell_by_scans


def plan_of(desk: Desk) -> Plan:
    plan = desk.plan()
    assert plan is not None
    return plan


def form_page(desk: Desk, case: str) -> str:
    page: str = client_of(desk).get(at("carts/case"), params={"case": case}).text
    return page


def send(desk: Desk, case: str, form: dict[str, str]) -> LongTask:
    answer = client_of(desk).post(at("carts/case"), params={"case": case}, data=form)
    assert answer.status_code == 303, answer.text
    return work_of(desk, answer.headers["location"])


def tell(desk: Desk, case: str, **said: str) -> ReportResult:
    """The form as it is shown, with some fields filled in, sent."""
    work = send(desk, case, fields_of(form_page(desk, case)) | {"state": "done", "by": "QX"} | said)
    assert isinstance(work.result, FormTold), work.refused
    return work.result.told


def fact_of(desk: Desk, case: str) -> BuiltCart:
    return carts_told(desk.folder, plan_of(desk).day).built[case]


def full_cart(plan: Plan) -> Cart:
    """A cart with a set on it and another on the shelf that may stand there, and three things from the shelves."""
    given = {one.set_id for one in plan.assignments}
    spare = {one.tray for one in plan.sets if one.state is SetState.ON_SHELF and one.id not in given}
    return next(
        cart
        for cart in plan.carts
        if len(cart.sundries) > 2 and cart.trays and cart.trays[0].set_id and cart.trays[0].need.thing in spare
    )


def spare_set(plan: Plan, tray: str) -> str:
    given = {one.set_id for one in plan.assignments}
    return next(s.id for s in plan.sets if s.tray == tray and s.state is SetState.ON_SHELF and s.id not in given)


def test_a_cart_told_built_is_built_for_the_command_line_too(evening: Desk) -> None:
    client, plan = client_of(evening), plan_of(evening)
    cart = plan.carts[0]
    number, tray, item = cart.case.number, cart.trays[0], cart.sundries[0]
    said = {f"tray-1-{tray.need.thing}": "missing", f"missing-{item.need.thing}": "1"}
    form = fields_of(form_page(evening, number)) | {"by": "QX", "note": "ring by hand", "state": "done"}
    work = send(evening, number, form | said)
    assert client.get(at(work.next)).headers["location"].startswith(at("carts"))
    [fact] = carts_told(evening.folder, plan.day).built.values()
    assert (fact.case, fact.done, fact.by, fact.remark) == (number, True, "QX", "ring by hand")
    assert {(m.thing, m.quantity) for m in fact.missing} == {(tray.need.thing, 1), (item.need.thing, 1)}
    page = client.get(at("carts")).text
    assert f"1 of {len(plan.carts)} carts built" in page
    assert "built, 2 items missing" in page
    assert 'value="QX"' in form_page(evening, number)


def test_a_cart_is_not_built_by_nobody_nor_with_more_missing_than_listed(evening: Desk) -> None:
    client, cart = client_of(evening), plan_of(evening).carts[0]
    number, item = cart.case.number, cart.sundries[0].need.thing
    form = fields_of(form_page(evening, number)) | {"state": "done"}
    nobody = client.post(at("carts/case"), params={"case": number}, data=form)
    assert nobody.status_code == 422
    assert "enter who built" in nobody.text
    work = send(evening, number, form | {"by": "QX", f"missing-{item}": "99"})
    assert "reported missing; case" in client.get(at(work.next)).text
    assert not carts_told(evening.folder, plan_of(evening).day).built


@pytest.mark.parametrize("number", ["2x", "-1", "1.5", "²", "1000000"])
def test_what_is_no_number_is_said(evening: Desk, number: str) -> None:
    cart = plan_of(evening).carts[0]
    field = f"missing-{cart.sundries[0].need.thing}"
    form = fields_of(form_page(evening, cart.case.number)) | {"by": "QX", "state": "done", field: number}
    answer = client_of(evening).post(at("carts/case"), params={"case": cart.case.number}, data=form)
    assert answer.status_code == 422
    assert "is not a number of missing" in answer.text


def test_what_was_scanned_stays_when_the_form_adds_to_it(evening: Desk) -> None:
    plan = plan_of(evening)
    cart = full_cart(plan)
    number, tray, (first, second, third, *_) = cart.case.number, cart.trays[0], cart.sundries
    taken = spare_set(plan, tray.need.thing)
    told = tell_by_scans(
        evening.folder,
        [
            f"CART {number}",
            f"INSTEAD {tray.set_id} {taken}",
            first.need.thing,
            f"MISSING {second.need.thing} 1",
            f"INSTEAD {second.need.thing} {third.need.thing}",
            f"COUNT {third.need.thing} 14",
            "BY mk",
            "NOTE bag torn",
            "DONE",
        ],
        NOW,
        plan.day,
    )
    [before] = told.kept
    page = form_page(evening, number)
    for said in ('value="mk"', 'value="bag torn"', f'value="set:{taken}" selected', "scanned onto the cart"):
        assert said in page
    assert tell(evening, number, by="mk", **{f"missing-{third.need.thing}": "1"}).kept
    after = fact_of(evening, number)
    assert after.sets == before.sets
    assert after.stood_in == before.stood_in
    assert after.counts == before.counts
    assert after.scanned == before.scanned
    assert after.remark == "bag torn"
    assert {(m.thing, m.quantity) for m in after.missing} == {(second.need.thing, 1), (third.need.thing, 1)}


def test_a_form_sent_as_it_was_shown_says_nothing_new(evening: Desk) -> None:
    cart = full_cart(plan_of(evening))
    number = cart.case.number
    taken = spare_set(plan_of(evening), cart.trays[0].need.thing)
    assert tell(evening, number, **{f"tray-1-{cart.trays[0].need.thing}": f"set:{taken}"}).kept
    before = fact_of(evening, number)
    assert tell(evening, number).kept
    assert fact_of(evening, number) == before
    with open_state(state_path(evening.folder)) as state, state.reading() as db:
        assert db.execute("SELECT count(*) FROM built_cart").fetchone()[0] == 1


def test_what_a_form_leaves_out_stays(evening: Desk) -> None:
    cart = full_cart(plan_of(evening))
    number, item = cart.case.number, cart.sundries[0].need.thing
    tell(evening, number, **{f"missing-{item}": "1", f"tray-1-{cart.trays[0].need.thing}": "missing"})
    over = fields_of(form_page(evening, number))["over"]
    short = {"token": DOOR.token, "over": over, "by": "QX", "note": "all else as told", "state": "done"}
    assert isinstance(send(evening, number, short).result, FormTold)
    fact = fact_of(evening, number)
    assert {m.thing for m in fact.missing} == {item, cart.trays[0].need.thing}
    assert fact.remark == "all else as told"


def test_a_number_put_on_the_cart_is_not_dropped_for_want_of_the_item(evening: Desk) -> None:
    cart = full_cart(plan_of(evening))
    number, item = cart.case.number, cart.sundries[0].need.thing
    form = fields_of(form_page(evening, number)) | {"by": "QX", "token": DOOR.token}
    for typed, says in (
        ({"added-many": "3"}, "enter what was put on the cart"),
        ({"added": item, "added-many": "0"}, "1 or more"),
    ):
        answer = client_of(evening).post(at("carts/case"), params={"case": number}, data=form | typed)
        assert (answer.status_code, says in answer.text) == (422, True)
    assert number not in carts_told(evening.folder, plan_of(evening).day).built


def test_what_was_put_on_beyond_the_list_is_kept_until_it_is_taken_away(evening: Desk) -> None:
    cart = full_cart(plan_of(evening))
    number, item = cart.case.number, cart.sundries[0].need.thing
    tell(evening, number, added=item, **{"added-many": "3"})
    assert [(i.item, i.quantity) for i in fact_of(evening, number).added] == [(item, 3)]
    tell(evening, number)
    assert [(i.item, i.quantity) for i in fact_of(evening, number).added] == [(item, 3)]
    page = form_page(evening, number)
    assert f"remove: 3 of {item} put on though not asked for" in page
    [name] = [part.split('"')[0] for part in page.split('name="forget" value="')[1:]]
    tell(evening, number, forget=name)
    assert not fact_of(evening, number).added


def test_a_form_opened_before_somebody_else_told_is_not_kept_over_it(evening: Desk) -> None:
    plan = plan_of(evening)
    cart = plan.carts[0]
    number, item = cart.case.number, cart.sundries[0].need.thing
    opened = fields_of(form_page(evening, number))
    tell_by_scans(evening.folder, [f"CART {number}", f"MISSING {item} 1", "BY mk", "DONE"], NOW, plan.day)
    other = cart.sundries[1].need.thing
    work = send(evening, number, opened | {"by": "QX", "state": "done", f"missing-{other}": "1"})
    assert isinstance(work.result, FormTold)
    assert "was reported again" in work.result.stale
    assert fact_of(evening, number).by == "mk"
    assert [one.thing for one in fact_of(evening, number).missing] == [item]
    # What was entered is kept, over what is reported now; sent again, both are there.
    again = client_of(evening).get(at("carts/case"), params={"case": number, "as": work.id}).text
    assert "Your entries, over what is reported now" in again
    told = fields_of(again)
    assert (told[f"missing-{item}"], told[f"missing-{other}"], told["by"]) == ("1", "1", "QX")
    send(evening, number, told | {"state": "done"})
    assert {one.thing for one in fact_of(evening, number).missing} == {item, other}


def test_a_row_that_both_changed_is_named_and_shows_what_was_entered(evening: Desk) -> None:
    plan = plan_of(evening)
    cart = next(c for c in plan.carts if any(line.need.open > 1 for line in c.sundries))
    number, item = cart.case.number, next(line.need.thing for line in cart.sundries if line.need.open > 1)
    opened = fields_of(form_page(evening, number))
    tell_by_scans(evening.folder, [f"CART {number}", f"MISSING {item} 1"], NOW, plan.day)
    work = send(evening, number, opened | {"by": "QX", "state": "done", f"missing-{item}": "2"})
    again = client_of(evening).get(at("carts/case"), params={"case": number, "as": work.id}).text
    assert "Reported differently in another window:" in again
    assert fields_of(again)[f"missing-{item}"] == "2"


def test_a_set_that_another_cart_is_told_to_hold_is_a_doubt(evening: Desk) -> None:
    plan = plan_of(evening)
    trays = [(cart, line) for cart in plan.carts for line in cart.trays if line.set_id]
    first, line = next(
        (c, t) for c, t in trays if sum(o.need.thing == t.need.thing for _, o in trays) > 1 and not t.stand_in_for
    )
    second = next(c for c, t in trays if t.need.thing == line.need.thing and c is not first)
    taken = f"set:{line.set_id}"
    assert not tell(evening, first.case.number, **{f"tray-1-{line.need.thing}": taken}).problems
    told = tell(evening, second.case.number, **{f"tray-1-{line.need.thing}": taken})
    assert [p.kind for p in told.problems] == ["set on two carts"]
    assert told.kept


def test_an_item_that_does_not_exist_is_named_with_the_nearest(evening: Desk) -> None:
    cart = plan_of(evening).carts[0]
    item = cart.sundries[0].need.thing
    told = tell(evening, cart.case.number, **{f"stood-{item}": f"{item}9"})
    assert not told.kept
    [problem] = told.problems
    assert problem.kind == "unknown item"
    assert item in problem.nearest
    many = fields_of(form_page(evening, cart.case.number)) | {"by": "QX", f"many-{item}": "2"}
    answer = client_of(evening).post(at("carts/case"), params={"case": cart.case.number}, data=many)
    assert "enter what stands in" in answer.text


def test_a_form_that_was_not_taken_down_comes_back_as_it_was_filled_in(evening: Desk) -> None:
    client, cart = client_of(evening), plan_of(evening).carts[0]
    first, second = (line.need.thing for line in cart.sundries[:2])
    form = fields_of(form_page(evening, cart.case.number)) | {
        "by": "QX",
        "note": "ring by hand",
        "state": "done",
        f"stood-{first}": "no-such-item",
        f"missing-{second}": "1",
        f"tray-1-{cart.trays[0].need.thing}": "missing",
    }
    page = client.get(at(send(evening, cart.case.number, form).next)).text
    assert "Not recorded" in page
    [back] = re.findall(r'href="([^"]*carts/case[^"]*as=[^"]*)"', page)
    again = fields_of(client.get(unescape(back)).text)
    assert again == {name: value for name, value in form.items() if name != "state"}
    assert isinstance(send(evening, cart.case.number, again | {"state": "done", f"stood-{first}": ""}).result, FormTold)
    assert fact_of(evening, cart.case.number).remark == "ring by hand"


def test_a_form_cannot_smuggle_a_second_line_or_another_cart(evening: Desk) -> None:
    plan = plan_of(evening)
    first, second = plan.carts[0].case.number, plan.carts[1].case.number
    tell(evening, first, by=f"QX\nDONE\nCART {second}\nDONE", state="started")
    built = carts_told(evening.folder, plan.day).built
    assert set(built) == {first}
    assert not built[first].done
    assert built[first].by == f"QX DONE CART {second} DONE"


def test_a_cart_is_found_by_words_of_its_row(evening: Desk) -> None:
    client, plan = client_of(evening), plan_of(evening)
    one = plan.carts[0]
    page = client.get(at("carts"), params={"find": f"{one.case.room} {one.case.number.lower()}"}).text
    assert f"case={quote(one.case.number)}" in page
    assert page.count("Mark built, cart") == 1
    room = client.get(at("carts"), params={"find": one.case.room}).text
    assert room.count("Mark built, cart") == sum(c.case.room == one.case.room for c in plan.carts)
    assert "No cart matches" in client.get(at("carts"), params={"find": "no such words"}).text


def test_a_tray_that_a_built_cart_waits_for_is_named_until_it_has_come(evening: Desk) -> None:
    plan = plan_of(evening)
    coming = [(c, t) for c in plan.carts for t in c.trays if t.set_id and t.expected and t.expected > plan.now]
    cart, line = coming[0]
    number = cart.case.number
    tell(evening, number)
    assert line.set_id in {one.set_id for one in fact_of(evening, number).to_come}
    page = client_of(evening).get(at("carts"), params={"find": number}).text
    assert f"built, waits for {line.set_id}" in page
    form = form_page(evening, number)
    assert f"still to come: {line.set_id}, expected" in form
    assert f"{line.set_id} arrived and is on the cart" in form
    tell(evening, number, **{f"tray-{line.copy}-{line.need.thing}": f"set:{line.set_id}"})
    assert line.set_id not in {one.set_id for one in fact_of(evening, number).to_come}


def test_a_missing_thing_says_on_the_form_who_reported_it(evening: Desk) -> None:
    plan = plan_of(evening)
    cart = plan.carts[0]
    number, item = cart.case.number, cart.sundries[0].need.thing
    tell_by_scans(evening.folder, [f"CART {number}", "BY mk", f"MISSING {item} 1", "DONE"], NOW, plan.day)
    assert '<span class="faint">mk ' in form_page(evening, number)
    tell(evening, number, by="QX", note="rung the ward")
    [gone] = fact_of(evening, number).missing
    assert (gone.thing, gone.by) == (item, "mk")


def test_a_form_of_yesterday_is_not_taken_for_a_cart_of_today(evening: Desk) -> None:
    """The number of a cart may end alike on two days, and a moved case keeps its number."""
    case, client = plan_of(evening).carts[0].case.number, client_of(evening)
    shown = fields_of(form_page(evening, case)) | {"state": "done", "by": "QX"}
    assert shown["of"] == "2026-11-26"
    yesterday = {"of": "2026-11-25"}
    answer = client.post(at("carts/case"), params={"case": case}, data=shown | yesterday)
    assert answer.status_code == 422
    assert "the lists are those of Thu 26 Nov 2026 now" in answer.text
    typed = {"token": DOOR.token, "cart": case, "by": "QX"} | yesterday
    answer = client.post(at("carts"), data=typed, follow_redirects=True)
    assert "Not recorded: this page shows the carts of Wed 25 Nov 2026" in answer.text
    assert case not in carts_told(evening.folder, plan_of(evening).day).built


def test_that_a_cart_built_from_an_older_list_is_not_counted_as_built(evening: Desk) -> None:
    """The page ticked it and said "1 of 41 carts built", where the evening's page had 41 to finish."""
    plan = plan_of(evening)
    cart = plan.carts[0]
    number = cart.case.number
    report = BuiltCart(day=plan.day, case=number, revision=1, at=plan.now, done=True, by="mk")
    known = replace(NOTHING_KNOWN, built={number: report}, revisions={number: 1})
    newer = replace(known, revisions={number: 2})
    rows = [CartRow(Lookup(plan), cart, one) for one in (known, newer)]
    assert [(row.done, row.older != "") for row in rows] == [(True, False), (False, True)]
