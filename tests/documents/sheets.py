"""Every sheet of the hand-made evening as data, and the golden files they are compared with."""

from __future__ import annotations

import json
from copy import copy
from pathlib import Path
from typing import Any, TypeVar

from picklist.documents.views.bulk import BulkView
from picklist.documents.views.change_sheet import ChangesView
from picklist.documents.views.conflict_sheet import ConflictsView
from picklist.documents.views.department_sheet import DepartmentView
from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.finished_words import View, as_data
from picklist.documents.views.labels import LabelsView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.morning_page import MorningView
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.shortages import ShortagesView
from picklist.documents.views.stamp import Printing, printing_of
from picklist.documents.views.worklist import WorklistView
from picklist.model.plan import Plan
from tests.documents.findings import rich_plan
from tests.documents.revisions import the_change
from tests.documents.the_morning import the_points

V = TypeVar("V", bound=View)
GOLDEN = Path(__file__).parent / "golden"


def all_views(plan: Plan) -> dict[str, Any]:
    """The view of each document, and of the longest and the stopped cart, by name."""
    found, own = Lookup(plan), printing_of(plan)

    def printing(_: str) -> Printing:
        return own

    carts = {cart.case.number: PickListView(found, cart, own) for cart in plan.carts}
    return {
        "pick-list": carts["C-1041"],
        "pick-list-stopped": carts["C-1050"],
        "pick-list-waiting": carts["C-1047"],
        "labels": LabelsView(found, printing),
        "bulk": BulkView(found),
        "department": DepartmentView(found),
        "conflicts": ConflictsView(found),
        "shortages": ShortagesView(found),
        "worklist": WorklistView(found),
        "evening": EveningView(found, printing),
        "changes": ChangesView(found, the_change()),
        "morning": MorningView(found, the_points(plan)),
        "pick-list-changed": changed_list(found, "C-1041", own),
    }


def changed_list(found: Lookup, case: str, printing: Printing) -> PickListView:
    """A list of a later revision, with what is new on it."""
    cart = next(cart for cart in found.plan.carts if cart.case.number == case)
    return PickListView(found, cart, printing, the_change().of_live(case))


def otherwise(view: V, **words: Any) -> V:
    """A view with other words in some places."""
    other = copy(view)
    vars(other).update(words)
    return other


def as_text(view: Any) -> str:
    return json.dumps(as_data(view), indent=1, ensure_ascii=False) + "\n"


def write_goldens() -> None:
    GOLDEN.mkdir(exist_ok=True)
    for name, view in all_views(rich_plan()).items():
        (GOLDEN / f"{name}.json").write_text(as_text(view), encoding="utf-8")


if __name__ == "__main__":
    write_goldens()
