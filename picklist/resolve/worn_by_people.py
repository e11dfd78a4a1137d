"""List gloves and gowns for the people at the table, by their sizes.

The surgeon and the team each get one pair of outer gloves, of under gloves and one gown in the
sizes that Staff lists for them. What a card already asks for of the very same item is not added
once more: the person's share is taken out of the card's quantity.
"""

from __future__ import annotations

from collections import Counter

from picklist.model.cards import ThingKind
from picklist.model.catalogue import Item, ItemClass
from picklist.model.needs import Reason, ReasonKind
from picklist.model.schedule import StaffMember
from picklist.problems import NOWHERE
from picklist.resolve.being_resolved import CaseBeingResolved, WorkingLine
from picklist.resolve.latex import latex_free_twin
from picklist.wording import card_problems as problems
from picklist.wording import card_words as words

ONE = 1


def worn_by_people(resolving: CaseBeingResolved) -> list[WorkingLine]:
    """Each person's gloves and gown; whoever has no glove size in Staff is reported."""
    return [draft for person in people_at_table(resolving) for draft in _worn_by(resolving, person)]


def share_with_people(
    resolving: CaseBeingResolved, drafts: list[WorkingLine], people: list[WorkingLine]
) -> list[WorkingLine]:
    """The cards' lines less what is listed by person of the same items."""
    listed: Counter[str] = Counter()
    for one in people:
        listed[one.thing] += one.open
    left = [_less_people(resolving, draft, listed[draft.thing]) for draft in drafts]
    return [draft for draft in left if draft is not None]


def people_at_table(resolving: CaseBeingResolved) -> tuple[StaffMember, ...]:
    """The surgeon and then the team, each once, as far as Staff knows them."""
    ids = dict.fromkeys((resolving.case.surgeon, *resolving.case.team))
    return tuple(resolving.site.staff[one] for one in ids if one in resolving.site.staff)


def _worn_by(resolving: CaseBeingResolved, person: StaffMember) -> list[WorkingLine]:
    wanted = (
        (ItemClass.OUTER_GLOVE, person.outer_glove),
        (ItemClass.UNDER_GLOVE, person.under_glove),
        (ItemClass.GOWN, person.gown),
    )
    if not person.outer_glove.strip() and resolving.index.keeps(ItemClass.OUTER_GLOVE):
        resolving.note(problems.no_glove_size(person))
    found = [_worn_item(resolving, person, item_class, size) for item_class, size in wanted if size.strip()]
    return [draft for draft in found if draft is not None]


def _worn_item(
    resolving: CaseBeingResolved, person: StaffMember, item_class: ItemClass, size: str
) -> WorkingLine | None:
    fitting = resolving.index.worn_in_size(item_class, size)
    if not fitting:
        sizes = resolving.index.sizes_text(item_class)
        resolving.note(problems.size_not_kept(person, item_class, size, sizes))
        return None
    item = _choose(resolving, fitting)
    others = [other.id for other in fitting if other is not item]
    text = words.worn_by(person, item_class, size, others)
    reason = Reason(kind=ReasonKind.STAFF, text=text, open=ONE, hold=0, where=person.where)
    return WorkingLine(kind=ThingKind.ITEM, thing=item.id, open=ONE, hold=0, person=person.id, reasons=(reason,))


def _choose(resolving: CaseBeingResolved, fitting: tuple[Item, ...]) -> Item:
    """The first in the catalogue; under a latex alert the first that is stated, or has a twin stated, to be free."""
    if not resolving.case.latex_alert:
        return fitting[0]
    usable = [item for item in fitting if not item.may_hold_latex or latex_free_twin(resolving.site, item)]
    return usable[0] if usable else fitting[0]


def _less_people(resolving: CaseBeingResolved, draft: WorkingLine, listed: int) -> WorkingLine | None:
    """A line less what is ``listed`` by person of its thing."""
    share = min(draft.open, listed) if draft.kind is ThingKind.ITEM else 0
    if not share:
        return draft
    text = words.listed_by_person(share)
    if draft.open == share and not draft.hold:
        resolving.drop(draft, ReasonKind.STAFF, text, NOWHERE)
        return None
    reason = Reason(kind=ReasonKind.STAFF, text=text, open=draft.open - share, hold=draft.hold)
    return draft.with_amounts(draft.open - share, draft.hold, reason)
