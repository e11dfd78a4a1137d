"""The form on which the crew reports one cart; it shows what is known, and keeps what it does not touch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from starlette.responses import Response

from picklist.letters import whole_number
from picklist.model.built import BuiltCart, TakenItem
from picklist.model.plan import Cart, TrayLine
from picklist.problems import must_be_fixed
from picklist.problems_report import count_line
from picklist.server.cart_rows import MISSING, SET, item_ids, item_rows, tray_field, tray_key, tray_row
from picklist.server.carts import cart_row, find_cart
from picklist.server.desk import Desk
from picklist.server.problem_rows import problem_sheets
from picklist.server.visit import NotHere, Visit, one_line
from picklist.server.work import Lane
from picklist.tasks.cart_form import (
    CartSaid,
    ItemSaid,
    TraySaid,
    carry_over,
    further_facts,
    item_said,
    report_mark,
    tray_said,
)
from picklist.tasks.cart_reports import carts_told
from picklist.tasks.crew import ReportResult, StaleForm, tell_by_form
from picklist.tasks.errors import WrongUse


@dataclass(frozen=True, slots=True, kw_only=True)
class FormTold:
    """A filled form and what came of it."""

    said: CartSaid
    told: ReportResult
    stale: str = ""  # why nothing was kept, where another report came first


def show_cart(visit: Visit) -> Response:
    """One cart: what is on its list, and the form to tell of it; once more as it was filled in, if asked."""
    found, cart = find_cart(visit)
    told = carts_told(visit.desk.folder, found.day)
    facts = told.built.get(cart.case.number)
    work = visit.desk.workshop.find(visit.asked.get("as", ""))
    said = work.result.said if work and isinstance(work.result, FormTold) else CartSaid(case="", over="", done=False)
    both: tuple[str, ...] = ()
    if said.case != cart.case.number:
        said = _said_before(cart, facts)
    elif said.over != report_mark(facts):
        base = _said_before(cart, visit.desk.shown(said.over))
        said, both = carry_over(said, base, _said_before(cart, facts))
    visit.desk.remember_shown(facts)
    return visit.show(
        "cart",
        "carts",
        row=cart_row(found, cart, told),
        said=said,
        trays=tuple(tray_row(found, line, said.trays.get(tray_key(line), TraySaid()), facts) for line in cart.trays),
        items=tuple(item_rows(found, cart, said, facts)),
        over=report_mark(facts),
        both=both,
        again=work is not None,
        further=further_facts(facts, cart),
        counts=told.revisions.get(cart.case.number, found.plan.revision),
        stopped=tuple(f"{p.sentence()} [{p.where}]" for p in cart.stopped),
    )


def tell_cart(visit: Visit) -> Response:
    """Record what the form says of a cart."""
    found, cart = find_cart(visit)
    said = read_form(visit, cart)
    desk, day = visit.desk, found.day
    work = desk.workshop.start(
        f"Recording cart {said.case}",
        Lane.CHECK,
        lambda _progress: _tell(desk, said, day),
        "carts/told/",
    )
    work.next = f"carts/told/{work.id}"
    return visit.go(f"work/{work.id}")


def _tell(desk: Desk, said: CartSaid, day: date) -> FormTold:
    try:
        return FormTold(said=said, told=tell_by_form(desk.folder, said, desk.now(), day))
    except StaleForm as stale:
        return FormTold(said=said, told=ReportResult(kept=(), problems=()), stale=str(stale))


def show_told(visit: Visit) -> Response:
    """What came of telling: back to the carts when it was recorded, else what to fix."""
    work = visit.desk.workshop.find(visit.path["work"])
    if work is None or not isinstance(work.result, FormTold):
        raise NotHere
    told = work.result.told
    if told.kept and not must_be_fixed(told.problems):
        for cart in told.kept:
            visit.note(f"Cart {cart.case} is recorded as {'built' if cart.done else 'started'}.")
        return visit.go("carts")
    return visit.show(
        "told",
        "carts",
        case=work.result.said.case,
        work=work.id,
        stale=work.result.stale,
        kept=bool(told.kept),
        sheets=problem_sheets(told.problems),
        count=count_line(told.problems),
    )


def read_form(visit: Visit, cart: Cart) -> CartSaid:
    """What the form says; a row that it does not hold is left as it was reported. Raises WrongUse."""
    form = visit.form
    by = one_line(form.get("by", ""))
    if form.get("state") == "done" and not by:
        raise WrongUse("enter who built the cart; initials are enough")
    return CartSaid(
        case=cart.case.number,
        over=form.get("over", ""),
        done=form.get("state") == "done",
        by=by,
        remark=one_line(form.get("note", "")),
        carried="older" not in form or "carried" in form,
        trays={tray_key(line): tray for line in cart.trays if (tray := _tray_said(form, line))},
        items={one: item for one in item_ids(cart) if (item := _item_said(form, one))},
        added=_added(form),
        forget=frozenset(visit.lists.get("forget", ())),
    )


def _said_before(cart: Cart, facts: BuiltCart | None) -> CartSaid:
    """The form that says what is known of the cart."""
    return CartSaid(
        case=cart.case.number,
        over=report_mark(facts),
        done=bool(facts and facts.done),
        by=facts.by if facts else "",
        remark=facts.remark if facts else "",
        carried=False,
        trays={tray_key(line): tray_said(facts, tray_key(line)) for line in cart.trays},
        items={item: item_said(facts, item) for item in item_ids(cart)},
    )


def _tray_said(form: Mapping[str, str], line: TrayLine) -> TraySaid | None:
    said = form.get(tray_field(line))
    if said is None:
        return None
    return TraySaid(set_id=said.removeprefix(SET) if said.startswith(SET) else "", missing=said == MISSING)


def _item_said(form: Mapping[str, str], item: str) -> ItemSaid | None:
    if f"missing-{item}" not in form:
        return None
    stood = one_line(form.get(f"stood-{item}", ""))
    many = _number(form.get(f"many-{item}", ""), f"of the stand-in for {item}") or 0
    if many and not stood:
        raise WrongUse(f"enter what stands in for {item}, not only how many")
    return ItemSaid(
        missing=_number(form[f"missing-{item}"], f"of missing {item}") or 0,
        stood_in=stood,
        stood_many=many,
        count=_number(form.get(f"count-{item}", ""), f"of counted {item}"),
    )


def _added(form: Mapping[str, str]) -> TakenItem | None:
    item = one_line(form.get("added", ""))
    many = _number(form.get("added-many", ""), "of what was put on")
    if not item:
        return None
    return TakenItem(item=item, quantity=1 if many is None else many)


def _number(text: str, what: str) -> int | None:
    """A whole number, None for nothing written. Raises WrongUse."""
    said = one_line(text)
    if not said:
        return None
    number = whole_number(said, 5)
    if number is None:
        raise WrongUse(f"{said} is not a number {what}")
    return number
