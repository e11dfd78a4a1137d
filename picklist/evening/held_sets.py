"""What is on carts already, as the next plan takes it: sets and lots that are not given elsewhere."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from picklist.evening.changes import ListInHand
from picklist.evening.content import Content, Handling, true_facts
from picklist.evening.match import CaseMatch
from picklist.evening.reported_cart import ReportedCart, holders
from picklist.model.built import BuiltCart
from picklist.model.expiry import Expiry
from picklist.model.plan import Plan
from picklist.model.supply import Pick
from picklist.model.uses import Assignment


class CartStanding(StrEnum):
    """What a cart on which something is means to the next plan."""

    WANTED = "wanted"  # its case goes on
    LEFT_ALONE = "left alone"  # its case may go on: nobody can read that
    USED = "used"  # its case is over
    TO_PUT_BACK = "to put back"  # its case is gone, or in doubt


@dataclass(frozen=True, slots=True, kw_only=True)
class CartsOfDay:
    """The last report on each open cart of a day, what is known to be on it, and its list in hand, by its key."""

    built: Mapping[str, BuiltCart]
    reported: Mapping[str, ReportedCart]
    in_hand: Mapping[str, ListInHand]


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingCart:
    """A cart and what is on it; ``number`` is its case's, in the new schedule where that has it.

    ``whole``: all of ``content`` is there, since it is built or in its room. Otherwise only the sets of ``told`` are,
    by tray and copy. ``beyond`` is what is there beside its list.
    """

    number: str
    standing: CartStanding
    whole: bool
    content: Content
    beyond: Content
    told: Mapping[tuple[str, int], str]

    @property
    def sets(self) -> dict[str, str]:
        """The sets on it, by the key of their use (``case/tray/copy``)."""
        pieces = (one for one in sorted(self.content, key=lambda p: p.order) if one.set_id)
        there = (one for one in pieces if self.whole or (one.wanted, one.copy) in self.told)
        return {f"{self.number}/{one.wanted}/{one.copy}": one.set_id for one in there}

    @property
    def opened(self) -> list[str]:
        """The sets on it that were to be opened; one on hold may have come back as it was."""
        return [one.set_id for one in self.content if one.set_id and one.part is Handling.OPEN]

    @property
    def picks(self) -> list[Pick]:
        """The goods on it that are on no shelf: what its list has first. What was added by hand may have no lot.

        They are picks of no case where its case is not to be planned, or they are not yet all that its list has, or
        they stand in for something else. What is to be put back may be given again.
        """
        if self.standing is CartStanding.TO_PUT_BACK:
            return []
        number = self.number if self.whole and self.standing is CartStanding.WANTED else ""
        picks: list[Pick] = []
        for there in (self.content, self.beyond) if self.whole else (self.beyond,):
            instead = Counter({piece: many for piece, many in there.items() if piece.stands_in})
            picks += [*_picks(number, there - instead), *_picks("", instead)]
        return picks


def standing_carts(
    carts: CartsOfDay,
    match: CaseMatch,
    running: Collection[str] = (),
    over: Collection[str] = (),
) -> dict[str, StandingCart]:
    """The carts of a day on which something is, by the key under which they are kept in the state.

    They were reported, or their case is ``running`` (by its new number) or ``over``: it has what its list says, as far
    as nobody reported otherwise. Of a cart that is started only the sets reported are there for sure.
    """
    found = {}
    reported, in_hand = carts.reported, carts.in_hand
    in_rooms = {key for key in in_hand if key in over or match.new_number(key) in running}
    having = holders({key: one for key, one in reported.items() if key not in in_rooms})
    for key, held in sorted(in_hand.items()):
        number = match.new_number(key)
        standing = CartStanding.TO_PUT_BACK if number is None else CartStanding.WANTED
        if key in (*match.unread, *over):
            standing = CartStanding.USED if key in over else CartStanding.LEFT_ALONE
        if standing is CartStanding.LEFT_ALONE:
            number = f"{key} (list {held.revision})"  # no number: another case may have it now
        name = number or held.number or key
        if key in in_rooms:
            found[key] = _in_its_room(name, standing, held, carts.built.get(key))
        elif key in reported:
            one = _standing_cart(name, standing, reported[key])
            mine = (each for each in one.content.items() if having.get(each[0].set_id, key) == key)
            found[key] = replace(one, content=Counter(dict(mine)))
    return found


def _in_its_room(number: str, standing: CartStanding, held: ListInHand, told: BuiltCart | None) -> StandingCart:
    """The cart of a case that runs or is over: all that its list in hand asked for was done by then."""
    if told is None:
        return StandingCart(
            number=number, standing=standing, whole=True, content=held.content, beyond=Content(), told={}
        )
    facts = replace(true_facts(told, held.revision), done=True)
    return _standing_cart(number, standing, ReportedCart(facts=facts, content=held.content, short=held.short))


def _standing_cart(number: str, standing: CartStanding, told: ReportedCart) -> StandingCart:
    facts, beyond = told.facts, told.beyond
    if not facts.done:
        beyond += Counter({piece: more for piece, more in (told.actual - told.content).items() if not piece.set_id})
    return StandingCart(
        number=number, standing=standing, whole=facts.done, content=told.there, beyond=beyond, told=facts.taken
    )


def printed_assignments(in_hand: Mapping[str, ListInHand], match: CaseMatch, old: Plan | None = None) -> dict[str, str]:
    """Which set each printed list names, built or not, by the key of its use in the new schedule.

    Not binding as what is on carts: to keep them, where nothing is lost by it, saves paper. Of
    cases of other days the ``old`` plan's sets: a list says for which of them a set is given back.
    """
    later = {one.use.key: one.set_id for one in _of_other_days(old) if one.set_id}
    return later | {
        f"{number}/{piece.wanted}/{piece.copy}": piece.set_id
        for key, held in sorted(in_hand.items())
        if (number := match.new_number(key)) is not None
        for piece in sorted(held.content, key=lambda p: p.order)
        if piece.set_id
    }


def _of_other_days(old: Plan | None) -> list[Assignment]:
    if old is None:
        return []
    other = {case.number for case in old.cases if case.day != old.day}
    return [one for one in old.assignments if one.use.case in other]


def printed_picks(in_hand: Mapping[str, ListInHand], match: CaseMatch) -> tuple[Pick, ...]:
    """The lots that each printed list names, built or not, as picks of the new schedule's cases."""
    return tuple(
        pick
        for key, held in sorted(in_hand.items())
        if (number := match.new_number(key)) is not None
        for pick in _picks(number, held.content)
    )


def _picks(number: str, content: Content) -> list[Pick]:
    counted: dict[tuple[str, str, str, str], Counter[Handling]] = {}
    expiries: dict[tuple[str, str, str, str], Expiry] = {}
    for piece, quantity in content.items():
        if not piece.set_id:
            body = (piece.thing, piece.lot, piece.place, piece.person)
            counted.setdefault(body, Counter())[piece.part] += quantity
            expiries[body] = piece.expiry
    return [
        Pick(
            case=number,
            item=item,
            lot=lot,
            place=place,
            expiry=expiries[item, lot, place, person],
            open=parts[Handling.OPEN],
            hold=parts[Handling.HOLD],
            person=person,
        )
        for (item, lot, place, person), parts in sorted(counted.items())
    ]
