"""Cart labels: one for each cart that is built, cut from a sheet of plain paper."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from copy import copy

import zxingcpp

from picklist import wording
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import Printing, stamp_for
from picklist.labels.label import ASSET_IDENTIFIER
from picklist.model.built import cart_asset, cart_code
from picklist.model.plan import Cart, in_order_of_completion

LONGEST_CODE = 40


class CartLabel(View):
    """One label; ``code`` is what its bar code says, empty when the case number cannot be coded.

    ``gs1``: as a GS1 DataMatrix, with its identifier in brackets; else as Code 128.
    """

    def __init__(self, found: Lookup, cart: Cart, revision: int) -> None:
        case = cart.case
        asset = cart_asset(found.plan.settings.gs1_company_prefix, case.number, revision)
        more = f" + {len(cart.procedure_names) - 1} more" if len(cart.procedure_names) > 1 else ""
        self.case = case.number
        self.room = case.room
        self.day = wording.short_day(case.day)
        self.start = found.when(case.start)
        self.complete_by = found.when(cart.complete_by)
        self.side = wording.case_side(cart)
        self.side_known = cart.is_sided
        self.alerts = " + ".join(alert.upper() for alert in case.alerts)
        self.surgeon = cart.surgeon_name
        self.procedure = "".join(cart.procedure_names[:1]) + more
        self.revision = f"Revision {revision}"
        self.code = f"({ASSET_IDENTIFIER}){asset}" if asset else _code(case.number, revision)
        self.gs1 = bool(asset)


class LabelsView(View):
    """A label for every cart that is not stopped, in the order in which they must be complete.

    ``printing_for`` gives the printing of a case's list.
    """

    def __init__(self, found: Lookup, printing_for: Callable[[str], Printing]) -> None:
        carts = in_order_of_completion(tuple(cart for cart in found.plan.carts if not cart.stopped))
        self.stamp = stamp_for(found.plan)
        self.title = f"Cart labels, {found.clock.day_text(found.day)}"
        self.labels = tuple(CartLabel(found, cart, printing_for(cart.case.number).revision) for cart in carts)


def new_labels(view: LabelsView, revisions: Iterable[int]) -> LabelsView:
    """Only the labels of lists of these revisions."""
    marks = {f"Revision {revision}" for revision in revisions}
    new = copy(view)
    new.title = f"New {view.title[0].lower()}{view.title[1:]}"
    new.labels = tuple(label for label in view.labels if label.revision in marks)
    return new


def _code(case: str, revision: int) -> str:
    """What the bar code says; empty when Code 128 cannot say it (plain ASCII, short enough to be read)."""
    code = cart_code(case, revision)
    return code if code.isascii() and code.isprintable() and len(code) <= LONGEST_CODE else ""


def label_bars(code: str, gs1: bool) -> str:
    """The bar code of a cart's label as SVG, with what the view says it holds; empty for none."""
    return (gs1_data_matrix(code) if gs1 else code_128(code)) if code else ""


def gs1_data_matrix(elements: str) -> str:
    """A square GS1 DataMatrix of elements with their identifiers in brackets, as SVG with its quiet zone."""
    code = zxingcpp.create_barcode(elements, zxingcpp.BarcodeFormat.DataMatrix, gs1=True, force_square=True)
    return str(zxingcpp.write_barcode_to_svg(code, add_hrt=False, add_quiet_zones=True))


def code_128(text: str) -> str:
    """A Code 128 of plain text as SVG without quiet zone or caption. Raises ValueError for text it cannot say."""
    code = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.Code128)
    return str(zxingcpp.write_barcode_to_svg(code, add_hrt=False, add_quiet_zones=False))
