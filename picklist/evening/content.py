"""What is on a cart, piece by piece, and how one content becomes another."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from typing import Any

from picklist.model.built import BuiltCart, MissingThing, StoodIn
from picklist.model.cards import ThingKind
from picklist.model.expiry import Expiry, is_past
from picklist.model.plan import Cart, SundryLine, TrayLine


class Handling(StrEnum):
    """What becomes of a thing in the room."""

    OPEN = "open"
    HOLD = "hold"


@dataclass(frozen=True, slots=True, kw_only=True)
class CartThing:
    """One kind of thing on a cart: which thing it is and what for.

    ``wanted`` is what the list asks for, empty for what was added by hand; ``thing`` what was given
    (another tray or item when it stands in). ``home`` is where it goes back to, ``fetch`` where it is now: neither
    tells two pieces apart when it is a set, which has its own id.
    """

    kind: ThingKind
    thing: str
    wanted: str
    part: Handling
    set_id: str = ""
    lot: str = ""
    place: str = ""
    person: str = ""
    name: str = field(default="", compare=False)
    expiry: Expiry = field(default=None, compare=False)
    fetch: str = field(default="", compare=False)
    home: str = field(default="", compare=False)
    copy: int = field(default=0, compare=False)

    @property
    def body(self) -> tuple[str, ...]:
        """What it is in the hand, whatever it is for."""
        return (self.kind.value, self.thing, self.set_id, self.lot, self.place)

    @property
    def stands_in(self) -> bool:
        """Whether it is an item in place of another one."""
        return self.wanted not in ("", self.thing) and not self.set_id

    @property
    def order(self) -> tuple[str, ...]:
        """A stated order: trays, packs, items; then by place and thing."""
        rank = str(list(ThingKind).index(self.kind))
        return (rank, self.place, self.thing, self.set_id, self.lot, self.person, self.wanted, self.part.value)


Content = Counter[CartThing]


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceLine:
    """So many pieces to put on or take off; ``cart`` names the case whose cart gives or gets them."""

    piece: CartThing
    quantity: int
    cart: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """So many pieces stay on the cart but now serve otherwise, as on hold that were to be opened."""

    before: CartThing
    after: CartThing
    quantity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ContentChange:
    """What turns one content into another."""

    add: tuple[PieceLine, ...] = ()
    take_off: tuple[PieceLine, ...] = ()
    remark: tuple[Remark, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.add or self.take_off or self.remark)


def cart_content(cart: Cart, homes: Mapping[str, str]) -> Content:
    """What a cart's list puts on it; ``homes`` gives the shelf of each set. Nothing when it is stopped."""
    content: Content = Counter()
    for line in cart.trays:
        if line.set_id:
            content[_tray_piece(line, homes)] += 1
    for sundry in cart.goods:
        _count_picks(sundry, content)
    return content


def _tray_piece(line: TrayLine, homes: Mapping[str, str]) -> CartThing:
    return CartThing(
        kind=ThingKind.TRAY,
        thing="",
        wanted=line.need.thing,
        part=Handling.HOLD if line.on_hold else Handling.OPEN,
        set_id=line.set_id,
        name=line.name,
        fetch=line.place_now,
        home=homes.get(line.set_id, ""),
        copy=line.copy,
    )


def _count_picks(line: SundryLine, content: Content) -> None:
    for pick in line.picks:
        for part, quantity in ((Handling.OPEN, pick.open), (Handling.HOLD, pick.hold)):
            if not quantity:
                continue
            piece = CartThing(
                kind=line.need.kind,
                thing=pick.item,
                wanted=line.need.thing,
                part=part,
                lot=pick.lot,
                place=pick.place,
                person=pick.person or line.need.person,
                name=line.need.name,
                expiry=pick.expiry,
                fetch=pick.place,
                home=pick.place,
            )
            content[piece] += quantity


Short = Counter[tuple[str, str]]  # how many no shelf gives to a list, by thing and person


def short_of(cart: Cart) -> Short:
    """What a cart's list asks for and has no piece of."""
    short: Short = Counter()
    for line in cart.goods:
        short[line.need.thing, line.need.person] += line.short_open + line.short_hold
    return +short


