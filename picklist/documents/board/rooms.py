"""Rooms with their cases along the day, and the ways by which sets pass from one case to another."""

from __future__ import annotations

from itertools import groupby

from picklist.documents.board.axis import lanes
from picklist.documents.board.index import LETTERS, BoardIndex, case_href, kinds_of
from picklist.documents.views.finished_words import View
from picklist.letters import natural_key
from picklist.model.plan import Cart
from picklist.model.uses import Reuse
from picklist.wording.quantities import wait_for

ROW = 30  # height of a lane of a room, in the units of the page's style


class CaseBar(View):
    """A case in its room. ``kinds`` are the conflicts in which it waits; ``gives``: others wait for its sets.

    ``begins`` and ``ends`` are minutes on the scale, for the filter of time; ``find`` is what a search looks in.
    ``letters``: the class of the number's length by which the style knows whether it fits. ``cart``: "built" without
    anything left to do, "started" with, empty when nothing was reported.
    """

    def __init__(self, index: BoardIndex, cart: Cart, lane: int) -> None:
        case, axis = cart.case, index.axis
        begins, ends = index.starts(cart), index.ends(cart)
        self.href = case_href(case.number)
        self.left = axis.at(begins)
        self.width = round(axis.at(ends) - self.left, 2)
        self.lane = lane
        self.number = case.number
        self.short = index.short(case.number)
        self.letters = next(most for most in LETTERS if len(self.short) <= most)
        self.who = cart.surgeon_name
        self.what = ", ".join(cart.procedure_names)
        self.label = _label(index, cart)
        self.kinds = kinds_of(index.waits.get(case.number, ()))
        self.gives = case.number in index.gives
        self.stopped = bool(cart.stopped)
        self.cart = _how_far(index, case.number)
        self.begins = axis.minute(begins)
        self.ends = axis.minute(ends)
        self.find = find_case(cart)


class RoomRow(View):
    """A room; ``lanes`` above one when cases overlap."""

    def __init__(self, index: BoardIndex, room: str, carts: list[Cart]) -> None:
        taken = lanes([(index.starts(cart), index.ends(cart)) for cart in carts])
        self.room = room
        self.lanes = max(taken) + 1
        self.bars = tuple(CaseBar(index, cart, lane) for cart, lane in zip(carts, taken, strict=True))
        self.trouble = any(bar.kinds or bar.gives for bar in self.bars)


class Pass(View):
    """A set that goes from one case of the day to another: its line in the field of rooms.

    In per cent of the width, ``x1`` is where it leaves the room, ``x2`` where it is needed and ``x3`` where the
    waiting case begins; ``row1`` and ``row2`` are the middles of both cases, in lanes from the top.
    """

    def __init__(self, index: BoardIndex, reuse: Reuse, middles: dict[str, float]) -> None:
        conflicts = index.waits.get(reuse.waiter, ())
        self.giver = case_href(reuse.giver)[1:]
        self.waiter = case_href(reuse.waiter)[1:]
        self.x1 = index.axis.at(index.ends(index.carts[reuse.giver]))
        self.x2 = index.axis.at(reuse.needed)
        self.x3 = index.axis.at(index.starts(index.carts[reuse.waiter]))
        self.row1 = middles[reuse.giver]
        self.row2 = middles[reuse.waiter]
        self.trouble = any(reuse.set_id == one.set_id and reuse.giver in one.givers for one in conflicts)


def room_rows(index: BoardIndex) -> tuple[RoomRow, ...]:
    """Rooms as people read them, each with its cases in order of time."""

    def key(cart: Cart) -> tuple[object, str, object, object]:
        number = natural_key(cart.case.number)
        return (natural_key(cart.case.room), cart.case.room, cart.complete_by, number)

    ordered = sorted(index.plan.carts, key=key)
    return tuple(RoomRow(index, room, list(some)) for room, some in groupby(ordered, key=lambda cart: cart.case.room))


def _how_far(index: BoardIndex, case: str) -> str:
    report = index.reported.get(case)
    return "" if report is None else "built" if report.finished else "started"


def _line(cart: Cart) -> str:
    return f"{cart.surgeon_name} · {', '.join(cart.procedure_names)}"


def _label(index: BoardIndex, cart: Cart) -> str:
    """The bar in words, beginning with those that are seen in it."""
    found, case = index.found, cart.case
    times = f"{found.when(index.starts(cart))} to {found.when(index.ends(cart))}"
    short = index.short(case.number)
    parts = [f"{short} {_line(cart)}", *([] if case.number.endswith(short) else [case.number]), f"{case.room}, {times}"]
    parts += [f"{one.kind.value}: {found.tray_wanted(one)}" for one in index.waits.get(case.number, ())]
    waiting = dict.fromkeys(one.waiter for one in index.gives.get(case.number, ()) if one.waiter != case.number)
    parts += [wait_for(waiting, "its sets")] if waiting else []
    parts += ["its list is on hold"] if cart.stopped else []
    parts += [f"cart {state}"] if (state := index.state(case.number)) else []
    return "; ".join(parts)


def find_case(cart: Cart) -> str:
    """What a search for a case looks in: number, room, surgeon, procedures, trays and sets."""
    case = cart.case
    names = [case.number, case.room, case.surgeon, cart.surgeon_name, *cart.procedure_names]
    for tray in cart.trays:
        names += [tray.name, tray.need.thing, tray.set_id]
    return " ".join(dict.fromkeys(name for name in names if name))


def passes(index: BoardIndex, rows: tuple[RoomRow, ...]) -> tuple[Pass, ...]:
    """The ways of the sets between cases of the day, those in trouble last so that they are on top."""
    middles: dict[str, float] = {}
    above = 0
    for row in rows:
        middles |= {bar.number: above + bar.lane + 0.5 for bar in row.bars}
        above += row.lanes
    made = [
        Pass(index, reuse, middles)
        for reuse in index.reuses_of_day()
        if reuse.giver in middles and reuse.waiter in middles
    ]
    return tuple(sorted(made, key=lambda one: one.trouble))
