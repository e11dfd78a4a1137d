"""Trays in trouble: their sets, and the cases that go without."""

from __future__ import annotations

from picklist import wording
from picklist.clock import shift
from picklist.documents.board.index import BoardIndex, kinds_of
from picklist.documents.board.set_rows import LATE, WANTED, DaySpan, SetBars, on_board
from picklist.documents.views.view import View
from picklist.letters import natural_key
from picklist.model.conflicts import Conflict, ConflictKind


class WantRow(View):
    """A case that goes without: what it wants and for how long no set is there."""

    def __init__(self, index: BoardIndex, one: Conflict) -> None:
        cart, axis = index.carts[one.waiter], index.axis
        needed = index.needed(one) or cart.complete_by
        wants = f"{one.waiter} needs one by {index.found.when(needed)}"
        short = f"{wording.span(one.minutes)} short" if one.minutes else ""
        pieces = [DaySpan(axis, WANTED, (needed, index.ends(cart)), f"{index.short(one.waiter)} needs one", wants)]
        if short:
            pieces.insert(0, DaySpan(axis, LATE, (needed, shift(needed, one.minutes)), short, short))
        self.case = index.case_ref(one.waiter)
        self.label = f"{wants}, {short}" if short else wants
        self.pieces = on_board(pieces)


class TrayGroup(View):
    """A tray in trouble; ``find`` is what a search looks in."""

    def __init__(self, index: BoardIndex, tray: str) -> None:
        conflicts = [one for one in index.conflicts if one.tray == tray]
        sets = _sets_of(index, tray, conflicts)
        kept = next((one.keep_ready for one in index.plan.trays if one.id == tray), 0)
        note = wording.counted(len(index.sets_of.get(tray, ())), "set")
        cases = dict.fromkeys(case for one in conflicts for case in (*one.givers, one.waiter))
        wanting = [one for one in conflicts if one.kind is ConflictKind.SHORT and one.waiter in index.carts]
        self.tray = index.tray_ref(tray)
        self.key = index.tray_ref(tray).href[1:]
        self.kinds = kinds_of(conflicts)
        self.note = f"{note}, {kept} kept ready" if kept else note
        self.wants = tuple(WantRow(index, one) for one in wanting)
        self.sets = tuple(SetBars(index, one) for one in sets)
        self.find = " ".join([index.found.tray(tray), tray, *sets, *cases])


def tray_groups(index: BoardIndex) -> tuple[TrayGroup, ...]:
    """The trays of the conflicts by name, each with its sets."""
    return tuple(TrayGroup(index, tray) for tray in index.troubled)


def _sets_of(index: BoardIndex, tray: str, conflicts: list[Conflict]) -> list[str]:
    """The sets of a tray and those of the proofs (stand-ins), as people read them."""
    named = set(index.sets_of.get(tray, ()))
    named |= {bound.set_id for one in conflicts if one.proof for bound in one.proof.sets}
    return sorted((named | {one.set_id for one in conflicts}) - {""}, key=natural_key)
