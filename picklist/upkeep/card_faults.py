"""Card hygiene: what a coordinator would clean up, cards that are nearly the same, and trays always together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from itertools import combinations

from picklist.grouping import grouped
from picklist.model.cards import CardLine, Change, ThingKind
from picklist.model.site import Site
from picklist.problems import NOWHERE, Where
from picklist.resolve.idle import find_idle_lines
from picklist.resolve.versions import dates_hold, is_known, line_text
from picklist.upkeep.card_rows import CardBook, CardRow, idle_lines, lay_card, open_book
from picklist.upkeep.owners import Owner, owner_name
from picklist.upkeep.proposals import card_name
from picklist.upkeep.slots import RowKey, RowValue, same_want, slot_of, thing_name, want_text
from picklist.wording import counted, open_and_hold

REVIEW_DAYS = 730  # common practice is a yearly or two-yearly review; no source


class FaultKind(StrEnum):
    """What needs cleaning up."""

    RETIRED = "asks for something retired"
    UNKNOWN = "asks for something unknown"
    IN_PACK = "in the pack already"
    TWICE = "the same thing twice"
    IDLE = "changes nothing"
    SAME_AS_BASE = "says what the base card says"
    ENDED = "ended long ago"
    PENDING = "waits for approval"
    UNUSED = "card not used"
    NOT_REVIEWED = "card not reviewed for long"
    NEVER_DATED = "card without any date"


@dataclass(frozen=True, slots=True, kw_only=True)
class CardFault:
    """One thing to clean up: whose card, which thing, in words, and where the lines stand."""

    kind: FaultKind
    procedure: str | None
    surgeon: str | None
    thing: str = ""
    text: str
    where: Where = field(default=NOWHERE, compare=False)
    related: tuple[Where, ...] = field(default=(), compare=False)


def find_card_faults(site: Site, day: date) -> tuple[CardFault, ...]:
    """All faults of all cards as they are on ``day``, card by card.

    A card counts as used when a case on the schedule or a past case is of its procedure (and
    surgeon); without past cases nothing is said about that.
    """
    book = open_book(site)
    faults: list[CardFault] = []
    lines = [line for line in site.card_lines if line.approved and dates_hold(line, day)]
    for line in lines:
        faults += _line_faults(site, line)
    faults += _twice(site, lines)
    faults += _idle(site, day)
    faults += _left_over(site, day)
    for owner, procedure in cards_of(site):
        faults += _card_faults(book, owner, procedure, day)
    faults += _unused(site)
    faults += _not_reviewed(lines, day)
    return tuple(sorted(faults, key=_order))


def cards_of(site: Site) -> tuple[tuple[Owner, str], ...]:
    """All cards with lines of a procedure: base cards, and surgeons' own, in file order."""
    found = dict.fromkeys((line.surgeon, line.procedure) for line in site.card_lines if line.procedure)
    return tuple((Owner(surgeon=surgeon or ""), procedure) for surgeon, procedure in found if procedure)


def describe_faults(site: Site, faults: Iterable[CardFault]) -> tuple[str, ...]:
    """Faults for the coordinator: by kind, how many, then each with its place."""
    faults = tuple(faults)
    counts = Counter(fault.kind for fault in faults)
    lines = []
    for kind in FaultKind:
        if counts[kind]:
            lines += ["", f"{kind}: {counts[kind]}"]
            lines += [f"  {_fault_text(site, fault)}" for fault in faults if fault.kind is kind]
    return tuple(lines)


def _fault_text(site: Site, fault: CardFault) -> str:
    whose = fault.surgeon or "base card"
    place = f" [{fault.where}]" if fault.where.file else ""
    return f"{card_name(site, fault.procedure)}, {whose}: {fault.text}{place}"


def _order(fault: CardFault) -> tuple[object, ...]:
    kinds = list(FaultKind)
    return (fault.procedure or "", fault.surgeon or "", kinds.index(fault.kind), fault.where.row or 0, fault.thing)


def _fault(kind: FaultKind, line: CardLine, text: str, related: tuple[Where, ...] = ()) -> CardFault:
    return CardFault(
        kind=kind,
        procedure=line.procedure,
        surgeon=line.surgeon,
        thing=line.thing,
        text=text,
        where=line.where,
        related=related,
    )


def _line_faults(site: Site, line: CardLine) -> list[CardFault]:
    if line.change is Change.REMOVE:
        return []
    if not is_known(site, line.kind, line.thing):
        return [_fault(FaultKind.UNKNOWN, line, f"{line.kind} {line.thing} is not in the catalogue")]
    retired = {ThingKind.TRAY: site.trays, ThingKind.ITEM: site.items}.get(line.kind, {})
    thing = retired.get(line.thing)
    if thing is None or not thing.retired:  # type: ignore[attr-defined]
        return []
    return [_fault(FaultKind.RETIRED, line, f"{thing_name(site, line.kind, line.thing)} ({line.thing}) is retired")]


