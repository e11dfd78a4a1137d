"""What to put on a cart, take off it and mark otherwise: the rows that every paper on changes shares."""

from __future__ import annotations

from collections.abc import Iterable
from operator import itemgetter

from picklist import wording
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.evening.content import CartThing, Handling, PieceLine, Remark
from picklist.letters import natural_key
from picklist.model.cards import ThingKind
from picklist.model.schedule import ONE_SIDE
from picklist.model.sets import SetState
from picklist.wording.set_states import NO_PLACE

STERILE_PROCESSING = "sterile processing"
KINDS = tuple(ThingKind)  # in the order in which a list names them


class MoveRow(View):
    """So many of one thing to put on or take off.

    ``place`` is where to fetch it or put it back; ``cart`` the cart that gives or gets it, beside which no place needs
    to be named, and ``note`` what else to know. What is still ``coming`` is on no cart yet. ``which``: set or lot.
    """

    def __init__(self, found: Lookup, line: PieceLine, opened: int, hold: int, place: str, coming: str = "") -> None:
        piece, cart = line.piece, "" if coming else line.cart
        self.place = place or ("" if cart else NO_PLACE)
        self.cart = cart
        self.name = _name(found, piece)
        self.thing = piece.wanted if piece.set_id else piece.thing
        self.which = piece.set_id or piece.lot or wording.NONE
        self.is_set = bool(piece.set_id)
        self.expiry = wording.NONE if piece.set_id or not piece.lot else wording.expiry(piece.expiry)
        self.open = wording.quantity(opened)
        self.hold = wording.quantity(hold)
        self.total = str(opened + hold)
        self.note = coming or ("" if piece.wanted else "put on by hand")


class StayRow(View):
    """So many of a thing that stay on the cart but serve otherwise now."""

    def __init__(self, found: Lookup, one: Remark) -> None:
        self.name = f"{one.quantity} × {_name(found, one.after)}"
        self.which = one.after.set_id or one.after.lot
        self.was = _use(found, one.before, one.after)
        self.now = _use(found, one.after, one.before)


def to_add(found: Lookup, lines: Iterable[PieceLine], case: str = "") -> tuple[MoveRow, ...]:
    """Rows to put on the cart of ``case``: trays, packs, then the rest in walking order."""
    cart = found.plan.cart(case)
    trays = {one.set_id: one for one in cart.trays} if cart else {}
    rows = []
    for line, opened, hold in _together(lines):
        tray, coming = trays.get(line.piece.set_id) if line.piece.set_id else None, ""
        place = line.piece.fetch or (tray.place_now if tray else found.item_places.get(line.piece.thing, ""))
        if line.cart and line.piece.set_id and place not in found.places:  # "on the cart of case ..."
            place = line.piece.home
        if tray and tray.expected:  # if it is on a shelf, it is not to be taken as it is
            coming = f"expected {wording.at_pace(found.when(tray.expected), tray.pace)}"
            place = place if place in found.places or not place else f"now {place}"
        row = MoveRow(found, line, opened, hold, place, coming)
        rows.append(((KINDS.index(line.piece.kind), *_walk(found, place, row)), row))
    return tuple(row for _, row in sorted(rows, key=itemgetter(0)))


def to_take_off(found: Lookup, lines: Iterable[PieceLine]) -> tuple[MoveRow, ...]:
    """Rows to take off: what goes to another cart first, then what is put back in walking order."""
    rows = []
    for line, opened, hold in _together(lines):
        row = MoveRow(found, line, opened, hold, _goes_to(found, line.piece))
        rows.append(((not row.cart, *_walk(found, line.piece.home, row)), row))
    return tuple(row for _, row in sorted(rows, key=itemgetter(0)))


def _goes_to(found: Lookup, piece: CartThing) -> str:
    """Where a thing goes that comes off a cart: a set that is not ready belongs on no shelf."""
    one = found.sets.get(piece.set_id)
    return piece.home if one is None or one.state is SetState.ON_SHELF else STERILE_PROCESSING


def _walk(found: Lookup, place: str, row: MoveRow) -> tuple[object, ...]:
    return (found.walk_key(place), natural_key(row.name), row.which, row.cart, row.note)


def stays(found: Lookup, remarks: Iterable[Remark]) -> tuple[StayRow, ...]:
    """Rows of what stays on the cart and now serves otherwise."""
    return tuple(StayRow(found, one) for one in remarks)


def _together(lines: Iterable[PieceLine]) -> list[tuple[PieceLine, int, int]]:
    """Lines of one thing from one place for one cart, with their open and hold numbers side by side."""
    found: dict[tuple[str, ...], tuple[PieceLine, dict[Handling, int]]] = {}
    for line in lines:
        key = (*line.piece.body, line.piece.wanted, line.piece.person, line.cart)
        _, counts = found.setdefault(key, (line, dict.fromkeys(Handling, 0)))
        counts[line.piece.part] += line.quantity
    return [(line, counts[Handling.OPEN], counts[Handling.HOLD]) for line, counts in found.values()]


def _name(found: Lookup, piece: CartThing) -> str:
    name = piece.name or (found.tray(piece.wanted) if piece.set_id else found.item(piece.thing))
    side = found.sets[piece.set_id].side if piece.set_id in found.sets else None
    if side in ONE_SIDE:
        name = f"{name}, {side}"
    if piece.thing and piece.wanted and piece.thing != piece.wanted:
        given = found.item(piece.thing)
        name = f"{piece.name if given == piece.thing and piece.name else given}, in place of {found.item(piece.wanted)}"
    return f"{name}, for {found.person(piece.person)}" if piece.person else name


def _use(found: Lookup, piece: CartThing, other: CartThing) -> str:
    """What a piece serves for, as far as the other one serves otherwise."""
    parts = [piece.part.value.upper()] if piece.part is not other.part else []
    parts += [f"as {found.item(found.tray(piece.wanted))}"] if piece.wanted != other.wanted else []
    parts += [f"for {found.person(piece.person) or 'no person recorded'}"] if piece.person != other.person else []
    return ", ".join(parts)
