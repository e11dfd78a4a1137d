"""What the operations did to the lots on the shelves: the difference to what was counted before."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from picklist.evening.content import CartThing, Content, Handling, beyond_list
from picklist.evening.table_changes import (
    Body,
    CountedBefore,
    CountedItem,
    CountedShelf,
    DayFacts,
    LotRow,
    RowChange,
    RowCounts,
    newest_count,
)
from picklist.evening.usage import UsageLine
from picklist.model.built import BuiltCart
from picklist.model.cards import ThingKind
from picklist.model.catalogue import Lot
from picklist.model.expiry import taking_order
from picklist.model.known import TableChange
from picklist.model.site import Site
from picklist.problems import NOWHERE, Problem, Where, to_fix


def lot_changes(
    site: Site, carts: Mapping[str, Content], facts: DayFacts, counted: CountedBefore, ends: Mapping[str, datetime]
) -> tuple[tuple[RowChange, ...], tuple[Problem, ...]]:
    """The rows of the lots that the carts (content by case) took from, and what does not add up.

    A row changes by what is not counted yet. ``ends`` tells when each case was to end.
    """
    shelf = _Shelf(lots=site.lots)
    fresh: list[CountedItem] = []
    for case, content in carts.items():
        built = facts.built[case]
        fresh += shelf.of_cart(
            _Cart(
                name=counted.cart(case),
                facts=built,
                content=content,
                usage=[line for line in facts.usage if line.case == case],
                before=counted.of_cart(counted.cart(case)),
                over_at=ends.get(case, built.at),
            )
        )
    counts = shelf.counts(facts.built, counted)
    rows = {one.row for one in fresh} | set(counts)
    there = [row for row in dict.fromkeys(_row_of(lot) for lot in site.lots) if row in rows]
    changes = [
        change
        for row in (*there, *sorted(rows - set(there)))
        if (change := shelf.change(row, [one for one in fresh if one.row == row], counts.get(row, []), counted))
    ]
    return tuple(changes), tuple(shelf.problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cart:
    """One cart with reported usage: what was on it, what was used, and what of it was counted ``before``."""

    name: str
    facts: BuiltCart
    content: Content
    usage: Sequence[UsageLine]
    before: Mapping[Body, CountedItem]
    over_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shelf:
    """The lots, to find the one that is meant; what cannot be found is noted."""

    lots: Sequence[Lot]
    problems: list[Problem] = field(default_factory=list)

    def find(self, item: str, lot: str, place: str) -> list[Lot]:
        """Lots that may be meant; a blank lot or place fits all."""
        return [x for x in self.lots if x.item == item and lot in ("", x.lot) and place in ("", x.place)]

    def of_cart(self, cart: _Cart) -> list[CountedItem]:
        """What the cart took and gave back where that is not what was counted before."""
        taken, back = _taken(cart), _came_back(cart)
        fresh = []
        for body in sorted(taken.keys() | back.keys() | cart.before.keys()):
            known, (item, lot, place) = cart.before.get(body), body
            row = known.row if known else self._row(body, taken[body], cart.facts.case)
            one = row and CountedItem(
                cart=cart.name,
                item=item,
                lot=lot,
                place=place,
                row_lot=row[1],
                row_place=row[2],
                taken=taken[body],
                back=back[body],
                built_at=known.built_at if known else cart.facts.at,
                over_at=known.over_at if known else cart.over_at,
            )
            if one and one != known:
                fresh.append(one)
        return fresh

    def _row(self, body: Body, quantity: int, case: str) -> LotRow | None:
        """The one row that is meant; None (noted) when there is none or several."""
        fit = self.find(*body)
        if len(fit) == 1:
            return _row_of(fit[0])
        what = f"{quantity} of {body[0]} went to case {case}, but not from which lot"
        self._note("lot not known", what, body[0], fit)
        return None

    def counts(self, built: Mapping[str, BuiltCart], counted: CountedBefore) -> dict[LotRow, list[CountedShelf]]:
        """The counts of each row that were not taken over yet; counts of no one lot are noted."""
        found: dict[LotRow, list[CountedShelf]] = {}
        known = {(one.cart, one.row, one.quantity) for one in counted.shelf}
        for case, facts in sorted(built.items(), key=lambda pair: (pair[1].at, pair[0])):
            for count in facts.counts:
                fit = self.find(count.item, count.lot, count.place)
                if len(fit) != 1:
                    what = f"{count.quantity} of {count.item} were counted, but not of which lot"
                    self._note("count of no one lot", what, count.item, fit, count.where)
                    continue
                row, cart = _row_of(fit[0]), counted.cart(case)
                one = CountedShelf(
                    cart=cart,
                    item=row[0],
                    row_lot=row[1],
                    row_place=row[2],
                    counted_at=count.reported_at or facts.at,
                    quantity=count.quantity,
                )
                if (cart, row, count.quantity) not in known:
                    found.setdefault(row, []).append(one)
        return found

    def change(
        self, row: LotRow, fresh: Sequence[CountedItem], counts: Sequence[CountedShelf], counted: CountedBefore
    ) -> RowChange | None:
        """The row as it shall be, and what then stands counted; None (noted) when it cannot be."""
        lot = next((one for one in self.lots if _row_of(one) == row), None)
        if lot is None:
            self._note("row gone", f"more or less of {row[0]} lot {row[1]} was used than counted", row[0], ())
            return None
        before = {(one.cart, one.body): one for one in counted.items if one.row == row}
        after = before | {(one.cart, one.body): one for one in fresh}
        last, new = counted.last_count(row), newest_count(counts)
        if new and (last is None or new.counted_at >= last.counted_at or new.cart == last.cart):
            base, why = new.quantity, "counted, then used on the day"
            left = base - sum(one.since(new) for one in after.values())
        else:
            base, why = lot.quantity, "used on the day"
            used = sum(after[key].since(last) - (before[key].since(last) if key in before else 0) for key in after)
            left = base - used
        if left < 0:
            self.problems.append(_below_zero(lot, base, left))
            return None
        change = TableChange(table="Lots", key=row, column="quantity", was=lot.quantity, becomes=left, why=why)
        changes = () if left == lot.quantity else (change,)
        return RowChange(where=lot.where, changes=changes, counts=RowCounts(items=tuple(fresh), shelf=tuple(counts)))

    def _note(self, kind: str, message: str, item: str, fit: Sequence[Lot], where: Where = NOWHERE) -> None:
        self.problems.append(
            to_fix(
                kind,
                where,
                message,
                value=item,
                expected="a count of its lots; their rows were left as they are",
                nearest=tuple(f"{lot.lot} at {lot.place}" for lot in fit[:3]),
            )
        )


def _row_of(lot: Lot) -> LotRow:
    return lot.item, lot.lot, lot.place


def _taken(cart: _Cart) -> Counter[Body]:
    """What left the shelves for one case: its cart, and what was added beyond the list and did not come back."""
    found: Counter[Body] = Counter()
    for piece in sorted((p for p in cart.content if not p.set_id), key=lambda p: p.order):
        found[piece.thing, piece.lot, piece.place] += cart.content[piece]
    for item, quantity in sorted(_added(cart).items()):
        for lot, some in _lots_of_added(cart, item, quantity):
            found[item, lot, ""] += some
    return +found


def _lots_of_added(cart: _Cart, item: str, quantity: int) -> Iterable[tuple[str, int]]:
    """From which lots so many of an item were added: as the room reported, then the crew; else unknown."""
    listed = {piece.lot for piece in cart.content if piece.thing == item}
    for line in _goods(cart):
        for one in line.packages if line.thing == item else ():
            some = min(quantity, one.used) if one.lot and one.lot not in listed else 0
            quantity -= some
            yield one.lot, some
    lots = {one.lot for one in cart.facts.added if one.item == item}
    yield lots.pop() if len(lots) == 1 else "", quantity


def _added(cart: _Cart) -> Counter[str]:
    """What was added beyond the list and did not come back, as the room reported it or else the crew.

    Where the room used more than what the list put there, it was of what the crew added.
    """
    found: Counter[str] = Counter()
    more: Counter[str] = Counter()
    for line in _goods(cart):
        listed = sum(cart.content[p] for p in _pieces(cart, line))
        found[line.thing] += line.added - max(0, _unopened(cart, line) - listed)
        more[line.thing] += max(0, line.used - line.added - listed)
    by_hand: Counter[str] = Counter()
    for piece, quantity in beyond_list(cart.content, cart.facts).items():
        by_hand[piece.thing] += quantity
    told = {line.thing for line in _goods(cart)}
    for item, quantity in by_hand.items():
        found[item] += min(quantity, more[item]) if item in told else quantity
    return +found


def _came_back(cart: _Cart) -> Counter[Body]:
    """What of one cart came back unopened, by lot: those on hold first, then what was taken last."""
    found: Counter[Body] = Counter()
    for line in _goods(cart):
        left = _unopened(cart, line)
        for piece in sorted(_pieces(cart, line), key=gives_back):
            both = min(left, cart.content[piece])
            found[piece.thing, piece.lot, piece.place] += both
            left -= both
    return +found


def _unopened(cart: _Cart, line: UsageLine) -> int:
    """How many of a line came back, of those that really were on the cart and those added.

    What the room did not count is the rest of what was there, and not of what the list asked for.
    """
    pieces = _pieces(cart, line)
    there = sum(cart.content[p] for p in pieces) + line.added
    if line.unopened_told:
        return min(line.unopened, there)
    opened = sum(cart.content[p] for p in pieces if p.part is Handling.OPEN) + line.added
    return max(0, there - max(opened, line.used))


def _goods(cart: _Cart) -> Iterable[UsageLine]:
    return [line for line in cart.usage if line.kind is not ThingKind.TRAY]


def _pieces(cart: _Cart, line: UsageLine) -> list[CartThing]:
    return [p for p in cart.content if not p.set_id and p.wanted == line.thing and p.person == line.person]


def gives_back(piece: CartThing) -> tuple[bool, int, int, tuple[str, ...]]:
    """A sort key: of what came back unopened, what was on hold first, then what was taken last."""
    kind, day = taking_order(piece.expiry)
    return (piece.part is Handling.OPEN, -kind, -day, piece.order)


def _below_zero(lot: Lot, base: int, left: int) -> Problem:
    return to_fix(
        "lot below zero",
        lot.where,
        f"{base} of {lot.item} lot {lot.lot} at {lot.place} were there, and {base - left} were used",
        value=str(left),
        expected=f"how many there were before these {base - left} were used; they are taken off then, "
        "and until then its row is left as it is",
    )
