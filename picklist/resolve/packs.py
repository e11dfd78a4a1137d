"""What the custom pack already holds is not picked loose as well."""

from __future__ import annotations

from dataclasses import replace

from picklist.model.cards import ThingKind
from picklist.model.needs import PackContent, Reason, ReasonKind
from picklist.model.site import Site
from picklist.problems import Where
from picklist.resolve.desk import Draft

Held = dict[str, list[tuple[str, int, Where]]]


def pack_contents(site: Site, drafts: list[Draft]) -> tuple[PackContent, ...]:
    """What the packs that will be opened hold together, item by item in the order of the packs."""
    contents: dict[str, int] = {}
    for draft in _opened_packs(drafts):
        for line in site.packs[draft.thing].lines:
            contents[line.item] = contents.get(line.item, 0) + line.quantity * draft.open
    return tuple(PackContent(item=item, name=_name(site, item), quantity=n) for item, n in contents.items())


def take_off_pack(site: Site, drafts: list[Draft]) -> list[Draft]:
    """The drafts, less what opened packs hold of each: off open quantities, off hold if the site says so.

    A pack that is only on hold may stay shut, so nothing is taken off for it.
    """
    held = _held_in_packs(site, drafts)
    return [_less_pack(site, draft, held) if draft.kind is ThingKind.ITEM else draft for draft in drafts]


def _opened_packs(drafts: list[Draft]) -> list[Draft]:
    return [d for d in drafts if d.kind is ThingKind.PACK and d.open]


def _held_in_packs(site: Site, drafts: list[Draft]) -> Held:
    held: Held = {}
    for draft in _opened_packs(drafts):
        for line in site.packs[draft.thing].lines:
            held.setdefault(line.item, []).append((draft.thing, line.quantity * draft.open, line.where))
    return held


def _less_pack(site: Site, draft: Draft, held: Held) -> Draft:
    left = []
    for pack, quantity, where in held.get(draft.thing, ()):
        off_open = min(draft.open, quantity)
        off_hold = min(draft.hold, quantity - off_open) if site.settings.pack_offsets_hold else 0
        rest = quantity - off_open - off_hold
        left.append((pack, rest, where))
        if rest < quantity:
            draft = _offset(draft, off_open, off_hold, f"pack {pack} holds {quantity}", where)
    if left:
        held[draft.thing] = left
    return draft


def _offset(draft: Draft, off_open: int, off_hold: int, text: str, where: Where) -> Draft:
    opened, kept = draft.open - off_open, draft.hold - off_hold
    reason = Reason(kind=ReasonKind.IN_PACK, text=text, open=opened, hold=kept, where=where)
    return replace(draft, open=opened, hold=kept, reasons=(*draft.reasons, reason))


def _name(site: Site, item: str) -> str:
    return site.items[item].name if item in site.items else item
