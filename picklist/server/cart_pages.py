"""The form on which the crew reports one cart, which keeps what it does not touch; and the quick mark of a cart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from starlette.responses import Response

from picklist.letters import whole_number
from picklist.model.built import BuiltCart, TakenItem, read_cart_code
from picklist.model.plan import Cart
from picklist.problems import must_be_fixed
from picklist.server.cart_rows import MISSING, SET, ItemRow, TrayChoice, tray_field
from picklist.server.carts import CartRow, find_cart
from picklist.server.desk import Desk
from picklist.server.scan_pages import scan_in_new_window
from picklist.server.visit import Visit, one_line
from picklist.server.work import Lane
from picklist.tasks.cart_form import (
    RowCells,
    RowKey,
    carry_over,
    empty_report,
    further_facts,
    new_by_hand,
    report_mark,
    row_keys,
    with_cells,
    without_facts,
)
from picklist.tasks.cart_reports import carts_told
from picklist.tasks.crew import ReportResult, StaleForm, tell_by_form
from picklist.tasks.errors import WrongUse
from picklist.tasks.quick_mark import mark_built, undo_mark


@dataclass(frozen=True, slots=True, kw_only=True)
class FormTold:
    """A filled form, the mark of the report that it was filled in over, and what came of it."""

    case: str
    said: BuiltCart
    over: str
    told: ReportResult
    stale: str = ""  # why nothing was kept, where another report came first


def show_cart(visit: Visit) -> Response:
    """One cart: what is on its list, and the form to report on it; once more as it was filled in, if asked."""
    found, cart = find_cart(visit)
    number = cart.case.number
    told = carts_told(visit.desk.folder, found.day)
    facts = told.built.get(number)
    counts = told.revisions.get(number, found.plan.revision)
    said = now = facts or empty_report(found.plan, number, counts)
    work = visit.desk.workshop.find(visit.asked.get("as", ""))
    both: tuple[str, ...] = ()
    if work and isinstance(work.result, FormTold) and work.result.case == number:
        said = work.result.said
        if work.result.over != report_mark(facts):
            said, both = carry_over(said, visit.desk.shown(work.result.over), now, cart)
    visit.desk.remember_shown(facts)
    further = further_facts(facts, cart)
    return visit.show(
        "cart",
        "carts",
        row=CartRow(found, cart, told),
        when=found.when,
        said=said,
        trays=tuple(TrayChoice(found, line, said, facts) for line in cart.trays),
        items=tuple(ItemRow(found, item, lines, said, facts) for item, lines in cart.goods_by_thing.items()),
        over=report_mark(facts),
        both=both,
        again=work is not None,
        further=further,
        forget=further.keys() - further_facts(said, cart).keys(),
        added=next(iter(new_by_hand(said, facts)), None),
        carried=said.revision >= counts,
        counts=counts,
        stopped=tuple(f"{p.sentence()} [{p.where}]" for p in cart.stopped),
    )


def tell_cart(visit: Visit) -> Response:
    """Record what the form says of a cart."""
    found, cart = find_cart(visit)
    visit.check_day(found.plan)
    number, over = cart.case.number, visit.form.get("over", "")
    told = carts_told(visit.desk.folder, found.day)
    counts = told.revisions.get(number, found.plan.revision)
    facts = told.built.get(number)
    base = facts if report_mark(facts) == over else visit.desk.shown(over)
    said = read_form(visit, base or empty_report(found.plan, number, counts), cart, counts)
    desk = visit.desk
    return visit.wait_for(
        f"Recording cart {number}", Lane.CHECK, lambda: _tell(desk, number, said, over), "carts/told/{}"
    )


def _tell(desk: Desk, case: str, said: BuiltCart, over: str) -> FormTold:
    try:
        result, stale = tell_by_form(desk.folder, case, said, over, desk.now()), ""
    except StaleForm as refused:
        result, stale = ReportResult(kept=(), problems=()), str(refused)
    return FormTold(case=case, said=said, over=over, told=result, stale=stale)


def show_told(visit: Visit) -> Response:
    """What came of telling: back to the carts when it was recorded, else what to fix."""
    found = visit.result(FormTold)
    told = found.told
    if told.kept and not must_be_fixed(told.problems):
        for cart in told.kept:
            visit.note(f"Cart {cart.case} is recorded as {'built' if cart.done else 'started'}.")
        return visit.go("carts")
    return visit.show(
        "told",
        "carts",
        case=found.case,
        work=visit.path["work"],
        stale=found.stale,
        kept=bool(told.kept),
        problems=told.problems,
    )


def read_form(visit: Visit, base: BuiltCart, cart: Cart, counts: int) -> BuiltCart:
    """The report that the form makes of ``base``; what it does not hold is left as it was reported. Raises WrongUse.

    ``counts`` is the list whose changes are made on the cart, unless the form says otherwise.
    """
    form = visit.form
    by = one_line(form.get("by", ""))
    if form.get("state") == "done" and not by:
        raise WrongUse("enter who built the cart; initials are enough")
    said = without_facts(base, visit.lists.get("forget", ()))
    for key in row_keys(cart):
        cells = _cells(form, key)
        said = with_cells(said, key, cells) if cells else said
    return replace(
        said,
        revision=base.revision if "older" in form and "carried" not in form else counts,
        done=form.get("state") == "done",
        by=by,
        remark=one_line(form.get("note", "")),
        added=(*said.added, *_added(form)),
    )


def _cells(form: Mapping[str, str], key: RowKey) -> RowCells | None:
    """What a row says; None where the form does not hold it."""
    item, copy = key
    if copy:
        said = form.get(tray_field(key))
        set_id = said.removeprefix(SET) if said and said.startswith(SET) else ""
        return None if said is None else RowCells(set_id=set_id, missing=int(said == MISSING))
    if f"missing-{item}" not in form:
        return None
    stood = one_line(form.get(f"stood-{item}", ""))
    many = _number(form.get(f"many-{item}", ""), f"of the stand-in for {item}") or 0
    if many and not stood:
        raise WrongUse(f"enter what stands in for {item}, not only how many")
    return RowCells(
        missing=_number(form[f"missing-{item}"], f"of missing {item}") or 0,
        stood_in=stood,
        stood_many=many,
        count=_number(form.get(f"count-{item}", ""), f"of counted {item}"),
    )


def _added(form: Mapping[str, str]) -> tuple[TakenItem, ...]:
    """What was put on the cart beyond its list. Raises WrongUse."""
    item = one_line(form.get("added", ""))
    many = _number(form.get("added-many", ""), "of what was put on")
    if many is not None and not item:
        raise WrongUse("enter what was put on the cart, not only how many")
    if many == 0:
        raise WrongUse(f"enter how many of {item} were put on the cart, 1 or more")
    return (TakenItem(item=item, quantity=1 if many is None else many),) if item else ()


def _number(text: str, what: str) -> int | None:
    """A whole number, None for nothing written. Raises WrongUse."""
    said = one_line(text)
    if not said:
        return None
    number = whole_number(said, 5)
    if number is None:
        raise WrongUse(f"{said} is not a number {what}")
    return number


NOT_RECORDED = "Not recorded"


def mark_cart(visit: Visit) -> Response:
    """Mark the cart whose number ends as typed; a scanned label opens its cart on the page for scans."""
    typed, desk, plan = one_line(visit.form.get("cart", "")), visit.desk, visit.plan()
    if read_cart_code(typed):
        return scan_in_new_window(visit, typed)
    try:
        visit.check_day(plan)
        marked = mark_built(desk.folder, plan, typed, one_line(visit.form.get("by", "")), desk.now())
    except WrongUse as wrong:
        return _answered(visit, [f"{NOT_RECORDED}: {wrong}."])
    case = marked.cart.case
    about = ", ".join((case.room, marked.cart.surgeon_name, *marked.cart.procedure_names))
    said = f"Cart {case.number} ({about}) is recorded as built by {marked.by}."
    return _answered(visit, [said, *(f"{one.sentence()}." for one in marked.problems)], case.number)


def undo_marked(visit: Visit) -> Response:
    """Undo a mark."""
    desk, form = visit.desk, visit.form
    case, revision = form.get("case", ""), form.get("revision", "")
    try:
        visit.check_day(visit.plan())
        undo_mark(desk.folder, visit.plan().day, case, form.get("over", ""), revision)
    except WrongUse as wrong:
        return _answered(visit, [f"Not undone: {wrong}."])
    return _answered(visit, [f"Undone: cart {case} is as it was before the mark."])


def _answered(visit: Visit, sentences: list[str], marked: str = "") -> Response:
    word = visit.desk.keep_notes(sentences)
    return visit.go(f"carts?{urlencode({'answer': word} | ({'marked': marked} if marked else {}))}")
