"""The page on which carts are scanned: one field, one answer that can be read from afar, and what is left to fetch."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from starlette.responses import Response

from picklist import wording
from picklist.model.plan import Cart
from picklist.server.carts import cart_row
from picklist.server.visit import Visit, one_line
from picklist.tasks.cart_reports import carts_told
from picklist.tasks.scanning import Sitting
from picklist.tasks.shown import Lookup, look_up

CAMERA = "camera=(self), geolocation=(), microphone=()"  # for this page alone, where the browser reads codes itself
LONGEST = 400  # characters of one scan


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftRow:
    """A thing still to fetch: so many of it, and from where; ``scan`` is how it is named to MISSING."""

    scan: str
    name: str
    code: str
    many: str
    place: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GoneRow:
    """A thing that is reported missing; ``scan`` is how it is named to FOUND."""

    scan: str
    name: str
    many: str


def show_scan(visit: Visit) -> Response:
    """The field, the last answers, the open cart."""
    plan = visit.desk.plan()
    if plan is None:
        return visit.show("scan", "scan", window="", said=(), cart=None, left=(), gone=(), built="")
    window = visit.asked.get("w", "")
    scanner = visit.desk.scanner(window)
    if scanner is None or not window.startswith(plan.day.isoformat()):  # another day's lists were built since
        return visit.go(f"scan?w={visit.desk.new_scanner(plan.day)}")
    sitting, found = scanner.look(), look_up(plan)
    told = carts_told(visit.desk.folder, plan.day)
    answer = visit.show(
        "scan",
        "scan",
        window=window,
        said=sitting.said,
        cart=cart_row(found, sitting.cart, told) if sitting.cart else None,
        left=_left(found, sitting),
        gone=_gone(found, sitting),
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


def _left(found: Lookup, sitting: Sitting) -> list[LeftRow]:
    """Trays, then goods in walking order."""
    trays = [one for one in sitting.left if one.is_set]
    goods = sorted((one for one in sitting.left if not one.is_set), key=lambda one: found.walk_key(one.place))
    return [
        LeftRow(
            scan=one.thing if one.is_set else f"{one.thing} {one.left}",
            name=one.name or found.item(one.thing),
            code=one.thing,
            many="" if one.is_set else f"{one.left} of {one.listed}",
            place=one.place,
        )
        for one in (*trays, *goods)
    ]


def _gone(found: Lookup, sitting: Sitting) -> Iterable[GoneRow]:
    if sitting.facts is None or sitting.cart is None:
        return ()
    return [
        GoneRow(
            scan=one.thing,
            name=_name(found, sitting.cart, (one.thing, one.copy)),
            many="" if one.copy else str(one.quantity),
        )
        for one in sitting.facts.missing
    ]


def _name(found: Lookup, cart: Cart, key: tuple[str, int]) -> str:
    line = next((line for line in cart.trays if line.key == key), None)
    return line.name_with_side if line else found.item(key[0])
