"""The plain tables under the board: the same facts as rows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from picklist import wording
from picklist.documents.board.decision_list import DecisionLine
from picklist.documents.board.index import BoardIndex, Ref, case_href, conflict_href
from picklist.documents.views.finished_words import View
from picklist.model.conflicts import Conflict
from picklist.model.plan import Cart, in_order_of_completion
from picklist.model.uses import Reuse
from picklist.wording.say_conflicts import overrun_words


class FactRow(View):
    """A row of cells; ``begins`` and ``ends`` are minutes on the scale, ``kind`` is a conflict's.

    Without a ``find`` of its own a row is found as what its head links to.
    """

    def __init__(
        self,
        index: BoardIndex,
        cells: Iterable[Ref | str],
        begins: datetime | None,
        ends: datetime | None,
        kind: str = "",
        find: str = "",
    ) -> None:
        self.cells = tuple(Ref(text=cell) if isinstance(cell, str) else cell for cell in cells)
        self.begins = index.axis.minute(begins) if begins else None
        self.ends = index.axis.minute(ends) if ends else None
        self.kind = kind
        self.find = find


class FactTable(View):
    """A table; the first cell of a row is its head."""

    def __init__(self, name: str, title: str, heads: str, rows: Iterable[FactRow], none: str) -> None:
        self.id = f"table-{name}"
        self.title = title
        self.heads = tuple(heads.split("|"))
        self.rows = tuple(rows)
        self.none = none


def fact_tables(index: BoardIndex, entries: tuple[DecisionLine, ...]) -> tuple[FactTable, ...]:
    """Conflicts, cases and the sets that pass on."""
    conflicts = (_conflict(index, one, entry) for one, entry in zip(index.conflicts, entries, strict=True))
    cases = (_case(index, cart) for cart in in_order_of_completion(index.plan.carts))
    passes = (_pass(index, one) for one in index.reuses_of_day())
    of_conflicts = "Conflict|Decide by|Case|Room|Needed|Tray|Amount|Risk|Remedies"
    of_cases = "Case|Cart by|Room|From|To|Surgeon|Procedure|Conflicts"
    of_passes = "Set|Tray|From|Received|Ready|For|Needed|To spare|Risk|Overrun"
    return (
        FactTable("conflicts", "Conflicts", of_conflicts, conflicts, "No conflicts."),
        FactTable("cases", "Cases", of_cases, cases, "No cases."),
        FactTable("passes", "Sets to turn around", of_passes, passes, "No set has to be turned around."),
    )


def _conflict(index: BoardIndex, one: Conflict, entry: DecisionLine) -> FactRow:
    found, needed = index.found, index.needed(one)
    cells = (
        Ref(text=one.kind.value, href=conflict_href(one.id)),
        found.when(one.decide_by),
        index.case_ref(one.waiter),
        entry.room,
        found.when(needed),
        replace(index.tray_ref(one.tray), text=entry.tray),
        entry.amount,
        entry.chance or wording.NONE,
        entry.remedies,
    )
    return FactRow(index, cells, needed, needed, kind=one.kind.value)


def _case(index: BoardIndex, cart: Cart) -> FactRow:
    found, case = index.found, cart.case
    begins, ends = index.starts(cart), index.ends(cart)
    told = [f"waits, {one.kind.value}: {found.tray_wanted(one)}" for one in index.waits.get(case.number, ())]
    given = (one for one in index.gives.get(case.number, ()) if one.waiter != case.number)
    told += [f"passes {found.tray(one.tray)} on to {one.waiter}" for one in given]
    cells = (
        Ref(text=case.number, href=case_href(case.number)),
        found.when(cart.complete_by),
        case.room,
        found.when(begins),
        found.when(ends),
        cart.surgeon_name,
        ", ".join(cart.procedure_names),
        "; ".join(dict.fromkeys(told)) or wording.NONE,
    )
    return FactRow(index, cells, begins, ends)


def _pass(index: BoardIndex, one: Reuse) -> FactRow:
    found = index.found
    cells = (
        one.set_id,
        index.tray_ref(one.tray),
        index.case_ref(one.giver) if one.giver else one.from_state,
        found.when(one.received),
        found.ready(one),
        index.case_ref(one.waiter),
        found.when(one.needed),
        wording.to_spare(found.headline(one).slack),
        found.risk(one) or wording.NONE,
        overrun_words(one) or wording.NONE,
    )
    find = " ".join([one.set_id, found.tray(one.tray), one.tray, one.giver, one.waiter, found.room(one.waiter)])
    return FactRow(index, cells, one.released, one.needed, find=find)
