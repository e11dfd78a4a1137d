"""Edits to card lines are tried with the very resolving that the carts use before anyone relies on them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import UTC, datetime

from picklist.model.cards import CardLine, Change, ConditionKind, ThingKind
from picklist.model.schedule import Case, Side
from picklist.resolve.being_resolved import CaseBeingResolved
from picklist.resolve.conditions import judge_line
from picklist.resolve.layers import resolve_procedure
from picklist.upkeep.card_rows import CardBook, CardRow, read_card
from picklist.upkeep.line_edits import Target
from picklist.upkeep.slots import RowKey, RowValue

Amounts = Counter[tuple[ThingKind, str, str]]
Wish = tuple[RowKey, RowValue | None]


def edits_do_it(before: CardBook, after: CardBook, target: Target, changes: Iterable[Wish]) -> bool:
    """Whether a case of the card gets just what the changes say, and no list stops that did not stop before."""
    if target.procedure is None:
        return True
    changes = tuple(changes)
    rows = {row.slot: row for row in read_card(before, target.owner, target.procedure, target.effective) if row.mine}
    for slot in dict.fromkeys((RowKey(kind=ThingKind.TRAY, thing=""), *(slot for slot, _ in changes))):
        case = _case(target, slot)
        amounts, stops = _resolved(before, case)
        now, now_stops = _resolved(after, case)
        if now_stops - stops or now != _expected(amounts, rows, changes, case):
            return False
    return True


def _case(target: Target, slot: RowKey) -> Case:
    """A case in which a slot counts."""
    day = target.effective
    said = {one.kind: one.value for one in slot.only_if if not one.negated}
    return Case(
        number="",
        day=day,
        room="",
        start=datetime(day.year, day.month, day.day, tzinfo=UTC),
        minutes=0,
        surgeon=target.owner.surgeon,
        procedures=(target.procedure or "",),
        side=slot.side or Side(said.get(ConditionKind.SIDE, Side.LEFT)),
        alerts=(said[ConditionKind.ALERT],) if ConditionKind.ALERT in said else (),
        patient_size=said.get(ConditionKind.SIZE, "some size"),
    )


def _resolved(book: CardBook, case: Case) -> tuple[Amounts, Counter[tuple[str, str]]]:
    desk = CaseBeingResolved(site=book.site, index=book.index, case=case)
    amounts: Amounts = Counter()
    for draft in resolve_procedure(desk, case.procedures[0]):
        share = 1 if case.side is not Side.BOTH or draft.side is not Side.RIGHT else 0  # both sides alike
        amounts[draft.kind, draft.thing, "open"] += draft.open * share
        amounts[draft.kind, draft.thing, "hold"] += draft.hold * share
    return +amounts, Counter((stop.kind, stop.message) for stop in desk.stopped)


def _expected(before: Amounts, rows: dict[RowKey, CardRow], changes: tuple[Wish, ...], case: Case) -> Amounts:
    amounts = Counter(before)
    overruled = {slot for slot, row in rows.items() if row.fixed}
    for slot, after in changes:
        if slot in overruled or not _counts(slot, case):
            continue
        row = rows.get(slot)
        for want, sign in ((row.want if row else None, -1), (after, 1)):
            if want:
                amounts[want.kind, want.thing, "open"] += sign * want.open
                amounts[want.kind, want.thing, "hold"] += sign * want.hold
    return +amounts


def _counts(slot: RowKey, case: Case) -> bool:
    line = CardLine(
        procedure=None,
        surgeon=None,
        change=Change.ADD,
        kind=slot.kind,
        thing=slot.thing,
        side=slot.side,
        only_if=slot.only_if,
    )
    return judge_line(line, case).counts is True
