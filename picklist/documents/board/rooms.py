"""Rooms with their cases along the day, and the ways by which sets pass from one case to another."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from picklist import wording
from picklist.documents.board.axis import lanes
from picklist.documents.board.index import LETTERS, BoardIndex, case_href, kinds_of
from picklist.letters import natural_key
from picklist.model.plan import Cart
from picklist.model.uses import Reuse

ROW = 30  # height of a lane of a room, in the units of the page's style


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseBar:
    """A case in its room. ``kinds`` are the conflicts in which it waits; ``gives``: others wait for its sets.

    ``begins`` and ``ends`` are minutes on the scale, for the filter of time; ``find`` is what a search looks in.
    ``letters``: the class of the number's length by which the style knows whether it fits.
    """

    href: str
    left: float
    width: float
    lane: int
    number: str
    short: str
    letters: int
    who: str
    what: str
    label: str
    kinds: tuple[str, ...]
    gives: bool
    stopped: bool
    cart: str  # "built" without anything left to do, "started" with, empty when nothing was reported
    begins: int
    ends: int
    find: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomRow:
    """A room; ``lanes`` above one when cases overlap."""

    room: str
    lanes: int
    trouble: bool
    bars: tuple[CaseBar, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pass:
    """A set that goes from one case of the day to another: its line in the field of rooms.

    In per cent of the width, ``x1`` is where it leaves the room, ``x2`` where it is needed and ``x3`` where the
    waiting case begins; ``row1`` and ``row2`` are the middles of both cases, in lanes from the top.
    """

    giver: str
    waiter: str
    x1: float
    x2: float
    x3: float
    row1: float
    row2: float
    trouble: bool


def room_rows(index: BoardIndex) -> tuple[RoomRow, ...]:
    """Rooms as people read them, each with its cases in order of time."""

    def key(cart: Cart) -> tuple[object, str, object, object]:
        number = natural_key(cart.case.number)
        return (natural_key(cart.case.room), cart.case.room, cart.complete_by, number)

    ordered = sorted(index.plan.carts, key=key)
    return tuple(_row(index, room, list(some)) for room, some in groupby(ordered, key=lambda cart: cart.case.room))


def _row(index: BoardIndex, room: str, carts: list[Cart]) -> RoomRow:
    taken = lanes([(index.starts(cart), index.ends(cart)) for cart in carts])
    bars = tuple(_bar(index, cart, lane) for cart, lane in zip(carts, taken, strict=True))
    return RoomRow(room=room, lanes=max(taken) + 1, trouble=any(bar.kinds or bar.gives for bar in bars), bars=bars)


def _bar(index: BoardIndex, cart: Cart, lane: int) -> CaseBar:
    case, axis = cart.case, index.axis
    begins, ends = index.starts(cart), index.ends(cart)
    left = axis.at(begins)
    conflicts = index.waits.get(case.number, ())
    return CaseBar(
        href=case_href(case.number),
        left=left,
        width=round(axis.at(ends) - left, 2),
        lane=lane,
        number=case.number,
        short=index.short(case.number),
        letters=next(most for most in LETTERS if len(index.short(case.number)) <= most),
        who=cart.surgeon_name,
        what=", ".join(cart.procedure_names),
        label=_label(index, cart),
        kinds=kinds_of(conflicts),
        gives=case.number in index.gives,
        stopped=bool(cart.stopped),
        cart=_how_far(index, case.number),
        begins=axis.minute(begins),
        ends=axis.minute(ends),
        find=find_case(cart),
    )


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
    parts += [f"{wording.listed(waiting)} waits for its sets"] if waiting else []
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
        _pass(index, reuse, middles)
        for reuse in index.reuses_of_day()
        if reuse.giver in middles and reuse.waiter in middles
    ]
    return tuple(sorted(made, key=lambda one: one.trouble))


def _pass(index: BoardIndex, reuse: Reuse, middles: dict[str, float]) -> Pass:
    conflicts = index.waits.get(reuse.waiter, ())
    return Pass(
        giver=case_href(reuse.giver)[1:],
        waiter=case_href(reuse.waiter)[1:],
        x1=index.axis.at(index.ends(index.carts[reuse.giver])),
        x2=index.axis.at(reuse.needed),
        x3=index.axis.at(index.starts(index.carts[reuse.waiter])),
        row1=middles[reuse.giver],
        row2=middles[reuse.waiter],
        trouble=any(reuse.set_id == one.set_id and reuse.giver in one.givers for one in conflicts),
    )
