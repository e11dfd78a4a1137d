"""Cart labels: one for each cart that is built, cut from a sheet of plain paper."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from picklist import wording
from picklist.documents.views.lookup import Lookup, in_order_of_completion
from picklist.documents.views.stamp import PageFoot, Printing, printing_of, stamp_for
from picklist.labels.label import ASSET_IDENTIFIER
from picklist.model.built import cart_asset, cart_code
from picklist.model.plan import Cart

LONGEST_CODE = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class CartLabel:
    """One label; ``code`` is what its bar code says, empty when the case number cannot be coded.

    ``gs1``: as a GS1 DataMatrix, with its identifier in brackets; else as Code 128.
    """

    case: str
    room: str
    day: str
    start: str
    complete_by: str
    side: str
    side_known: bool
    alerts: str
    surgeon: str
    procedure: str
    revision: str
    code: str
    gs1: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelsView:
    """All labels in the order in which the carts must be complete."""

    stamp: PageFoot
    title: str
    labels: tuple[CartLabel, ...]


def labels(found: Lookup, printing_for: Callable[[str], Printing]) -> LabelsView:
    """Labels of every cart that is not stopped; ``printing_for`` gives the printing of a case's list."""
    carts = in_order_of_completion(tuple(cart for cart in found.plan.carts if not cart.stopped))
    return LabelsView(
        stamp=stamp_for(found.plan, printing_of(found.plan), found.clock),
        title=f"Cart labels, {found.clock.day_text(found.day)}",
        labels=tuple(_label(found, cart, printing_for(cart.case.number).revision) for cart in carts),
    )


def new_labels(view: LabelsView, revisions: Iterable[int]) -> LabelsView:
    """Only the labels of lists of these revisions."""
    marks = {f"Revision {revision}" for revision in revisions}
    new = tuple(label for label in view.labels if label.revision in marks)
    return replace(view, title=f"New {view.title[0].lower()}{view.title[1:]}", labels=new)


def _label(found: Lookup, cart: Cart, revision: int) -> CartLabel:
    case = cart.case
    asset = cart_asset(found.plan.settings.gs1_company_prefix, case.number, revision)
    more = f" + {len(cart.procedure_names) - 1} more" if len(cart.procedure_names) > 1 else ""
    return CartLabel(
        case=case.number,
        room=case.room,
        day=wording.short_day(case.day),
        start=found.when(case.start),
        complete_by=found.when(cart.complete_by),
        side=wording.case_side(cart),
        side_known=cart.is_sided,
        alerts=" + ".join(alert.upper() for alert in case.alerts),
        surgeon=cart.surgeon_name,
        procedure="".join(cart.procedure_names[:1]) + more,
        revision=f"Revision {revision}",
        code=f"({ASSET_IDENTIFIER}){asset}" if asset else _code(case.number, revision),
        gs1=bool(asset),
    )


def _code(case: str, revision: int) -> str:
    """What the bar code says; empty when Code 128 cannot say it (plain ASCII, short enough to be read)."""
    code = cart_code(case, revision)
    return code if code.isascii() and code.isprintable() and len(code) <= LONGEST_CODE else ""