def beside_short(facts: BuiltCart, short: Short) -> BuiltCart:
    """Facts without what was missing, or was stood in for, because no shelf gave it: its list has no piece of that."""

    def lessened(name: str, lines: tuple[Any, ...]) -> Iterator[Any]:
        left = Counter(short)
        for one in lines:
            of_goods = name == "stood_in" or (name == "missing" and not one.copy)
            for thing, person in sorted(short) if of_goods else ():
                if thing == one.thing and one.person in ("", person):
                    off = min(left[thing, person], one.quantity)
                    left[thing, person] -= off
                    one = replace(one, quantity=one.quantity - off)
            yield one

    return facts.with_lines(lessened)


def as_built(listed: Content, facts: BuiltCart, short: Short) -> Content:
    """What is really on a cart: its list with the other sets, lots, missing things and stand-ins reported."""
    there = beside_short(facts, short)
    actual = with_stand_ins(without_missing(with_taken_sets(listed, facts), there), there)
    return with_scanned_lots(actual, facts) if facts.done else actual


def missing_sets(listed: Content, facts: BuiltCart) -> frozenset[str]:
    """The sets of a list of whose trays the crew reported that they are missing."""
    gone = facts.missing_trays
    return frozenset(piece.set_id for piece in listed if (piece.wanted, piece.copy) in gone)


def without_awaited(actual: Content, facts: BuiltCart) -> Content:
    """A content without the trays that a built cart still waits for."""
    awaited = {(one.tray, one.copy, one.set_id) for one in facts.to_come}
    there = (one for one in actual.items() if (one[0].wanted, one[0].copy, one[0].set_id) not in awaited)
    return Counter(dict(there))


def beyond_list(actual: Content, facts: BuiltCart) -> Content:
    """What is on a cart beyond the pieces of its list, in ``actual`` as it was built.

    It was added by hand, or it stood in for what no shelf could give: of that the list has no piece to replace.
    """
    content: Content = Counter()
    for stood in facts.stood_in:
        piece = _stand_in_piece(stood, Handling.OPEN)
        alike = (n for one, n in actual.items() if replace(one, lot="", place="", part=Handling.OPEN) == piece)
        content[piece] += stood.quantity - sum(alike)
    for added in facts.added:
        content[
            CartThing(
                kind=ThingKind.ITEM, thing=added.item, wanted="", part=Handling.OPEN, lot=added.lot, expiry=added.expiry
            )
        ] += added.quantity
    return +content


def meeting(actual: Content, wanted: Content, beyond: Content) -> tuple[Content, Content]:
    """A content with what lies there beyond its list as far as a new list asks for just that; and what is left."""
    found, left = Counter(actual), Counter(beyond)
    for one in _paired(left, wanted - actual, lambda p: p.body):
        found[one.after] += one.quantity
    return found, +left


def in_place_of_short(there: Content, facts: BuiltCart, short: Short, wanted: Content) -> Content:
    """Of what is on a cart beside the pieces wanted: so many as stand in for what no shelf gives to its list."""
    found: Content = Counter()
    for stood, rest in zip(facts.stood_in, beside_short(facts, short).stood_in, strict=True):
        spare, left = there - wanted - found, stood.quantity - rest.quantity
        alike = (p for p in spare if (p.thing, p.wanted, p.person) == (stood.stood_in, stood.thing, stood.person))
        for piece in sorted(alike, key=lambda p: p.order):
            found[piece] += min(left, spare[piece])
            left -= min(left, spare[piece])
    return +found


def still_missing(gone: Content, lacks: Iterable[PieceLine]) -> Content:
    """Of what a cart lacks, what was missing before, whichever set or lot the list names for it now."""
    asked = Counter({line.piece: line.quantity for line in lacks})
    found = asked & gone  # the pieces as the new list numbers them
    for one in _paired(gone - found, asked - found, lambda p: (p.wanted, p.copy, p.person)):
        found[one.after] += one.quantity
    return +found


def true_facts(facts: BuiltCart, revision: int) -> BuiltCart:
    """Facts as they hold for a list: sets and lots reported for an older one are those that the list names since."""
    return replace(facts, sets=(), scanned=()) if facts.revision < revision else facts


