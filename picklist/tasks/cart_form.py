"""What a form says of one cart, laid over what was reported of it before; what the form does not touch stays."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from picklist.model.built import BuiltCart, CountFound, MissingThing, StoodIn, TakenItem, TakenSet
from picklist.model.plan import Cart
from picklist.problems import Where

TrayKey = tuple[str, int]  # tray and copy, as on the list
FORM = "form"


@dataclass(frozen=True, slots=True, kw_only=True)
class TraySaid:
    """What came for a tray on the list: a named set, nothing (``missing``), or, with neither, the planned set."""

    set_id: str = ""
    missing: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemSaid:
    """Of an item on the list: how many did not come, what took its place, and how many the shelf held."""

    missing: int = 0
    stood_in: str = ""
    stood_many: int = 0
    count: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CartSaid:
    """A filled form. ``over`` is the mark of the report that the form showed (see ``report_mark``).

    ``carried``: the changes of the list that counts now are carried out on the cart.
    ``forget`` names further facts (see ``further_facts``) that are taken away.
    """

    case: str
    over: str
    done: bool
    by: str = ""
    remark: str = ""
    carried: bool = True
    trays: Mapping[TrayKey, TraySaid] = field(default_factory=dict)
    items: Mapping[str, ItemSaid] = field(default_factory=dict)
    added: TakenItem | None = None
    forget: frozenset[str] = frozenset()


def report_mark(told: BuiltCart | None) -> str:
    """A short word that changes with any fact of a report, for a form to carry."""
    return hashlib.sha256(repr(told).encode()).hexdigest()[:16]


def tray_said(told: BuiltCart | None, key: TrayKey) -> TraySaid:
    """What is known of a tray on the list."""
    sets, missing = (told.sets, told.missing) if told else ((), ())
    taken = next((one.set_id for one in sets if (one.tray, one.copy) == key), "")
    return TraySaid(set_id=taken, missing=not taken and any((m.thing, m.copy) == key for m in missing))


def item_said(told: BuiltCart | None, item: str) -> ItemSaid:
    """What is known of an item on the list, as far as one row can hold it; ``further_facts`` has the rest."""
    if told is None:
        return ItemSaid()
    stood = [one for one in told.stood_in if one.thing == item]
    counts = [one for one in told.counts if one.item == item and not (one.lot or one.place)]
    one = stood[0] if len(stood) == 1 else None
    return ItemSaid(
        missing=sum(m.quantity for m in told.missing if m.thing == item and not m.copy),
        stood_in=one.stood_in if one else "",
        stood_many=one.quantity if one else 0,
        count=counts[-1].quantity if counts else None,
    )


def carry_over(said: CartSaid, base: CartSaid, now: CartSaid) -> tuple[CartSaid, tuple[str, ...]]:
    """A form that was filled in over ``base``, laid over the report of ``now``; and what both changed differently.

    Rows that the form did not touch are those of ``now``; of what both changed, the form's stands, by its name.
    """
    trays = {key: one if one != base.trays.get(key) else now.trays.get(key, one) for key, one in said.trays.items()}
    items = {key: one if one != base.items.get(key) else now.items.get(key, one) for key, one in said.items.items()}
    both = [key[0] for key, one in trays.items() if _both(one, base.trays.get(key), now.trays.get(key))]
    both += [key for key, one in items.items() if _both(one, base.items.get(key), now.items.get(key))]
    both += ["remark"] if _both(said.remark, base.remark, now.remark) else []
    joined = replace(
        said,
        over=now.over,
        done=said.done or now.done,
        by=said.by if said.by != base.by else now.by,
        remark=said.remark if said.remark != base.remark else now.remark,
        trays=trays,
        items=items,
    )
    return joined, tuple(both)


def _both(said: object, base: object, now: object) -> bool:
    return base not in (said, now) and said != now


def further_facts(told: BuiltCart | None, cart: Cart) -> dict[str, str]:
    """What was reported beyond the form's rows, in words, by a name under which it can be taken away."""
    if told is None:
        return {}
    trays, items = _tray_keys(cart), _items(cart)
    found: dict[str, str] = {}
    for fact in told.lines:
        if not _in_a_row(fact, told, trays, items):
            found[_name(fact, told)] = _words(fact, told)
    return found


def facts_in_words(told: BuiltCart) -> tuple[str, ...]:
    """Every fact of a report, in words."""
    return (*(_words(fact, told) for fact in told.lines), *([f"remark: {told.remark}"] if told.remark else []))


