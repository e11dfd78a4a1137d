"""Conflicts on the board: the list to decide, and the panel with the proof and the remedies of each."""

from __future__ import annotations

from dataclasses import dataclass

from picklist import wording
from picklist.documents.board.deadline_strip import DeadlineStrip, deadline_strip
from picklist.documents.board.index import BoardIndex, Ref, conflict_href
from picklist.documents.views.conflict_sheet import ConflictBlock
from picklist.model.conflicts import Conflict, ConflictKind
from picklist.wording.chances import late_share
from picklist.wording.say_remedies import NONE_IN_A_LIST


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionLine:
    """A line of the list to decide; ``minute`` is when the tray is needed, for the filter of time."""

    href: str
    kind: str
    decide_by: str
    decide_day: str
    case: str
    room: str
    tray: str
    amount: str
    chance: str
    remedies: str
    minute: int | None
    find: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ConflictLeaf:
    """All of one conflict. ``keys`` are the cases and the tray that light up with it."""

    id: str
    key: str
    kind: str
    title: str
    block: ConflictBlock
    case: Ref
    tray: Ref
    needed: str
    givers: tuple[Ref, ...]
    tied: tuple[Ref, ...]
    chance: str
    days: tuple[DeadlineStrip, ...]
    keys: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KindCount:
    """A kind of conflict, how many there are of it, and what it means."""

    kind: str
    count: int
    meaning: str


def kind_counts(index: BoardIndex) -> tuple[KindCount, ...]:
    """Every kind, also those without a conflict."""
    kinds = [one.kind for one in index.conflicts]
    return tuple(KindCount(kind=k.value, count=kinds.count(k), meaning=wording.KIND_MEANS[k]) for k in ConflictKind)


def conflict_entries(index: BoardIndex) -> tuple[DecisionLine, ...]:
    """The list to decide, most urgent first."""
    return tuple(_entry(index, one) for one in index.conflicts)


def _entry(index: BoardIndex, one: Conflict) -> DecisionLine:
    found, needed = index.found, index.needed(one)
    same_day = one.decide_by is not None and found.clock.day(one.decide_by) == found.day
    wall = found.clock.wall(one.decide_by) if one.decide_by else None
    return DecisionLine(
        href=conflict_href(one.id),
        kind=one.kind.value,
        decide_by=found.clock.hhmm(one.decide_by) if one.decide_by else wording.NONE,
        decide_day=wording.short_day(wall.date()) if wall and not same_day else "",
        case=one.waiter,
        room=found.room(one.waiter),
        tray=found.tray_wanted(one),
        amount=ConflictBlock(found, one).amount,
        chance=_chance(index, one),
        remedies=_remedies(index, one),
        minute=index.axis.minute(needed) if needed else None,
        find=find_conflict(index, one),
    )


def _remedies(index: BoardIndex, one: Conflict) -> str:
    if one.remedies:
        return wording.counted(len(one.remedies), "remedy", "remedies")
    return NONE_IN_A_LIST[index.plan.search]


def _chance(index: BoardIndex, one: Conflict) -> str:
    """The share of draws in which it fails, and whether that is only if a tray on hold is opened."""
    if one.chance_of_failing is None or index.plan.chance is None:
        return ""
    opened = " if opened" if index.found.hangs_on_opening(one.set_id, one.waiter) else ""
    return f"{late_share(one.chance_of_failing, index.plan.chance.draws)}{opened}"


def find_conflict(index: BoardIndex, one: Conflict) -> str:
    """What a search looks in: kind, cases with their rooms and surgeons, tray and set."""
    names = [one.kind.value, index.found.tray(one.tray), one.tray, one.set_id]
    for number in one.cases:
        case, cart = index.found.cases.get(number), index.carts.get(number)
        names += [number, case.room if case else "", case.surgeon if case else "", cart.surgeon_name if cart else ""]
    return " ".join(dict.fromkeys(name for name in names if name))


def conflict_leaves(index: BoardIndex) -> tuple[ConflictLeaf, ...]:
    """A leaf for each entry of the list, in its order."""
    hrefs = [conflict_href(one.id) for one in index.conflicts]
    around = zip(["", *hrefs], index.conflicts, [*hrefs[1:], ""], strict=False)
    return tuple(_leaf(index, one, before, after) for before, one, after in around)


def _leaf(index: BoardIndex, one: Conflict, before: str, after: str) -> ConflictLeaf:
    found = index.found
    tied = [case for case in index.clusters[one.id].cases if case not in one.cases]
    parties = [index.case_ref(case) for case in one.cases]
    tray = index.tray_ref(one.tray)
    days = [r for r in index.plan.reuses if r.set_id == one.set_id and r.waiter == one.waiter and r.tray == one.tray]
    return ConflictLeaf(
        id=conflict_href(one.id)[1:],
        key=one.id,
        kind=one.kind.value,
        title=f"{found.tray_wanted(one)} for {found.case_in_room(one.waiter)}",
        block=ConflictBlock(found, one),
        case=parties[0],
        tray=tray,
        needed=found.when(index.needed(one)),
        givers=tuple(parties[1:]),
        tied=tuple(index.case_ref(case) for case in tied),
        chance=_chance(index, one),
        days=tuple(deadline_strip(index, reuse) for reuse in days),
        keys=" ".join(ref.href[1:] for ref in (*parties, tray) if ref.href),
        before=before,
        after=after,
    )