def as_it_holds(facts: BuiltCart, wanted: Content, still: Content, short: Short, beyond: Content) -> BuiltCart:
    """The report on a cart as it holds once a new list is carried out, so that it is never held against a third one.

    The list wants these pieces beside what is ``still`` missing, and more that is ``short``; what lies there
    ``beyond`` it was added by hand.
    """
    there, content, lacking = beside_short(facts, short), Counter(wanted), Counter(still)
    stood, instead = [], Counter[tuple[str, str]]()
    for told, left in zip(facts.stood_in, there.stood_in, strict=True):
        serve = _take(content, left.thing, left.person, left.quantity).total()
        instead[told.thing, told.person] += serve
        stood.append(replace(told, quantity=told.quantity - left.quantity + serve))
    missing = _trays_missing(facts, wanted, still)
    for gone, rest in zip(facts.missing, there.missing, strict=True):
        if not gone.copy:
            many = gone.quantity - rest.quantity + _take(lacking, gone.thing, gone.person, rest.quantity).total()
            many += (covered := min(rest.quantity, instead[gone.thing, gone.person]))
            instead[gone.thing, gone.person] -= covered
            missing.append(replace(gone, quantity=many))
    added, by_hand = [], Counter({(p.thing, p.lot): many for p, many in beyond.items() if not p.wanted})
    for one in facts.added:
        added.append(replace(one, quantity=min(one.quantity, by_hand[one.item, one.lot])))
        by_hand[one.item, one.lot] -= added[-1].quantity
    found: dict[str, list[Any]] = {"stood_in": stood, "missing": missing, "added": added}
    return facts.with_lines(
        lambda name, lines: (one for one in found.get(name, lines) if name not in found or one.quantity)
    )


def _trays_missing(facts: BuiltCart, wanted: Content, still: Content) -> list[MissingThing]:
    """Which trays are still missing, as a new list numbers them: those that it has no set for stay so, too."""
    named = {(piece.wanted, piece.copy) for piece in wanted}
    gone = sorted((piece.wanted, piece.copy) for piece in still if piece.set_id)
    said = [one for one in facts.missing if one.copy and (one.thing, one.copy) not in named]
    left = [one for one in facts.missing if one.copy and one not in said]
    for tray, copy in gone:
        if not any((one.thing, one.copy) == (tray, copy) for one in said):
            one = next(one for one in left if one.thing == tray)
            left.remove(one)
            said.append(replace(one, copy=copy))
    return said


def with_taken_sets(listed: Content, facts: BuiltCart) -> Content:
    """A content with the sets that were really taken, also for trays for which the list names no set."""
    taken = facts.taken
    content: Content = Counter()
    for piece, quantity in listed.items():
        other = taken.get((piece.wanted, piece.copy), piece.set_id) if piece.set_id else ""
        content[piece if other == piece.set_id else replace(piece, set_id=other, fetch="", home="")] += quantity
    named = {(piece.wanted, piece.copy) for piece in listed if piece.set_id}
    for (tray, copy), set_id in taken.items():
        if (tray, copy) not in named:
            piece = CartThing(kind=ThingKind.TRAY, thing="", wanted=tray, part=Handling.OPEN, set_id=set_id, copy=copy)
            content[piece] += 1
    return content


def with_scanned_lots(listed: Content, facts: BuiltCart) -> Content:
    """A content with the lots that were scanned, where they are not those that the list names."""
    content = Counter(listed)
    scanned: Counter[tuple[str, str]] = Counter()
    for one in facts.scanned:
        scanned[one.item, one.lot] += one.quantity
    for one in facts.scanned:
        lots: Counter[str] = Counter()
        for piece, quantity in content.items():
            lots[piece.lot] += quantity if piece.thing == one.item and not piece.set_id else 0
        for piece in sorted((p for p in content if p.thing == one.item and not p.set_id), key=lambda p: p.order):
            spare = min(lots[piece.lot] - scanned[one.item, piece.lot], content[piece])
            moved = min(scanned[one.item, one.lot] - lots[one.lot], spare) if one.lot not in ("", piece.lot) else 0
            if moved > 0:
                content[piece] -= moved
                content[replace(piece, lot=one.lot, place="", expiry=one.expiry)] += moved
                lots[piece.lot] -= moved
                lots[one.lot] += moved
    return +content


