"""Apply a latex alert: only what is stated to be latex-free goes on the list; the rest is swapped or stops it.

An item whose latex is not stated counts as one that holds it. A twin must be in the catalogue, not
retired, and itself stated to be free. A custom pack that is marked as latex, or that holds anything
not stated to be free, is swapped for its own twin pack (the twin of the item of the pack's id) when
every item in that is stated to be free; otherwise the list stops until a card line replaces the
pack (as with ``only if`` set to ``alert latex``). So it does for a tray that is stated to hold latex; one
that does not say stays, and the list says that it must be checked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from picklist.model.cards import ThingKind
from picklist.model.catalogue import Item
from picklist.model.needs import Reason, ReasonKind
from picklist.model.site import Site
from picklist.problems import Where
from picklist.resolve.being_resolved import CaseBeingResolved, WorkingLine
from picklist.resolve.versions import name_of
from picklist.wording import card_problems as problems
from picklist.wording import card_words as words


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A content of a pack that ``holds`` latex, or of which that is not stated."""

    name: str
    where: Where
    holds: bool


def swap_latex(resolving: CaseBeingResolved, drafts: list[WorkingLine]) -> list[WorkingLine]:
    """Swap latex for latex-free twins under a latex alert; without one nothing changes."""
    if not resolving.case.latex_alert:
        return drafts
    swapped: dict[tuple[ThingKind, str, object, str], WorkingLine] = {}
    for draft in drafts:
        done = _without_latex(resolving, draft)
        key = (done.kind, done.thing, done.side, done.person)
        swapped[key] = swapped[key].joined(done) if key in swapped else done
    return list(swapped.values())


def latex_free_twin(site: Site, item: Item) -> Item | None:
    """The item's twin if it can serve under a latex alert."""
    twin = site.items.get(item.latex_free_twin)
    return twin if twin is not None and not twin.may_hold_latex and not twin.retired else None


def _without_latex(resolving: CaseBeingResolved, draft: WorkingLine) -> WorkingLine:
    if draft.kind is ThingKind.ITEM:
        return _item_without_latex(resolving, draft)
    if draft.kind is ThingKind.PACK:
        return _pack_without_latex(resolving, draft)
    return _tray_without_latex(resolving, draft)


def _tray_without_latex(resolving: CaseBeingResolved, draft: WorkingLine) -> WorkingLine:
    tray = resolving.site.trays[draft.thing]
    if tray.latex:
        resolving.stop(problems.tray_holds_latex(tray, _wheres(draft)))
    return draft


def _item_without_latex(resolving: CaseBeingResolved, draft: WorkingLine) -> WorkingLine:
    item = resolving.site.items[draft.thing]
    if not item.may_hold_latex:
        return draft
    twin = latex_free_twin(resolving.site, item)
    if twin is not None:
        return _swap(resolving, draft, twin.id, item.where)
    if item.latex is None:
        resolving.latex_not_stated.append(item)
    else:
        resolving.stop(problems.latex_without_twin(item, _twins_fault(resolving, item), _wheres(draft)))
    return draft


def stop_for_unstated_latex(resolving: CaseBeingResolved) -> None:
    """One problem for all things on a list of a latex alert whose latex is not stated; each is named."""
    items = list({item.id: item for item in resolving.latex_not_stated}.values())
    if items:
        resolving.stop(problems.latex_not_stated([(item, _twins_fault(resolving, item)) for item in items]))


def _twins_fault(resolving: CaseBeingResolved, item: Item) -> str:
    return problems.twins_fault(item, resolving.site.items.get(item.latex_free_twin))


def _pack_without_latex(resolving: CaseBeingResolved, draft: WorkingLine) -> WorkingLine:
    suspects = latex_in_pack(resolving.site, draft.thing)
    if not suspects:
        return draft
    item = resolving.site.items.get(draft.thing)
    twin = item.latex_free_twin if item else ""
    if item is not None and twin in resolving.site.packs and not latex_in_pack(resolving.site, twin):
        return _swap(resolving, draft, twin, item.where)
    all_hold = all(one.holds for one in suspects)
    said, where = suspects_text(suspects), suspects[0].where
    resolving.stop(problems.pack_holds_latex(draft.thing, where, said, _wheres(draft), stated=all_hold))
    return draft


def latex_in_pack(site: Site, pack: str) -> list[Suspect]:
    """What in a pack (or the pack as marked in Items) is not stated to be free of latex.

    A pack whose own row says nothing is as its contents are.
    """
    found = []
    as_item = site.items.get(pack)
    if as_item is not None and as_item.latex:
        found.append(Suspect(name=words.marked_in_items(as_item.name), where=as_item.where, holds=True))
    for line in site.packs[pack].lines:
        item = site.items.get(line.item)
        if item is None:
            found.append(Suspect(name=line.item, where=line.where, holds=False))
        elif item.may_hold_latex:
            found.append(Suspect(name=f"{item.name} ({item.id})", where=line.where, holds=bool(item.latex)))
    found += [Suspect(name=words.UNREAD_CONTENT, where=where, holds=False) for where in site.packs[pack].unread]
    return found


def suspects_text(suspects: Sequence[Suspect]) -> str:
    """What in a pack holds latex, and of what that is not stated, in words."""
    sure = [one.name for one in suspects if one.holds]
    return words.latex_in(sure, [one.name for one in suspects if not one.holds])


def _swap(resolving: CaseBeingResolved, draft: WorkingLine, twin: str, where: Where) -> WorkingLine:
    resolving.drop(draft, ReasonKind.LATEX_SWAP, words.twin_instead(twin), where)
    item = resolving.site.items.get(draft.thing)
    name = name_of(resolving.site, draft.kind, draft.thing)
    reason = Reason(
        kind=ReasonKind.LATEX_SWAP,
        text=words.twin_of(draft.thing, name, stated=item is None or item.latex is not None),
        open=draft.open,
        hold=draft.hold,
        where=where,
    )
    return replace(draft, thing=twin, reasons=(*draft.reasons, reason))


def _wheres(draft: WorkingLine) -> tuple[Where, ...]:
    return tuple(dict.fromkeys(reason.where for reason in draft.reasons if reason.where.file))