def _twice(site: Site, lines: list[CardLine]) -> list[CardFault]:
    groups = grouped(((line.procedure, line.surgeon, slot_of(line, site), line.begins), line) for line in lines)
    return [
        _fault(
            FaultKind.TWICE,
            same[0],
            f"{_named(site, same[0])} is on {len(same)} lines of one card: "
            + ", ".join(open_and_hold(line.open, line.hold) for line in same),
            tuple(line.where for line in same[1:]),
        )
        for same in groups.values()
        if len(same) > 1
    ]


def _named(site: Site, line: CardLine) -> str:
    return f"{thing_name(site, line.kind, line.thing) or line.kind} ({line.thing})"


def _idle(site: Site, day: date) -> list[CardFault]:
    idle = {problem.where: problem for problem in find_idle_lines(site, day)}
    return [_fault(FaultKind.IDLE, line, idle[line.where].message) for line in site.card_lines if line.where in idle]


def _left_over(site: Site, day: date) -> list[CardFault]:
    """Pending lines whose day has come, and lines that ended longer ago than cards are reviewed."""
    old = day - timedelta(days=REVIEW_DAYS)
    faults = []
    for line in site.card_lines:
        if not line.approved and dates_hold(line, day):
            faults.append(_fault(FaultKind.PENDING, line, line_text(line, site)))
        elif line.ends and line.ends < old:
            faults.append(_fault(FaultKind.ENDED, line, line_text(line, site)))
    return faults


def _card_faults(book: CardBook, owner: Owner, procedure: str, day: date) -> list[CardFault]:
    rows = lay_card(book, owner, procedure, day)
    faults = [
        _fault(FaultKind.IDLE, line, f"the card has no {line.instead_of or line.thing} to {line.change}")
        for line in idle_lines(rows)
    ]
    faults += _in_pack(book.site, rows)
    for row in rows:
        if owner.surgeon and row.own and row.beneath and row.want == row.beneath:
            text = f"{_named(book.site, row.own[0])} is asked for as the base card has it anyway"
            faults.append(_fault(FaultKind.SAME_AS_BASE, row.own[0], text))
    return faults


def _in_pack(site: Site, rows: list[CardRow]) -> list[CardFault]:
    """Loose items that the card's own packs hold; said once, on the card whose line asks for it."""
    held: Counter[str] = Counter()
    for row in rows:
        if row.want and row.want.kind is ThingKind.PACK and row.want.open and row.want.thing in site.packs:
            for content in site.packs[row.want.thing].lines:
                held[content.item] += content.quantity * row.want.open
    faults = []
    for row in rows:
        want = row.want
        if want is None or want.kind is not ThingKind.ITEM or not held[want.thing] or not want.open or not row.own:
            continue
        left = max(0, want.open - held[want.thing])
        text = (
            f"{thing_name(site, want.kind, want.thing)} ({want.thing}): {want.open} open asked for, "
            f"the pack holds {held[want.thing]}; {left or 'none'} left to pick"
        )
        faults.append(_fault(FaultKind.IN_PACK, row.own[0], text))
    return faults


def _unused(site: Site) -> list[CardFault]:
    if not site.past_cases:
        return []
    used = {(past.procedure, past.surgeon) for past in site.past_cases}
    used |= {(procedure, case.surgeon) for case in site.cases for procedure in case.procedures}
    procedures = {procedure for procedure, _ in used}
    faults = []
    for owner, procedure in cards_of(site):
        if (procedure, owner.surgeon) in used or (not owner.surgeon and procedure in procedures):
            continue
        whom = "this surgeon" if owner.surgeon else "anyone"
        faults.append(_of_card(FaultKind.UNUSED, owner, procedure, f"no case of it by {whom}, scheduled or past"))
    return faults


def _not_reviewed(lines: list[CardLine], day: date) -> list[CardFault]:
    latest: dict[tuple[str, str], date | None] = {}
    for line in lines:
        if line.procedure:
            key = (line.surgeon or "", line.procedure)
            dates = [one for one in (latest.get(key), line.begins) if one]
            latest[key] = max(dates, default=None)
    faults = []
    for (surgeon, procedure), newest in latest.items():
        owner = Owner(surgeon=surgeon)
        if newest is None:
            faults.append(_of_card(FaultKind.NEVER_DATED, owner, procedure, "no line says from when it counts"))
        elif (day - newest).days > REVIEW_DAYS:
            text = f"its newest line is of {newest}, {counted((day - newest).days, 'day')} ago"
            faults.append(_of_card(FaultKind.NOT_REVIEWED, owner, procedure, text))
    return faults


