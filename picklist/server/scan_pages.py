"""The page on which carts are scanned: one field, one answer that can be read from afar, and what is left to fetch."""

from __future__ import annotations

from functools import partial

from starlette.responses import Response

from picklist import wording
from picklist.model.built import MissingThing
from picklist.model.plan import Cart
from picklist.server.visit import Visit, one_line
from picklist.tasks.cart_reports import carts_told
from picklist.tasks.shown import Lookup

CAMERA = "camera=(self), geolocation=(), microphone=()"  # for this page alone, where the browser reads codes itself
LONGEST = 400  # characters of one scan


def show_scan(visit: Visit) -> Response:
    """The field, the last answers, the open cart."""
    plan = visit.desk.plan()
    if plan is None:
        return visit.show("scan", "scan", window="", said=(), cart=None, left=(), gone=(), built="")
    window = visit.asked.get("w", "")
    scanner = visit.desk.scanner(window)
    if scanner is None or not window.startswith(plan.day.isoformat()):  # another day's lists were built since
        return visit.go(f"scan?w={visit.desk.new_scanner(plan.day)}")
    sitting, found = scanner.look(), Lookup(plan)
    told = carts_told(visit.desk.folder, plan.day)
    answer = visit.show(
        "scan",
        "scan",
        window=window,
        said=sitting.said,
        cart=sitting.cart,
        when=found.when,
        left=sorted(sitting.left, key=lambda one: (not one.is_set, () if one.is_set else found.walk_key(one.place))),
        gone=sitting.facts.missing if sitting.facts and sitting.cart else (),
        name=partial(_name, found, sitting.cart),
        item=found.item,
        built=wording.counted(sum(one.done for one in told.built.values()), "cart"),
    )
    answer.headers["permissions-policy"] = CAMERA
    return answer


def take_scan(visit: Visit) -> Response:
    """Take one scan, or what a button says."""
    plan, window, scan = visit.plan(), visit.form.get("w", ""), visit.form.get("scan", "")[:LONGEST]
    scanner = visit.desk.scanner(window)
    if not window:  # from another page
        return scan_in_new_window(visit, scan)
    if scanner is None:
        window = visit.desk.new_scanner(plan.day)
        visit.note("This window was open for long. Scan the cart's label again, then go on.")
    else:
        by = one_line(visit.form.get("by", ""))
        if by and scan.strip().upper() == "DONE":
            scanner.take(f"BY {by}")
        scanner.take(scan)
    return visit.go(f"scan?w={window}")


def scan_in_new_window(visit: Visit, scan: str) -> Response:
    """Take a scan that came on another page, and go on with the scans that follow."""
    window = visit.desk.new_scanner(visit.plan().day)
    scanner = visit.desk.scanner(window)
    assert scanner is not None
    scanner.take(scan)
    return visit.go(f"scan?w={window}")


def _name(found: Lookup, cart: Cart | None, one: MissingThing) -> str:
    lines = (line for line in (cart.trays if cart else ()) if line.key == (one.thing, one.copy))
    return next((line.name_with_side for line in lines), found.item(one.thing))
