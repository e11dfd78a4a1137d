"""What is on carts already, as the next plan takes it: sets and lots that are not given elsewhere."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping

from picklist.evening.changes import ListInHand
from picklist.evening.content import Content, Handling, as_built, beyond_list, true_facts
from picklist.evening.match import CaseMatch
from picklist.model.built import BuiltCart
from picklist.model.expiry import Expiry
from picklist.model.known import PutBack
from picklist.model.plan import Plan
from picklist.model.supply import Pick
from picklist.model.uses import Assignment


def fixed_assignments(
    built: Mapping[str, BuiltCart], in_hand: Mapping[str, ListInHand], match: CaseMatch
) -> dict[str, str]:
    """Which set is on a cart, by the key of its use (``case/tray/copy``) in the new schedule.

    Of a cart that is built these are the sets reported and, where none was reported, the sets on its
    list; of one that is started only the sets reported. ``built`` and ``in_hand`` are keyed as carts are
    kept in the state. Cancelled and doubtful carts hold on to nothing.
    """
    fixed: dict[str, str] = {}
    for key, number, facts, content in _standing(built, in_hand, match):
        told = true_facts(facts, in_hand[key].revision).taken
        for piece in sorted(content, key=lambda p: p.order):
            if piece.set_id and (facts.done or (piece.wanted, piece.copy) in told):
                fixed[f"{number}/{piece.wanted}/{piece.copy}"] = piece.set_id
    return fixed


def sets_coming_off(
    built: Mapping[str, BuiltCart],
    in_hand: Mapping[str, ListInHand],
    match: CaseMatch,
    put_backs: Iterable[PutBack],
    over: Collection[str] = (),
) -> dict[str, str]:
    """Sets on carts of cases that are gone or in doubt, and others still to be put back, each with the cart's case.

    ``put_backs`` are those asked for before that nobody reported done. What done cases had, whose carts are ``over``,
    is a matter of the day after.
    """
    found = {one.set_id: one.case for one in put_backs if one.set_id}
    for key, facts in sorted(built.items()):
        gone = key not in (*match.unread, *over) and match.new_number(key) is None
        if gone and key in in_hand:
            held = in_hand[key]
            told = true_facts(facts, held.revision)
            for piece in as_built(held.content, told):
                if piece.set_id and (facts.done or (piece.wanted, piece.copy) in told.taken):
                    found[piece.set_id] = held.number or key
    return found


def fixed_picks(
    built: Mapping[str, BuiltCart],
    in_hand: Mapping[str, ListInHand],
    match: CaseMatch,
    over: Collection[str] = (),
) -> tuple[Pick, ...]:
    """What is on built carts, as picks of the new schedule's cases: what is listed first, then what is beyond the list.

    It is on no shelf now, whether or not the stock table was counted since. What stood in or was added may have no lot.
    Nor is what done cases had, whose carts are ``over``, until their day is settled.
    """
    picks: list[Pick] = []
    for _, number, facts, content in _standing(built, in_hand, match, over):
        if facts.done:
            picks += _picks(number, content)
            picks += _picks(number, beyond_list(content, facts))
    return tuple(picks)


def printed_assignments(in_hand: Mapping[str, ListInHand], match: CaseMatch, old: Plan | None = None) -> dict[str, str]:
    """Which set each printed list names, built or not, by the key of its use in the new schedule.

    Not binding as ``fixed_assignments`` are: to keep them, where nothing is lost by it, saves paper. Of
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


def _standing(
    built: Mapping[str, BuiltCart], in_hand: Mapping[str, ListInHand], match: CaseMatch, over: Collection[str] = ()
) -> list[tuple[str, str, BuiltCart, Content]]:
    """Carts with facts whose case goes on, or may, or is ``over``: key, new number, facts and what is on them."""
    found = []
    for key, facts in sorted(built.items()):
        number = key if key in (*match.unread, *over) else match.new_number(key)
        if number is not None and key in in_hand:
            held = in_hand[key]
            found.append((key, number, facts, as_built(held.content, true_facts(facts, held.revision))))
    return found


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
