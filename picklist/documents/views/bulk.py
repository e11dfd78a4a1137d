"""The bulk sheet: everything to take from each place for all carts together."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from copy import copy
from dataclasses import replace

from picklist import wording
from picklist.documents.views.finished_words import Group, View
from picklist.documents.views.goods_rows import area_by_area
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import stamp_for
from picklist.evening.changes import PlanChange
from picklist.evening.content import Handling, PieceLine
from picklist.letters import natural_key
from picklist.model.plan import Cart, SundryLine, TrayLine, in_order_of_completion
from picklist.model.supply import Pick

MOST_ROWS = 400  # of one part; to set some 40 pages takes 200 MB


class BulkRow(View):
    """One lot at one place: how many in all, and how many go to which cart (one where no number stands)."""

    def __init__(self, pairs: list[tuple[SundryLine, Pick]]) -> None:
        line, first = pairs[0]
        opened, hold = sum(pick.open for _, pick in pairs), sum(pick.hold for _, pick in pairs)
        by_case: dict[str, int] = defaultdict(int)
        for _, pick in pairs:
            by_case[pick.case] += pick.open + pick.hold
        self.place = first.place or wording.NONE
        self.name = line.need.name
        self.item = first.item
        self.unit = line.unit
        self.lot = first.lot or wording.NONE
        self.expiry = wording.expiry(first.expiry)
        self.total = str(opened + hold)
        self.open = wording.quantity(opened)
        self.hold = wording.quantity(hold)
        self.carts = tuple(case if number == 1 else f"{case} × {number}" for case, number in by_case.items())
        self.note = wording.check_expiry(first.expiry)


class SetToFetch(View):
    """A set to fetch from its shelf, or from another cart."""

    def __init__(self, line: TrayLine, cart: Cart) -> None:
        self.place = line.place_now or wording.NONE
        self.set_id = line.set_id
        self.tray = line.name_with_side
        self.cart = f"{cart.case.number} in {cart.case.room}"


class _ToFetch:
    """What is to be fetched from shelves for a cart; of one that is built what is to be added, or was still to come."""

    def __init__(self, cart: Cart, change: PlanChange | None) -> None:
        mine = change.of_live(cart.case.number) if change else None
        self.cart, self.built = cart, mine is not None and mine.built
        self.picks = [(line, pick) for line in cart.goods for pick in line.picks]
        self.trays = [one for one in cart.trays if one.set_id and one.expected is None and not one.in_hand]
        if mine is not None and self.built:
            sets = {*mine.waits, *(one.piece.set_id for one in mine.add)}
            self.trays = [one for one in self.trays if one.set_id in sets]
            self.picks = [(line, more) for line, pick in self.picks if (more := _added(line, pick, mine.add))]


def _added(line: SundryLine, pick: Pick, add: Iterable[PieceLine]) -> Pick | None:
    """A pick as far as it is to be added to a built cart."""
    wanted = (line.need.thing, pick.item, pick.lot, pick.place, line.need.person)
    many = Counter[Handling]()
    for one in add:
        piece = one.piece
        if (piece.wanted, piece.thing, piece.lot, piece.place, piece.person) == wanted:
            many[piece.part] += one.quantity
    return replace(pick, open=many[Handling.OPEN], hold=many[Handling.HOLD]) if many else None


class BulkGroup(Group[BulkRow]):
    """The lots of one area."""


class SetGroup(Group[SetToFetch]):
    """The sets of one area."""


class BulkView(View):
    """The picks of all carts together, by place, item and lot, area by area in walking order.

    For a built cart only what is to be added by the ``change``, and sets that it waits for: the rest is on no shelf.
    """

    def __init__(self, found: Lookup, change: PlanChange | None = None) -> None:
        every = [_ToFetch(one, change) for one in in_order_of_completion(found.plan.carts)]
        carts = [one for one in every if one.picks or one.trays or not (one.built or one.cart.case.is_running)]
        together: dict[tuple[str, str, str], list[tuple[SundryLine, Pick]]] = defaultdict(list)
        for cart in carts:
            for line, pick in cart.picks:
                together[pick.place, pick.item, pick.lot].append((line, pick))

        rows = [(place, BulkRow(pairs)) for (place, _, _), pairs in together.items()]
        rows.sort(key=lambda pair: (found.walk_key(pair[0]), natural_key(pair[1].name), pair[1].lot))
        sets = _sets(found, carts)
        self.stamp = stamp_for(found.plan)
        self.title = f"Bulk sheet by place, {found.clock.day_text(found.day)}"
        self.counts = (
            f"{wording.counted(len(rows), 'lot')} and {wording.counted(len(sets), 'set')} to fetch for "
            f"{wording.counted(sum(not one.cart.stopped for one in carts), 'cart')}"
        )
        self.groups = area_by_area(found, rows, BulkGroup)
        self.sets = area_by_area(found, sets, SetGroup)
        self.part = ""  # which of how many, where one would be too long

    @property
    def rows(self) -> int:
        """How many lots and sets are to be fetched."""
        return sum(len(group.rows) for group in self.groups) + sum(len(group.rows) for group in self.sets)


def in_parts(view: BulkView) -> tuple[BulkView, ...]:
    """The sheet as parts of at most ``MOST_ROWS`` rows, each of whole areas where those are not longer themselves."""
    parts: list[list[BulkGroup | SetGroup]] = [[]]
    for piece in _pieces(view):
        if parts[-1] and sum(len(one.rows) for one in parts[-1]) + len(piece.rows) > MOST_ROWS:
            parts.append([])
        parts[-1].append(piece)
    if len(parts) == 1:
        return (view,)
    names = [f"part {number} of {len(parts)}" for number in range(1, len(parts) + 1)]
    return tuple(_part(view, pieces, name) for pieces, name in zip(parts, names, strict=True))


def _pieces(view: BulkView) -> Iterator[BulkGroup | SetGroup]:
    """Areas, those that are too long for one part in equal shares, so that no part has what little is left."""
    for group in view.groups:
        yield from (BulkGroup(group.title, group.rows[begin:end]) for begin, end in _shares(len(group.rows)))
    for some in view.sets:
        yield from (SetGroup(some.title, some.rows[begin:end]) for begin, end in _shares(len(some.rows)))


def _shares(rows: int) -> Iterator[tuple[int, int]]:
    many = -(-rows // MOST_ROWS)
    return ((rows * n // many, rows * (n + 1) // many) for n in range(many))


def _part(view: BulkView, pieces: list[BulkGroup | SetGroup], name: str) -> BulkView:
    part = copy(view)
    part.title, part.part = f"{view.title}, {name}", name
    part.groups = tuple(one for one in pieces if isinstance(one, BulkGroup))
    part.sets = tuple(one for one in pieces if isinstance(one, SetGroup))
    lots = wording.counted(sum(len(one.rows) for one in part.groups), "lot")
    sets = wording.counted(sum(len(one.rows) for one in part.sets), "set")
    here = " and ".join(said for said, there in ((lots, part.groups), (sets, part.sets)) if there)
    part.counts = f"{here} in this part; in all {view.counts}"
    return part


def _sets(found: Lookup, carts: Iterable[_ToFetch]) -> list[tuple[str, SetToFetch]]:
    """Sets of the carts that are on a shelf now, each with its place, in walking order."""
    places = {one.id: one.place for one in found.plan.sets}
    rows = [(places.get(line.set_id, ""), SetToFetch(line, one.cart)) for one in carts for line in one.trays]
    rows.sort(key=lambda pair: (found.walk_key(pair[0]), natural_key(pair[1].set_id)))
    return rows
