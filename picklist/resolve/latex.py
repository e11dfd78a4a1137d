"""Under a latex alert nothing with latex goes on the list: its latex-free twin does, or the list stops.

A twin must be in the catalogue, not retired, and itself without latex. A custom pack that is
marked as latex, or that holds anything with latex, is swapped for its own twin pack (the twin of
the item of the pack's id) when every item in that is without latex; otherwise the list stops until
a card line replaces the pack (as with ``only if`` set to ``alert latex``).
"""

from __future__ import annotations

from dataclasses import replace

from picklist.model.cards import ThingKind
from picklist.model.catalogue import Item
from picklist.model.needs import Reason, ReasonKind
from picklist.model.site import Site
from picklist.problems import Problem, Where
from picklist.resolve.desk import Desk, Draft, mending
from picklist.resolve.versions import name_of


def swap_latex(desk: Desk, drafts: list[Draft]) -> list[Draft]:
    """The drafts as they are without an alert; under one, with twins in the place of latex."""
    if not desk.case.latex_alert:
        return drafts
    swapped: dict[tuple[ThingKind, str, object, str], Draft] = {}
    for draft in drafts:
        done = _without_latex(desk, draft)
        key = (done.kind, done.thing, done.side, done.person)
        swapped[key] = swapped[key].joined(done) if key in swapped else done
    return list(swapped.values())


def latex_free_twin(site: Site, item: Item) -> Item | None:
    """The item's twin if it can serve under a latex alert."""
    twin = site.items.get(item.latex_free_twin)
    return twin if twin is not None and not twin.latex and not twin.retired else None


def _without_latex(desk: Desk, draft: Draft) -> Draft:
    if draft.kind is ThingKind.ITEM:
        return _item_without_latex(desk, draft)
    if draft.kind is ThingKind.PACK:
        return _pack_without_latex(desk, draft)
    return draft


def _item_without_latex(desk: Desk, draft: Draft) -> Draft:
    item = desk.site.items[draft.thing]
    if not item.latex:
        return draft
    twin = latex_free_twin(desk.site, item)
    if twin is None:
        desk.stop(_no_twin(desk, draft, item))
        return draft
    return _swap(desk, draft, twin.id, item.where)


def _no_twin(desk: Desk, draft: Draft, item: Item) -> Problem:
    twin = desk.site.items.get(item.latex_free_twin)
    if not item.latex_free_twin:
        fault = "and no latex-free twin is named"
    elif twin is None:
        fault = f"and its twin {item.latex_free_twin} is not in Items"
    else:
        fault = f"and its twin {twin.id} {'is itself of latex' if twin.latex else 'is retired'}"
    message = f"latex alert: {item.name} ({item.id}) holds latex {fault}"
    problem = mending("latex without a twin", item.where, message, related=_wheres(draft))
    return replace(problem, value=item.latex_free_twin, expected="a latex-free twin, or a line that replaces it")


def _pack_without_latex(desk: Desk, draft: Draft) -> Draft:
    culprits = latex_in_pack(desk.site, draft.thing)
    if not culprits:
        return draft
    item = desk.site.items.get(draft.thing)
    twin = item.latex_free_twin if item else ""
    if item is not None and twin in desk.site.packs and not latex_in_pack(desk.site, twin):
        return _swap(desk, draft, twin, item.where)
    name, where = culprits[0]
    also = f" and {len(culprits) - 1} more" if len(culprits) > 1 else ""
    problem = mending(
        "latex in the pack",
        where,
        f"latex alert: pack {draft.thing} holds {name}{also}, and it has no twin pack without latex",
        expected="a card line that replaces the pack only if alert latex, or a twin pack",
        related=_wheres(draft),
    )
    desk.stop(problem)
    return draft


def latex_in_pack(site: Site, pack: str) -> list[tuple[str, Where]]:
    """What in a pack (or the pack as marked in Items) holds latex or is not known; names and places."""
    found = []
    as_item = site.items.get(pack)
    if as_item is not None and as_item.latex:
        found.append((f"latex, as {as_item.name} is marked", as_item.where))
    for line in site.packs[pack].lines:
        item = site.items.get(line.item)
        if item is None:
            found.append((f"{line.item}, of which Items does not say whether it is of latex", line.where))
        elif item.latex:
            found.append((f"{item.name} ({item.id}) of latex", line.where))
    return found


def _swap(desk: Desk, draft: Draft, twin: str, where: Where) -> Draft:
    desk.drop(draft, ReasonKind.LATEX_SWAP, f"latex alert: {twin} goes in its place", where)
    reason = Reason(
        kind=ReasonKind.LATEX_SWAP,
        text=f"latex alert: latex-free twin of {draft.thing} ({name_of(desk.site, draft.kind, draft.thing)})",
        open=draft.open,
        hold=draft.hold,
        where=where,
    )
    return replace(draft, thing=twin, reasons=(*draft.reasons, reason))


def _wheres(draft: Draft) -> tuple[Where, ...]:
    return tuple(dict.fromkeys(reason.where for reason in draft.reasons if reason.where.file))
