"""Apply the card lines of one procedure, layer after layer.

Within a layer all ``add`` lines act first, then all ``replace`` lines at once (so that none of
them acts on what another has just put there), then all ``remove`` lines.
"""

from __future__ import annotations

from dataclasses import replace
from difflib import get_close_matches

from picklist.grouping import grouped
from picklist.model.cards import CardLine, Change, ThingKind
from picklist.model.catalogue import PICKED
from picklist.model.needs import Reason, ReasonKind
from picklist.resolve.being_resolved import CaseBeingResolved, WorkingLine
from picklist.resolve.card_index import StandingLine
from picklist.resolve.conditions import judge_line
from picklist.resolve.versions import is_known, line_text, lines_standing, reason_of, target_of
from picklist.resolve.working_lines import Card, draft_instead, draft_of, sides_instead, sides_wanted
from picklist.wording import card_problems as problems
from picklist.wording import card_words as words


def resolve_procedure(resolving: CaseBeingResolved, procedure: str) -> tuple[WorkingLine, ...]:
    """What one procedure wants from this case's surgeon, before merging, packs and swaps."""
    card = _base_card(resolving, procedure)
    _, *layers = resolving.index.layers(procedure, resolving.case.surgeon)
    for lines in layers:
        _apply_layer(resolving, card, _lines_counting(resolving, card, lines))
    return tuple(card.drafts.values())


def _base_card(resolving: CaseBeingResolved, procedure: str) -> Card:
    """The procedure's own pack and lines, before any surgeon's and the house's.

    It is the same for every surgeon, and laid once for all cases of a day with the same side, alerts and size. One
    with something wrong, which names the case, is not kept.
    """
    case, laid = resolving.case, resolving.index.bases
    key = (procedure, case.day, case.side, case.sides, case.alerts, case.patient_size)
    if key in laid:
        card, found = laid[key]
    else:
        base = CaseBeingResolved(site=resolving.site, index=resolving.index, case=case)
        card, found = _lay_base(base, procedure), base.alone()
        if not (found.stopped or found.notices):
            laid[key] = card, found
    resolving.take_over(found)
    return card.copy()


def _lay_base(resolving: CaseBeingResolved, procedure: str) -> Card:
    card = Card()
    _put_procedure_pack(resolving, card, procedure)
    base, *_ = resolving.index.layers(procedure, resolving.case.surgeon)
    _apply_layer(resolving, card, _lines_counting(resolving, card, base))
    return card


def _put_procedure_pack(resolving: CaseBeingResolved, card: Card, procedure: str) -> None:
    known = resolving.site.procedures.get(procedure)
    if known is None or not known.pack:
        return
    if known.pack not in resolving.site.packs:
        resolving.stop(problems.unknown_pack(procedure, known.pack, known.where))
        return
    text = words.procedures_pack(procedure, known.pack)
    reason = Reason(kind=ReasonKind.PROCEDURE_PACK, text=text, open=1, hold=0, where=known.where)
    card.put(WorkingLine(kind=ThingKind.PACK, thing=known.pack, open=1, hold=0, procedure_pack=True, reasons=(reason,)))


def _lines_counting(resolving: CaseBeingResolved, card: Card, lines: tuple[CardLine, ...]) -> list[StandingLine]:
    counting = []
    for standing in lines_standing(resolving, lines):
        line = standing.line
        verdict = judge_line(line, resolving.case)
        if verdict.counts:
            counting.append(standing)
            continue
        for kind in verdict.unstated:
            resolving.want_stated(kind, line.where)
        if line.change is not Change.REMOVE:
            card.unmet.add((line.kind, line.thing))
            if verdict.counts is False:
                _drop_line(resolving, line, verdict.why)
    return counting


def _drop_line(resolving: CaseBeingResolved, line: CardLine, why: str) -> None:
    draft = WorkingLine(kind=line.kind, thing=line.thing, open=0, hold=0)
    resolving.drop(draft, ReasonKind.CONDITION, f"{line_text(line, resolving.site)}; {why}", line.where)


