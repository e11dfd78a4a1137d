"""What this revision changes: for each cart what to put on, take off and put back where."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from picklist.documents.views import words
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import Stamp, printing_of, stamp_for
from picklist.evening.changes import CartChange, CartChangeKind, PlanChange
from picklist.evening.content import Part, PieceLine, Remark
from picklist.evening.details import Detail, DetailValue
from picklist.evening.match_notes import MatchNote
from picklist.evening.questions import MatchQuestion
from picklist.model.cards import ThingKind

ASK = "Ask before this cart is touched; nothing is decided until then."
NEW = "A new cart: its whole list is printed. Only what it takes from other carts stands here."
CANCELLED = "Take the cart apart and put everything back; check package and expiry before it goes on its shelf."


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveRow:
    """So many of a thing to put on or to take off, from or to a place or another cart."""

    quantity: str
    name: str
    which: str
    part: str
    place: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CartBlock:
    """One cart that changes."""

    kind: str
    case: str
    room: str
    start: str
    revision: str
    built: bool
    say: str
    reasons: tuple[str, ...]
    add: tuple[MoveRow, ...]
    take_off: tuple[MoveRow, ...]
    remarks: tuple[str, ...]
    missing: tuple[MoveRow, ...]
    details: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A case that may be one of several earlier ones."""

    case: str
    candidates: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangesView:
    """The sheet for whoever mends the carts that stand there already."""

    stamp: Stamp
    title: str
    counts: str
    questions: tuple[Question, ...]
    notes: tuple[str, ...]
    carts: tuple[CartBlock, ...]
    elsewhere: tuple[tuple[str, str], ...]  # case, and where its sets are now or when they come


def change_sheet(found: Lookup, change: PlanChange) -> ChangesView:
    """The changed, new, stopped, cancelled and questioned carts, in the comparison's order."""
    carts = [cart for cart in change.carts if cart.kind is not CartChangeKind.UNCHANGED]
    still = len(change.carts) - len(carts)
    kinds = [(kind, sum(cart.kind is kind for cart in carts)) for kind in CartChangeKind]
    counts = [f"{number} {kind.value}" for kind, number in kinds if number]
    return ChangesView(
        stamp=stamp_for(found.plan, printing_of(found.plan), found.clock),
        title=f"Changes, {found.clock.day_text(found.day)}",
        counts=" · ".join([*counts, f"{still} keep their list"]),
        questions=tuple(_question(one) for one in change.questions),
        notes=tuple(_note(one) for one in change.notes),
        carts=tuple(_block(found, cart) for cart in carts),
        elsewhere=tuple(
            (cart.case, "; ".join(_detail(found, one) for one in cart.whereabouts))
            for cart in change.carts
            if cart.whereabouts
        ),
    )


def _block(found: Lookup, cart: CartChange) -> CartBlock:
    case = found.cases.get(cart.case)
    new = cart.kind is CartChangeKind.NEW
    return CartBlock(
        kind=cart.kind.value.upper(),
        case=cart.case if cart.case == cart.old_case or not cart.old_case else f"{cart.case} (was {cart.old_case})",
        room=case.room if case else "",
        start=found.when(case.start) if case else "",
        revision=_revision(cart),
        built=cart.built,
        say=_say(cart, found),
        reasons=cart.reasons,
        add=tuple(_row(line, "from") for line in cart.add if line.cart or not new),
        take_off=tuple(_row(line, "to") for line in cart.take_off),
        remarks=tuple(_remark(one) for one in cart.remarks),
        missing=tuple(_row(line, "from") for line in cart.still_missing),
        details=tuple(_detail(found, one) for one in cart.details),
    )


def _revision(cart: CartChange) -> str:
    if cart.kind is CartChangeKind.CANCELLED:
        return f"revision {cart.replaces} no longer counts" if cart.replaces is not None else ""
    replaces = "" if cart.replaces is None else f", replaces revision {cart.replaces}"
    return f"revision {cart.revision}{replaces}"


def _say(cart: CartChange, found: Lookup) -> str:
    moved = f"The case moved to {found.clock.day_text(cart.moved_to)}. " if cart.moved_to else ""
    said = {CartChangeKind.ASKED: ASK, CartChangeKind.NEW: NEW, CartChangeKind.CANCELLED: CANCELLED}
    return (moved + said.get(cart.kind, "")).strip()


def _row(line: PieceLine, towards: str) -> MoveRow:
    piece = line.piece
    shelf = (piece.fetch if towards == "from" else piece.home) or "place not given"
    which = piece.set_id if piece.kind is ThingKind.TRAY else " ".join(filter(None, (piece.thing, piece.lot)))
    return MoveRow(
        quantity=str(line.quantity),
        name=f"{piece.name or piece.wanted}{f', for {piece.person}' if piece.person else ''}",
        which=which,
        part=piece.part.value,
        place=f"{towards} the cart of {line.cart}" if line.cart else f"{towards} {shelf}",
    )


def _remark(one: Remark) -> str:
    name = one.after.name or one.after.wanted
    if one.before.part is not one.after.part:
        change = "to be opened, no longer on hold" if one.after.part is Part.OPEN else "on hold, no longer to be opened"
    else:
        change = f"now serves for {one.after.wanted}, before for {one.before.wanted}"
    return f"{one.quantity} {name} ({one.after.set_id or one.after.thing}) stays on the cart: {change}."


def _detail(found: Lookup, one: Detail) -> str:
    of = f" ({one.of})" if one.of else ""
    return f"{words.capital(one.what)}{of}: {_value(found, one.now)}, before {_value(found, one.was)}"


def _value(found: Lookup, value: DetailValue) -> str:
    if isinstance(value, datetime):
        return found.when(value)
    if isinstance(value, tuple):
        return "; ".join(value) or "none"
    return "none" if value in (None, "") else str(value)


def _question(one: MatchQuestion) -> Question:
    candidates = [
        f"{old.old_case}: {_same(old.agrees)}; differs in {words.listed(old.differs) or 'nothing'}"
        for old in one.candidates
    ]
    return Question(case=one.new_case, candidates=tuple(candidates))


def _same(agrees: tuple[str, ...]) -> str:
    return f"same {words.listed(agrees)}" if agrees else "nothing is the same"


def _note(one: MatchNote) -> str:
    return f"{words.capital(one.kind.value)}: {words.listed(one.old)} is now {words.listed(one.new)}."
