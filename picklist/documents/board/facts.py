"""The plain tables under the board: the same facts as rows."""

from __future__ import annotations

from dataclasses import dataclass

from picklist import wording
from picklist.documents.board.deadline_strip import overrun_words
from picklist.documents.board.decision_list import DecisionLine
from picklist.documents.board.index import BoardIndex, Ref, case_href, conflict_href
from picklist.documents.views.lookup import in_order_of_completion
from picklist.model.conflicts import Conflict
from picklist.model.plan import Cart
from picklist.model.uses import Reuse


@dataclass(frozen=True, slots=True, kw_only=True)
class FactRow:
    """A row of cells; ``kind`` is a conflict's, ``begins`` and ``ends`` minutes on the scale.

    Without a ``find`` of its own a row is found as what its head links to.
    """

    cells: tuple[Ref, ...]
    find: str
    kind: str = ""
    begins: int | None = None
    ends: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FactTable:
    """A table; the first cell of a row is its head."""

    id: str
    title: str
    heads: tuple[str, ...]
    rows: tuple[FactRow, ...]
    none: str


def fact_tables(index: BoardIndex, entries: tuple[DecisionLine, ...]) -> tuple[FactTable, ...]:
    """Conflicts, cases and the sets that pass on."""
    return (_conflicts(index, entries), _cases(index), _passes(index))


def _conflicts(index: BoardIndex, entries: tuple[DecisionLine, ...]) -> FactTable:
    rows = (_conflict(index, one, entry) for one, entry in zip(index.conflicts, entries, strict=True))
    return FactTable(
        id="table-conflicts",
        title="Conflicts",
        heads=("Conflict", "Decide by", "Case", "Room", "Needed", "Tray", "Amount", "Risk", "Remedies"),
        rows=tuple(rows),
        none="No conflicts.",
    )


def _conflict(index: BoardIndex, one: Conflict, entry: DecisionLine) -> FactRow:
    found = index.found
    cells = (
        Ref(text=one.kind.value, href=conflict_href(one.id)),
        Ref(text=found.when(one.decide_by)),
        index.case_ref(one.waiter),
        Ref(text=entry.room),
        Ref(text=found.when(index.needed(one))),
        index.tray_ref(one.tray),
        Ref(text=entry.amount),
        Ref(text=entry.chance or wording.NONE),
        Ref(text=entry.remedies),
    )
    return FactRow(cells=cells, kind=one.kind.value, begins=entry.minute, ends=entry.minute, find="")


def _cases(index: BoardIndex) -> FactTable:
    return FactTable(
        id="table-cases",
        title="Cases",
        heads=("Case", "Cart by", "Room", "From", "To", "Surgeon", "Procedure", "Conflicts"),
        rows=tuple(_case(index, cart) for cart in in_order_of_completion(index.plan.carts)),
        none="No cases.",
    )


def _case(index: BoardIndex, cart: Cart) -> FactRow:
    found, case = index.found, cart.case
    begins, ends = index.starts(cart), index.ends(cart)
    told = [f"waits, {one.kind.value}: {found.tray_wanted(one)}" for one in index.waits.get(case.number, ())]
    given = (one for one in index.gives.get(case.number, ()) if one.waiter != case.number)
    told += [f"passes {found.tray(one.tray)} on to {one.waiter}" for one in given]
    texts = (
        found.when(cart.complete_by),
        case.room,
        found.when(begins),
        found.when(ends),
        cart.surgeon_name,
        ", ".join(cart.procedure_names),
        "; ".join(dict.fromkeys(told)) or wording.NONE,
    )
    return FactRow(
        cells=(Ref(text=case.number, href=case_href(case.number)), *(Ref(text=text) for text in texts)),
        find="",
        begins=index.axis.minute(begins),
        ends=index.axis.minute(ends),
    )


def _passes(index: BoardIndex) -> FactTable:
    return FactTable(
        id="table-passes",
        title="Sets to turn around",
        heads=("Set", "Tray", "From", "Received", "Ready", "For", "Needed", "To spare", "Risk", "Overrun"),
        rows=tuple(_pass(index, one) for one in index.reuses_of_day()),
        none="No set has to be turned around.",
    )


def _pass(index: BoardIndex, one: Reuse) -> FactRow:
    found = index.found
    cells = (
        Ref(text=one.set_id),
        index.tray_ref(one.tray),
        index.case_ref(one.giver) if one.giver else Ref(text=one.from_state),
        Ref(text=found.when(one.received)),
        Ref(text=found.ready(one)),
        index.case_ref(one.waiter),
        Ref(text=found.when(one.needed)),
        Ref(text=wording.to_spare(found.headline(one).slack)),
        Ref(text=found.risk(one) or wording.NONE),
        Ref(text=overrun_words(one) or wording.NONE),
    )
    return FactRow(
        cells=cells,
        find=" ".join([one.set_id, found.tray(one.tray), one.tray, one.giver, one.waiter, found.room(one.waiter)]),
        begins=index.axis.minute(one.released),
        ends=index.axis.minute(one.needed),
    )
