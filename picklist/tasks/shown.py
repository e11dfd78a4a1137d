"""What the page shows of a plan, in the words and the order of the papers: the page's one door to their views."""

from __future__ import annotations

from collections.abc import Mapping

from picklist.documents.board.page import board_html
from picklist.documents.templates import as_typed, isolated, template_folder
from picklist.documents.views.conflict_sheet import CAUTION, ConflictBlock
from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.open_list import HOLD, PUT_BACK, QUESTION, OpenRow, became_of, informed
from picklist.documents.views.pick_list import undated
from picklist.documents.views.stamp import printing_of
from picklist.model.known import CartReport
from picklist.model.plan import Plan

__all__ = [
    "CAUTION",
    "HOLD",
    "PUT_BACK",
    "QUESTION",
    "ConflictBlock",
    "EveningView",
    "Lookup",
    "OpenRow",
    "as_typed",
    "became_of",
    "board_html",
    "cover",
    "informed",
    "isolated",
    "template_folder",
    "undated",
]


def cover(plan: Plan, reported: Mapping[str, CartReport]) -> EveningView:
    """The evening's first page; ``reported``: how far carts are."""
    return EveningView(Lookup(plan), lambda _case: printing_of(plan), reported)