def _of_card(kind: FaultKind, owner: Owner, procedure: str, text: str) -> CardFault:
    return CardFault(kind=kind, procedure=procedure, surgeon=owner.layer, text=text)


NEAREST = 10
LEAST_CARDS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A slot in which two cards differ, with what each wants."""

    slot: RowKey
    one: RowValue | None
    other: RowValue | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NearCards:
    """Two surgeons' cards of one procedure, how many lines they have in common, and what differs."""

    procedure: str
    one: str
    other: str
    common: int
    differences: tuple[Difference, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TraysTogether:
    """Trays that are asked for on exactly the same cards, so that they could be one tray."""

    trays: tuple[str, ...]
    cards: tuple[tuple[str, str], ...]  # (procedure, surgeon or "" for the base card)


def find_near_cards(site: Site, day: date) -> tuple[NearCards, ...]:
    """The pairs of surgeons whose cards of one procedure differ least, the nearest first."""
    book = open_book(site)
    by_procedure = grouped(
        (procedure, (owner.surgeon, _wants(book, owner, procedure, day)))
        for owner, procedure in cards_of(site)
        if owner.surgeon
    )
    found = []
    for procedure, cards in by_procedure.items():
        for (one, mine), (other, theirs) in combinations(sorted(cards, key=lambda card: card[0]), 2):
            differences = _differences(mine, theirs)
            common = len(mine.keys() | theirs.keys()) - len(differences)
            found.append(NearCards(procedure=procedure, one=one, other=other, common=common, differences=differences))
    found.sort(key=lambda pair: (len(pair.differences), pair.procedure, pair.one, pair.other))
    return tuple(found[:NEAREST])


def find_trays_together(site: Site, day: date) -> tuple[TraysTogether, ...]:
    """Groups of trays asked for on the same cards, all of them and no others, on ``LEAST_CARDS`` or more.

    Cards are base cards and surgeons' cards as resolved; trays on the most cards come first.
    """
    book = open_book(site)
    cards: dict[str, list[tuple[str, str]]] = {}
    for owner, procedure in cards_of(site):
        wants = _wants(book, owner, procedure, day).values()
        for tray in sorted({want.thing for want in wants if want.kind is ThingKind.TRAY}):
            cards.setdefault(tray, []).append((procedure, owner.surgeon))
    groups = grouped((tuple(sorted(on)), tray) for tray, on in cards.items())
    found = [
        TraysTogether(trays=tuple(sorted(trays)), cards=on)
        for on, trays in groups.items()
        if len(trays) > 1 and len(on) >= LEAST_CARDS
    ]
    return tuple(sorted(found, key=lambda group: (-len(group.cards), group.trays)))


def describe_near_cards(site: Site, pairs: Iterable[NearCards]) -> tuple[str, ...]:
    """Pairs of near cards in words, with what differs."""
    lines = []
    for pair in pairs:
        names = " and ".join(owner_name(site, Owner(surgeon=one)) for one in (pair.one, pair.other))
        count = len(pair.differences)
        lines.append(f"{card_name(site, pair.procedure)}: {names} differ in {count} of {pair.common + count} lines")
        lines += [
            f"  {pair.one}: {want_text(site, one.one)}; {pair.other}: {want_text(site, one.other)}"
            for one in pair.differences
        ]
    return tuple(lines)


def describe_trays_together(site: Site, groups: Iterable[TraysTogether]) -> tuple[str, ...]:
    """Groups of trays in words."""
    return tuple(
        f"always together on {len(group.cards)} cards: "
        + ", ".join(f"{thing_name(site, ThingKind.TRAY, tray)} ({tray})" for tray in group.trays)
        for group in groups
    )


def _wants(book: CardBook, owner: Owner, procedure: str, day: date) -> dict[RowKey, RowValue]:
    """What a card wants by slot of the thing wanted, so that two ways of saying it are one."""
    found: dict[RowKey, RowValue] = {}
    for row in lay_card(book, owner, procedure, day):
        if row.want:
            slot = RowKey(kind=row.want.kind, thing=row.want.thing, side=row.slot.side, only_if=row.slot.only_if)
            found[slot] = row.want
    return found


def _differences(mine: dict[RowKey, RowValue], theirs: dict[RowKey, RowValue]) -> tuple[Difference, ...]:
    return tuple(
        Difference(slot=slot, one=mine.get(slot), other=theirs.get(slot))
        for slot in dict.fromkeys((*mine, *theirs))
        if not same_want(mine.get(slot), theirs.get(slot))
    )