def _apply_layer(resolving: CaseBeingResolved, card: Card, layer: list[StandingLine]) -> None:
    by_change = grouped((standing.line.change, standing) for standing in layer)
    for standing in by_change.get(Change.ADD, ()):
        _add(resolving, card, standing)
    _replace_all(resolving, card, by_change.get(Change.REPLACE, []))
    for standing in by_change.get(Change.REMOVE, ()):
        _remove(resolving, card, standing)


def _add(resolving: CaseBeingResolved, card: Card, standing: StandingLine) -> None:
    line = standing.line
    if not _is_usable(resolving, line):
        card.unmet.add(standing.target)
        return
    if line.kind is ThingKind.PACK and (theirs := _own_pack(card, line)):
        reason = reason_of(ReasonKind.CARD_LINE, line_text(line, resolving.site) + words.OWN_PACK, line)
        card.take(theirs)
        card.put(replace(theirs, counted=line.counted).with_amounts(line.open, line.hold, reason))
        return
    sides = sides_wanted(resolving, line)
    if not sides:
        card.unmet.add(standing.target)
    for side in sides:
        card.put(draft_of(standing, side))


def _own_pack(card: Card, line: CardLine) -> WorkingLine | None:
    """The pack that the procedure names itself, when a card names the same pack once more."""
    found = card.find((line.kind, line.thing), None)
    implied = [d for d in found if d.procedure_pack and all(r.kind is ReasonKind.PROCEDURE_PACK for r in d.reasons)]
    return implied[0] if implied else None


def _replace_all(resolving: CaseBeingResolved, card: Card, layer: list[StandingLine]) -> None:
    found = [(standing, card.find(standing.target, standing.line.side)) for standing in layer]
    found = [(standing, targets) for standing, targets in found if _is_usable(resolving, standing.line)]
    taken = {id(draft): draft for _, targets in found for draft in targets}
    for draft in taken.values():
        card.take(draft)
    for standing, targets in found:
        if targets:
            _put_instead(resolving, card, standing, targets)
        else:
            _report_nothing(resolving, card, standing)


def _put_instead(resolving: CaseBeingResolved, card: Card, standing: StandingLine, targets: list[WorkingLine]) -> None:
    line = standing.line
    same = (line.kind, line.thing) == standing.target
    if not same:
        for draft in targets:
            resolving.drop(draft, ReasonKind.REPLACED, line_text(line, resolving.site), line.where)
    for side in sides_instead(resolving, line, targets):
        of_side = [d for d in targets if d.side == side] or targets
        card.put(draft_instead(resolving, standing, side, of_side))


def _remove(resolving: CaseBeingResolved, card: Card, standing: StandingLine) -> None:
    line = standing.line
    targets = card.find(standing.target, line.side)
    for draft in targets:
        card.take(draft)
        resolving.drop(draft, ReasonKind.REMOVED, line_text(line, resolving.site), line.where)
    if not targets:
        _report_nothing(resolving, card, standing)
    if line.open or line.hold:
        resolving.note(problems.quantity_on_removal(line))


def _report_nothing(resolving: CaseBeingResolved, card: Card, standing: StandingLine) -> None:
    """Report a line that removes or replaces nothing. A line for every procedure only acts where it can."""
    line = standing.line
    if line.procedure is None or standing.target in card.unmet:
        return
    thing = standing.target[1]
    there = sorted({d.thing for d in card.drafts.values()})
    resolving.stop(problems.changes_nothing(line, thing, get_close_matches(thing, there, n=3)))


def _is_usable(resolving: CaseBeingResolved, line: CardLine) -> bool:
    """Whether the thing is known; a picked thing without a quantity is reported too."""
    if not is_known(resolving.site, line.kind, line.thing):
        resolving.stop(problems.unknown_thing(line))
        return False
    takes_over = line.change is Change.REPLACE and target_of(line, resolving.site) != (line.kind, line.thing)
    if line.open or line.hold or takes_over or not is_picked(resolving, line.kind, line.thing):
        return True
    resolving.note(problems.no_quantity(line))
    return True


def is_picked(resolving: CaseBeingResolved, kind: ThingKind, thing: str) -> bool:
    """Whether a thing goes on the cart, so that a line without a quantity adds nothing."""
    return kind is not ThingKind.ITEM or resolving.site.items[thing].item_class in PICKED
