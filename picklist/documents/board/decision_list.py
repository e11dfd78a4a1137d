"""Conflicts on the board: the list to decide, and the panel with the proof and the remedies of each."""

from __future__ import annotations

from picklist import wording
from picklist.documents.board.deadline_strip import DeadlineStrip
from picklist.documents.board.index import BoardIndex, conflict_href
from picklist.documents.views.conflict_lines import amount
from picklist.documents.views.conflict_sheet import ConflictBlock
from picklist.documents.views.finished_words import View
from picklist.model.conflicts import Conflict
from picklist.wording.chances import late_share
from picklist.wording.say_remedies import NONE_IN_A_LIST


class DecisionLine(View):
    """A line of the list to decide; ``minute`` is when the tray is needed, for the filter of time."""

    def __init__(self, index: BoardIndex, one: Conflict) -> None:
        found, needed = index.found, index.needed(one)
        self.href = conflict_href(one.id)
        self.kind = one.kind.value
        self.decide_by = found.clock.hhmm(one.decide_by) if one.decide_by else wording.NONE
        self.decide_day = found.other_day(one.decide_by) if one.decide_by else ""
        self.case = one.waiter
        self.room = found.room(one.waiter)
        self.tray = found.tray_wanted(one)
        self.amount = amount(one)
        self.chance = _chance(index, one)
        self.remedies = (
            wording.counted(len(one.remedies), "remedy", "remedies")
            if one.remedies
            else NONE_IN_A_LIST[index.plan.search]
        )
        self.minute = index.axis.minute(needed) if needed else None
        self.find = find_conflict(index, one)


class ConflictLeaf(View):
    """All of one conflict. ``keys`` are the cases and the tray that light up with it."""

    def __init__(self, index: BoardIndex, one: Conflict, before: str, after: str) -> None:
        found = index.found
        tied = [case for case in index.clusters[one.id].cases if case not in one.cases]
        parties = [index.case_ref(case) for case in one.cases]
        tray = index.tray_ref(one.tray)
        days = [
            r for r in index.plan.reuses if r.set_id == one.set_id and r.waiter == one.waiter and r.tray == one.tray
        ]
        self.id = conflict_href(one.id)[1:]
        self.key = one.id
        self.kind = one.kind.value
        self.title = f"{found.tray_wanted(one)} for {found.case_in_room(one.waiter)}"
        self.block = ConflictBlock(found, one)
        self.case = parties[0]
        self.tray = tray
        self.needed = found.when(index.needed(one))
        self.givers = tuple(parties[1:])
        self.tied = tuple(index.case_ref(case) for case in tied)
        self.chance = _chance(index, one)
        self.days = tuple(DeadlineStrip(index, reuse) for reuse in days)
        self.keys = " ".join(ref.href[1:] for ref in (*parties, tray) if ref.href)
        self.before = before
        self.after = after


def conflict_entries(index: BoardIndex) -> tuple[DecisionLine, ...]:
    """The list to decide, most urgent first."""
    return tuple(DecisionLine(index, one) for one in index.conflicts)


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
    return tuple(ConflictLeaf(index, one, before, after) for before, one, after in around)
