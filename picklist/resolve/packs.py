"""Take off the list what a custom pack already holds, so that it is not picked loose too."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from picklist.grouping import grouped
from picklist.model.cards import ThingKind
from picklist.model.catalogue import PackLine
from picklist.model.needs import PackContent, Reason, ReasonKind
from picklist.model.site import Site
from picklist.problems import Where
from picklist.resolve.being_resolved import WorkingLine
from picklist.wording.card_words import in_pack


@dataclass(frozen=True, slots=True, kw_only=True)
class _Holding:
    """What one pack holds of an item, and how much of it no line has been given yet."""

    pack: str
    whole: int
    left: int
    where: Where


Held = dict[str, list[_Holding]]


def packs_among(drafts: Iterable[WorkingLine]) -> list[WorkingLine]:
    """The packs of a list, be they opened or on hold."""
    return [draft for draft in drafts if draft.kind is ThingKind.PACK]


def pack_contents(site: Site, packs: Iterable[WorkingLine]) -> tuple[PackContent, ...]:
    """What the packs that will be opened hold together, item by item in the order of the packs."""
    contents: dict[str, int] = {}
    for draft in _opened(packs):
        for line in site.packs[draft.thing].lines:
            contents[line.item] = contents.get(line.item, 0) + line.quantity * draft.open
    return tuple(PackContent(item=item, name=_name(site, item), quantity=n) for item, n in contents.items())


def take_off_pack(site: Site, drafts: list[WorkingLine], packs: Iterable[WorkingLine]) -> list[WorkingLine]:
    """Take what opened ``packs`` hold off each line: off open quantities, off hold if the site says so.

    A pack that is only on hold may stay shut, so nothing is taken off for it.
    """
    held = _held_in_packs(site, drafts, packs)
    if not held:
        return drafts
    return [_less_pack(site, draft, held) if draft.kind is ThingKind.ITEM else draft for draft in drafts]


def _opened(packs: Iterable[WorkingLine]) -> list[WorkingLine]:
    return [draft for draft in packs if draft.open]


def _held_in_packs(site: Site, drafts: list[WorkingLine], packs: Iterable[WorkingLine]) -> Held:
    """What opened packs hold of the items that are on the list as well."""
    opened = _opened(packs)
    listed = {draft.thing for draft in drafts if draft.kind is ThingKind.ITEM} if opened else ()
    return grouped(
        (line.item, _holding(draft, line))
        for draft in opened
        for line in site.packs[draft.thing].lines
        if line.item in listed
    )


def _holding(draft: WorkingLine, line: PackLine) -> _Holding:
    quantity = line.quantity * draft.open
    return _Holding(pack=draft.thing, whole=quantity, left=quantity, where=line.where)


def _less_pack(site: Site, draft: WorkingLine, held: Held) -> WorkingLine:
    if draft.thing not in held:
        return draft
    rest = []
    for one in held[draft.thing]:
        hold_too = draft.hold if site.settings.pack_offsets_hold else 0
        off_open = min(draft.open, one.left)
        off_hold = min(hold_too, one.left - off_open)
        rest.append(replace(one, left=one.left - off_open - off_hold))
        if draft.open + hold_too:
            draft = _offset(draft, off_open, off_hold, one)
    held[draft.thing] = rest
    return draft


def _offset(draft: WorkingLine, off_open: int, off_hold: int, held: _Holding) -> WorkingLine:
    """The line less what the pack gives it, with a reason even where other lines used up the pack's."""
    opened, kept = draft.open - off_open, draft.hold - off_hold
    reason = Reason(
        kind=ReasonKind.IN_PACK,
        text=in_pack(held.pack, held.whole, held.left),
        open=opened,
        hold=kept,
        where=held.where,
    )
    return replace(draft, open=opened, hold=kept, reasons=(*draft.reasons, reason))


def _name(site: Site, item: str) -> str:
    return site.items[item].name if item in site.items else item