def amend_report(told: BuiltCart | None, said: CartSaid, cart: Cart, fresh: BuiltCart) -> BuiltCart:
    """The report after the form: its rows are replaced, everything else that was reported stays.

    ``fresh`` is an empty report on the list that counts, at the instant of the form.
    """
    base = replace(told, at=fresh.at, where=fresh.where) if told else fresh
    if told and told.done and said.done and not (said.carried and told.revision < fresh.revision):
        base = replace(base, at=told.at)  # the cart was built then; only lines are added now
    if said.carried and told:
        base = _without_what_left_the_list(replace(base, revision=fresh.revision), cart)
    there = base
    base = base.with_lines(lambda _, lines: (one for one in lines if _name(one, there) not in said.forget))
    base = replace(base, done=said.done, by=said.by, remark=said.remark)
    for key, tray in said.trays.items():
        base = _with_tray(base, key, tray)
    for item, row in said.items.items():
        base = _with_item(base, item, row)
    return replace(base, added=(*base.added, said.added)) if said.added else base


Fact = TakenSet | MissingThing | StoodIn | CountFound | TakenItem


def _tray_keys(cart: Cart) -> frozenset[TrayKey]:
    return frozenset((line.need.thing, line.copy) for line in cart.trays)


def _items(cart: Cart) -> frozenset[str]:
    return frozenset(line.need.thing for line in cart.goods)


def _in_a_row(fact: Fact, told: BuiltCart, trays: frozenset[TrayKey], items: frozenset[str]) -> bool:
    """Whether a row of the form shows a fact."""
    match fact:
        case TakenSet():
            return (fact.tray, fact.copy) in trays
        case MissingThing():
            return (fact.thing, fact.copy) in trays if fact.copy else fact.thing in items
        case StoodIn():
            return fact.thing in items and sum(one.thing == fact.thing for one in told.stood_in) == 1
        case CountFound():
            return fact.item in items and not (fact.lot or fact.place)
        case TakenItem():
            return False


def _name(fact: Fact, told: BuiltCart) -> str:
    hand = "added" if isinstance(fact, TakenItem) and fact in told.added else "told"
    return hashlib.sha256(f"{hand} {fact!r}".encode()).hexdigest()[:16]


def _words(fact: Fact, told: BuiltCart) -> str:
    match fact:
        case TakenSet():
            return f"set {fact.set_id} for tray {fact.tray}"
        case MissingThing():
            return f"{fact.quantity} of {fact.thing} missing"
        case StoodIn():
            return f"{fact.quantity} of {fact.stood_in} in place of {fact.thing}"
        case CountFound():
            lot = f" lot {fact.lot}" if fact.lot else ""
            place = f" in {fact.place}" if fact.place else ""
            return f"{fact.quantity} of {fact.item}{lot}{place} counted on the shelf"
        case TakenItem():
            lot = f" lot {fact.lot}" if fact.lot else ""
            lot += f" serial {fact.serial}" if fact.serial else ""
            how = "put on though not asked for" if fact in told.added else "scanned onto the cart"
            return f"{fact.quantity} of {fact.item}{lot} {how}"


def _without_what_left_the_list(report: BuiltCart, cart: Cart) -> BuiltCart:
    """The crew carried the changes out: what the list no longer asks for is dropped from the report."""
    trays, items = _tray_keys(cart), _items(cart)
    return replace(
        report,
        sets=tuple(one for one in report.sets if (one.tray, one.copy) in trays),
        missing=tuple(m for m in report.missing if ((m.thing, m.copy) in trays if m.copy else m.thing in items)),
        stood_in=tuple(one for one in report.stood_in if one.thing in items),
    )


def _with_tray(report: BuiltCart, key: TrayKey, said: TraySaid) -> BuiltCart:
    if said == tray_said(report, key):
        return report
    tray, copy = key
    where = Where(file=f"{FORM} of cart {report.case}", cell=tray)
    sets = tuple(one for one in report.sets if (one.tray, one.copy) != key)
    missing = tuple(one for one in report.missing if (one.thing, one.copy) != key)
    if said.set_id:
        sets += (TakenSet(tray=tray, copy=copy, set_id=said.set_id, where=where),)
    elif said.missing:
        missing += (MissingThing(thing=tray, copy=copy, quantity=1, where=where),)
    return replace(report, sets=sets, missing=missing)


def _with_item(report: BuiltCart, item: str, said: ItemSaid) -> BuiltCart:
    known = item_said(report, item)
    where = Where(file=f"{FORM} of cart {report.case}", cell=item)
    if said.missing != known.missing:
        others = tuple(m for m in report.missing if m.thing != item or m.copy)
        gone = (MissingThing(thing=item, quantity=said.missing, where=where),) if said.missing else ()
        report = replace(report, missing=(*others, *gone))
    if (said.stood_in, said.stood_many) != (known.stood_in, known.stood_many):
        others_in = tuple(s for s in report.stood_in if s.thing != item or not known.stood_in)
        many = said.stood_many or said.missing or 1
        stood = StoodIn(thing=item, stood_in=said.stood_in, quantity=many, where=where)
        report = replace(report, stood_in=(*others_in, *((stood,) if said.stood_in else ())))
    if said.count != known.count:
        counts = tuple(c for c in report.counts if c.item != item or c.lot or c.place)
        found = (CountFound(item=item, quantity=said.count, where=where),) if said.count is not None else ()
        report = replace(report, counts=(*counts, *found))
    return report
