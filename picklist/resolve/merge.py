"""Merge several procedures of one case into one list.

One field: what is counted per case is wanted in the larger quantity, and open beats hold: as
many are opened as the procedure that opens most, and open and hold together are as many as the
procedure that wants most. Several teams at once: everything adds up. What is counted per procedure
always adds up. The custom pack is that of the first procedure that names one; card lines that
ask for packs count as any other line. Left and right sets of a tray are merged each for itself, so
procedures on different sides get one of each.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import NamedTuple

from picklist.grouping import grouped
from picklist.model.cards import Counted
from picklist.model.needs import Merge, Reason, ReasonKind
from picklist.resolve.being_resolved import CaseBeingResolved, WorkingLine, each_once
from picklist.wording import card_words as words

Amount = tuple[int, int]


class AskedLine(NamedTuple):
    """A line of one procedure's card; ``card`` numbers the cards, as a procedure may stand twice."""

    card: int
    procedure: str
    draft: WorkingLine


def merge_procedures(
    resolving: CaseBeingResolved, cards: list[tuple[str, tuple[WorkingLine, ...]]]
) -> tuple[list[WorkingLine], tuple[Merge, ...]]:
    """Merge the lines of each procedure into one list, and say what was merged."""
    lines = _with_one_pack(resolving, cards)
    by_thing = grouped(((one.draft.kind, one.draft.thing, one.draft.side), one) for one in lines)
    drafts, merges = [], []
    for asked in by_thing.values():
        if len(asked) == 1:
            drafts.append(asked[0].draft)
            continue
        draft = _merged(asked, resolving.case.fields)
        amounts = _amounts_by_card(asked)
        drafts.append(draft)
        if len(amounts) > 1:
            merges.append(Merge(kind=draft.kind, thing=draft.thing, asked=amounts, open=draft.open, hold=draft.hold))
    return drafts, tuple(merges)


def larger_of(amounts: Iterable[Amount]) -> Amount:
    """What one team wants of several (open, hold): the larger quantity, open before hold."""
    asked = list(amounts)
    opened = max((o for o, _ in asked), default=0)
    return opened, max((o + h for o, h in asked), default=0) - opened


def sum_of(amounts: Iterable[Amount]) -> Amount:
    """What several teams want of several (open, hold)."""
    asked = list(amounts)
    return sum(o for o, _ in asked), sum(h for _, h in asked)


def _with_one_pack(resolving: CaseBeingResolved, cards: list[tuple[str, tuple[WorkingLine, ...]]]) -> list[AskedLine]:
    """All lines except the packs that later procedures name themselves."""
    procedures = resolving.site.procedures
    named = [procedure in procedures and bool(procedures[procedure].pack) for procedure, _ in cards]
    chosen = named.index(True) if True in named else 0
    kept = []
    for number, (procedure, drafts) in enumerate(cards):
        for draft in drafts:
            if number == chosen or not draft.procedure_pack:
                kept.append(AskedLine(card=number, procedure=procedure, draft=draft))
            else:
                text = words.one_pack(cards[chosen][0])
                resolving.drop(draft, ReasonKind.MERGED, text, resolving.case.where)
    return kept


def _merged(asked: list[AskedLine], fields: int) -> WorkingLine:
    cards: dict[int, WorkingLine] = {}
    for one in asked:
        cards[one.card] = cards[one.card].joined(one.draft) if one.card in cards else one.draft
    first, *others = cards.values()
    if not others:
        return first
    opened, held = _amount([one.draft for one in asked], fields)
    reason = Reason(kind=ReasonKind.MERGED, text=_merge_text(asked, fields), open=opened, hold=held)
    return replace(
        first,
        open=opened,
        hold=held,
        notes=each_once(note for draft in cards.values() for note in draft.notes),
        reasons=(*(old for draft in cards.values() for old in draft.reasons), reason),
    )


def _amount(drafts: list[WorkingLine], fields: int) -> Amount:
    per_case = [(d.open, d.hold) for d in drafts if d.counted is Counted.PER_CASE]
    per_procedure = [(d.open, d.hold) for d in drafts if d.counted is Counted.PER_PROCEDURE]
    shared = sum_of(per_case) if fields > 1 else larger_of(per_case)
    return sum_of([shared, sum_of(per_procedure)])


def _amounts_by_card(asked: list[AskedLine]) -> tuple[tuple[str, int, int], ...]:
    """(procedure, open, hold) of each card that asks, in the order of the procedures."""
    found: dict[tuple[int, str], Amount] = {}
    for one in asked:
        before = found.get((one.card, one.procedure), (0, 0))
        found[one.card, one.procedure] = sum_of([before, (one.draft.open, one.draft.hold)])
    return tuple((procedure, opened, held) for (_, procedure), (opened, held) in found.items())


def _merge_text(asked: list[AskedLine], fields: int) -> str:
    return words.merged(_amounts_by_card(asked), {one.draft.counted for one in asked}, fields)
