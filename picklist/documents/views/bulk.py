"""The bulk sheet: everything to take from each place for all carts together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

from picklist import wording
from picklist.documents.views.goods_rows import area_by_area
from picklist.documents.views.lookup import Lookup, in_order_of_completion
from picklist.documents.views.stamp import PageFoot, printing_of, stamp_for
from picklist.letters import natural_key
from picklist.model.plan import SundryLine
from picklist.model.supply import Pick

MOST_ROWS = 400  # of one part; to set some 40 pages takes 200 MB


@dataclass(frozen=True, slots=True, kw_only=True)
class BulkRow:
    """One lot at one place: how many in all, and how many go to which cart (one where no number stands)."""

    place: str
    name: str
    item: str
    unit: str
    lot: str
    expiry: str
    total: str
    open: str
    hold: str
    carts: tuple[str, ...]
    note: str = ""  # that the package must be checked for its expiry


@dataclass(frozen=True, slots=True, kw_only=True)
class BulkGroup:
    """The rows of one area."""

    title: str
    rows: tuple[BulkRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetToFetch:
    """A set to fetch from its shelf."""

    place: str
    set_id: str
    tray: str
    cart: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SetGroup:
    """The sets of one area."""

    title: str
    rows: tuple[SetToFetch, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BulkView:
    """The evening's picking by place."""

    stamp: PageFoot
    title: str
    counts: str
    groups: tuple[BulkGroup, ...]
    sets: tuple[SetGroup, ...]
    part: str = ""  # which of how many, where one would be too long

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
        yield from (replace(group, rows=group.rows[begin:end]) for begin, end in _shares(len(group.rows)))
    for some in view.sets:
        yield from (replace(some, rows=some.rows[begin:end]) for begin, end in _shares(len(some.rows)))


def _shares(rows: int) -> Iterator[tuple[int, int]]:
    many = -(-rows // MOST_ROWS)
    return ((rows * n // many, rows * (n + 1) // many) for n in range(many))


def _part(view: BulkView, pieces: list[BulkGroup | SetGroup], name: str) -> BulkView:
    groups = tuple(one for one in pieces if isinstance(one, BulkGroup))
    sets = tuple(one for one in pieces if isinstance(one, SetGroup))
    lots = wording.counted(sum(len(one.rows) for one in groups), "lot")
    some = wording.counted(sum(len(one.rows) for one in sets), "set")
    here = " and ".join(said for said, there in ((lots, groups), (some, sets)) if there)
    counts = f"{here} in this part; in all {view.counts}"
    return replace(view, title=f"{view.title}, {name}", counts=counts, groups=groups, sets=sets, part=name)


def bulk(found: Lookup) -> BulkView:
    """Sum the picks of all carts by place, item and lot, area by area in walking order."""
    together: dict[tuple[str, str, str], list[tuple[SundryLine, Pick]]] = defaultdict(list)
    for cart in in_order_of_completion(found.plan.carts):
        for line in cart.goods:
            for pick in line.picks:
                together[pick.place, pick.item, pick.lot].append((line, pick))

    rows = [(place, _row(pairs)) for (place, _, _), pairs in together.items()]
    rows.sort(key=lambda pair: (found.walk_key(pair[0]), natural_key(pair[1].name), pair[1].lot))
    sets = _sets(found)
    return BulkView(
        stamp=stamp_for(found.plan, printing_of(found.plan), found.clock),
        title=f"Bulk sheet by place, {found.clock.day_text(found.day)}",
        counts=f"{wording.counted(len(rows), 'lot')} and {wording.counted(len(sets), 'set')} to fetch for "
        f"{wording.counted(sum(1 for cart in found.plan.carts if not cart.stopped), 'cart')}",
        groups=tuple(BulkGroup(title=area, rows=some) for area, some in area_by_area(found, rows)),
        sets=tuple(SetGroup(title=area, rows=some) for area, some in area_by_area(found, sets)),
    )


def _row(pairs: list[tuple[SundryLine, Pick]]) -> BulkRow:
    line, first = pairs[0]
    opened, hold = sum(pick.open for _, pick in pairs), sum(pick.hold for _, pick in pairs)
    by_case: dict[str, int] = defaultdict(int)
    for _, pick in pairs:
        by_case[pick.case] += pick.open + pick.hold
    return BulkRow(
        place=first.place or wording.NONE,
        name=line.need.name,
        item=first.item,
        unit=line.unit,
        lot=first.lot or wording.NONE,
        expiry=wording.expiry(first.expiry),
        total=str(opened + hold),
        open=wording.quantity(opened),
        hold=wording.quantity(hold),
        carts=tuple(case if number == 1 else f"{case} × {number}" for case, number in by_case.items()),
        note=wording.check_expiry(first.expiry),
    )


def _sets(found: Lookup) -> list[tuple[str, SetToFetch]]:
    """Sets of the carts that are on a shelf now, each with its place, in walking order."""
    places = {one.id: one.place for one in found.plan.sets}
    rows = [
        (
            place := places.get(line.set_id, ""),
            SetToFetch(
                place=place or line.place_now or wording.NONE,
                set_id=line.set_id,
                tray=line.name_with_side,
                cart=f"{cart.case.number} in {cart.case.room}",
            ),
        )
        for cart in in_order_of_completion(found.plan.carts)
        for line in cart.trays
        if line.set_id and line.expected is None and not line.in_hand
    ]
    rows.sort(key=lambda pair: (found.walk_key(pair[0]), natural_key(pair[1].set_id)))
    return rows