def without_missing(listed: Content, facts: BuiltCart) -> Content:
    """A content without what was missing and nothing stood in for; what is on hold goes first."""
    content = Counter(listed)
    stood: Counter[tuple[str, str]] = Counter()
    for other in facts.stood_in:
        stood[other.thing, other.person] += other.quantity
    for missing in facts.missing:
        if missing.copy:
            gone = [p for p in content if p.wanted == missing.thing and p.copy == missing.copy and p.set_id]
            for piece in gone:
                del content[piece]
            continue
        covered = min(missing.quantity, stood[missing.thing, missing.person])
        stood[missing.thing, missing.person] -= covered
        _take(content, missing.thing, missing.person, missing.quantity - covered)
    return +content


def with_stand_ins(listed: Content, facts: BuiltCart) -> Content:
    """A content in which what stood in takes the place of what it stood for, where that is still wanted."""
    content = Counter(listed)
    for stood in facts.stood_in:
        for part, quantity in _take(content, stood.thing, stood.person, stood.quantity).items():
            content[_stand_in_piece(stood, part)] += quantity
    return +content


def _stand_in_piece(stood: StoodIn, part: Handling) -> CartThing:
    return CartThing(kind=ThingKind.ITEM, thing=stood.stood_in, wanted=stood.thing, part=part, person=stood.person)


def _take(content: Content, wanted: str, person: str, quantity: int) -> Counter[Handling]:
    """Take pieces of one line off a content, those on hold first; how many of each part went."""
    found = [p for p in content if not p.set_id and p.wanted == wanted and (not person or p.person == person)]
    went: Counter[Handling] = Counter()
    for piece in sorted(found, key=lambda p: (p.part is Handling.OPEN, p.order)):
        off = min(quantity - went.total(), content[piece])
        content[piece] -= off
        went[piece.part] += off
    return +went


def keep_what_is_there(actual: Content, wanted: Content, day: date) -> Content:
    """A wanted content that asks for the lots already on the cart where they serve as well on ``day``.

    Sets are not touched: which set serves is the plan's word.
    """
    kept = actual & wanted
    spare = actual - kept
    open_wants = wanted - kept
    for piece in sorted(open_wants, key=lambda p: p.order):
        left = open_wants[piece]
        for other in sorted(spare, key=lambda p: (p.part is not piece.part, p.order)):
            if left and _serves_as_well(other, piece, day):
                both = min(left, spare[other])
                kept[replace(other, part=piece.part)] += both
                spare[other] -= both
                left -= both
        kept[piece] += left
    return +kept


def _serves_as_well(there: CartThing, asked: CartThing, day: date) -> bool:
    same = (there.kind, there.thing, there.wanted, there.person) == (
        asked.kind,
        asked.thing,
        asked.wanted,
        asked.person,
    )
    return same and not there.set_id and not asked.set_id and not is_past(there.expiry, day)


def compare_content(before: Content, after: Content) -> ContentChange:
    """The least that must be added, taken off or marked otherwise to turn one content into the other."""
    more, less = after - before, before - after
    remarks = _paired(less, more, lambda p: p.body)
    return ContentChange(add=_lines(+more), take_off=_lines(+less), remark=tuple(remarks))


def _paired(less: Content, more: Content, sort: Callable[[CartThing], object]) -> list[Remark]:
    """Pieces that take the place of others of their sort, as many as can be; both contents keep what is left."""
    pairs = []
    for old in sorted(less, key=lambda p: p.order):
        for new in sorted((p for p in more if sort(p) == sort(old)), key=lambda p: p.order):
            both = min(less[old], more[new])
            if both:
                pairs.append(Remark(before=old, after=new, quantity=both))
                less[old] -= both
                more[new] -= both
    return pairs


def _lines(content: Content) -> tuple[PieceLine, ...]:
    return tuple(PieceLine(piece=p, quantity=content[p]) for p in sorted(content, key=lambda p: p.order))
