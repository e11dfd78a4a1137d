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
from picklist.problems import Problem, Where
from picklist.resolve.being_resolved import CaseBeingResolved, WorkingLine, to_fix
from picklist.resolve.versions import name_of


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
        problem = to_fix(
            "latex in the tray",
            replace(tray.where, column="latex"),
            f"latex alert: the tray {tray.name} ({tray.id}) holds latex",
            expected="a card line that replaces or removes the tray only if alert latex",
            related=_wheres(draft),
        )
        resolving.stop(problem)
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
        resolving.stop(_no_twin(resolving, draft, item))
    return draft


def stop_for_unstated_latex(resolving: CaseBeingResolved) -> None:
    """One problem for all things on a list of a latex alert whose latex is not stated; each is named."""
    items = list({item.id: item for item in resolving.latex_not_stated}.values())
    if not items:
        return
    names = ", ".join(f"{item.name} ({item.id}{_twins_fault(resolving, item)})" for item in items)
    message = f"latex alert: Items does not state whether {'this holds' if len(items) == 1 else 'these hold'} latex: "
    where = replace(items[0].where, column="latex")
    wanted = "yes or no in the latex column, or a latex-free twin that is stated to be free of it"
    resolving.stop(to_fix("latex not stated", where, message + names, expected=wanted))


def _twins_fault(resolving: CaseBeingResolved, item: Item) -> str:
    return f"; its twin {_why_not(resolving, item)}" if item.latex_free_twin else ""


def _why_not(resolving: CaseBeingResolved, item: Item) -> str:
    """Why an item's named twin cannot go in its place."""
    twin = resolving.site.items.get(item.latex_free_twin)
    if twin is None:
        return f"{item.latex_free_twin} is not in Items"
    if twin.latex:
        return f"{twin.id} is itself of latex"
    return f"{twin.id} is {'not stated to be free of latex' if twin.may_hold_latex else 'retired'}"


def _no_twin(resolving: CaseBeingResolved, draft: WorkingLine, item: Item) -> Problem:
    fault = f"its twin {_why_not(resolving, item)}" if item.latex_free_twin else "no latex-free twin is named"
    message = f"latex alert: {item.name} ({item.id}) holds latex and {fault}"
    problem = to_fix("latex without a twin", item.where, message, related=_wheres(draft))
    return replace(problem, value=item.latex_free_twin, expected="a latex-free twin, or a line that replaces it")


def _pack_without_latex(resolving: CaseBeingResolved, draft: WorkingLine) -> WorkingLine:
    suspects = latex_in_pack(resolving.site, draft.thing)
    if not suspects:
        return draft
    item = resolving.site.items.get(draft.thing)
    twin = item.latex_free_twin if item else ""
    if item is not None and twin in resolving.site.packs and not latex_in_pack(resolving.site, twin):
        return _swap(resolving, draft, twin, item.where)
    said = "" if all(one.holds for one in suspects) else "yes or no in the latex column of Items, "
    problem = to_fix(
        "latex in the pack",
        suspects[0].where,
        f"latex alert: pack {draft.thing} {suspects_text(suspects)}; no twin pack is stated to be free of latex",
        expected=f"{said}a card line that replaces the pack only if alert latex, or a twin pack",
        related=_wheres(draft),
    )
    resolving.stop(problem)
    return draft


def latex_in_pack(site: Site, pack: str) -> list[Suspect]:
    """What in a pack (or the pack as marked in Items) is not stated to be free of latex.

    A pack whose own row says nothing is as its contents are.
    """
    found = []
    as_item = site.items.get(pack)
    if as_item is not None and as_item.latex:
        found.append(Suspect(name=f"{as_item.name}, as it is marked in Items", where=as_item.where, holds=True))
    for line in site.packs[pack].lines:
        item = site.items.get(line.item)
        if item is None:
            found.append(Suspect(name=line.item, where=line.where, holds=False))
        elif item.may_hold_latex:
            found.append(Suspect(name=f"{item.name} ({item.id})", where=line.where, holds=bool(item.latex)))
    unread = "a row of its contents that could not be read"
    found += [Suspect(name=unread, where=where, holds=False) for where in site.packs[pack].unread]
    return found


def suspects_text(suspects: Sequence[Suspect]) -> str:
    """``holds latex: Drain (1002); it holds things of which latex is not stated: Drape (1003)``."""
    sure = [one.name for one in suspects if one.holds]
    unsaid = [one.name for one in suspects if not one.holds]
    parts = [f"holds latex: {', '.join(sure)}"] if sure else []
    parts += [f"holds things of which latex is not stated: {', '.join(unsaid)}"] if unsaid else []
    return "; it ".join(parts)


def _swap(resolving: CaseBeingResolved, draft: WorkingLine, twin: str, where: Where) -> WorkingLine:
    resolving.drop(draft, ReasonKind.LATEX_SWAP, f"latex alert: {twin} goes in its place", where)
    item = resolving.site.items.get(draft.thing)
    unsaid = ", of which Items does not state whether it holds latex" if item and item.latex is None else ""
    name = name_of(resolving.site, draft.kind, draft.thing)
    reason = Reason(
        kind=ReasonKind.LATEX_SWAP,
        text=f"latex alert: latex-free twin of {draft.thing} ({name}){unsaid}",
        open=draft.open,
        hold=draft.hold,
        where=where,
    )
    return replace(draft, thing=twin, reasons=(*draft.reasons, reason))


def _wheres(draft: WorkingLine) -> tuple[Where, ...]:
    return tuple(dict.fromkeys(reason.where for reason in draft.reasons if reason.where.file))
