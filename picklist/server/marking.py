"""Carts marked built by the end of their numbers, from the field over the table of carts."""

from __future__ import annotations

from urllib.parse import urlencode

from starlette.responses import Response

from picklist.model.built import read_cart_code
from picklist.server.scan_pages import scan_in_new_window
from picklist.server.visit import Visit, one_line
from picklist.tasks.errors import WrongUse
from picklist.tasks.quick_mark import mark_built, undo_mark

NOT_RECORDED = "Not recorded"


def mark_cart(visit: Visit) -> Response:
    """Mark the cart whose number ends as typed; a scanned label opens its cart on the page for scans."""
    typed, desk, plan = one_line(visit.form.get("cart", "")), visit.desk, visit.plan()
    if read_cart_code(typed):
        return scan_in_new_window(visit, typed)
    try:
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
        undo_mark(desk.folder, visit.plan().day, case, form.get("over", ""), revision)
    except WrongUse as wrong:
        return _answered(visit, [f"Not undone: {wrong}."])
    return _answered(visit, [f"Undone: cart {case} is as it was before the mark."])


def _answered(visit: Visit, sentences: list[str], marked: str = "") -> Response:
    word = visit.desk.keep_notes(sentences)
    return visit.go(f"carts?{urlencode({'answer': word} | ({'marked': marked} if marked else {}))}")
