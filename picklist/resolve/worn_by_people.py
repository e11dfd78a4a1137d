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
from picklist.model.site import Site
from picklist.problems import NOWHERE, Problem
from picklist.resolve.being_resolved import CaseBeingResolved, WorkingLine
from picklist.resolve.card_index import WornByPerson
from picklist.resolve.latex import latex_free_twin
from picklist.wording import card_problems as problems
from picklist.wording import card_words as words

ONE = 1


def worn_by_people(resolving: CaseBeingResolved) -> list[WorkingLine]:
    """Each person's gloves and gown; whoever has no glove size in Staff is reported."""
    worn = [_worn_by(resolving, person) for person in people_at_table(resolving)]
    for one in worn:
        for notice in one.notices:
            resolving.note(notice)
    return [draft for one in worn for draft in one.drafts]


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


def _worn_by(resolving: CaseBeingResolved, person: StaffMember) -> WornByPerson:
    """What a person wears, worked out once for all cases with a latex alert and once for those without."""
    known, latex_alert = resolving.index.people, resolving.case.latex_alert
    if (person.id, latex_alert) not in known:
        known[person.id, latex_alert] = _dress(resolving, person, latex_alert=latex_alert)
    return known[person.id, latex_alert]


def _dress(resolving: CaseBeingResolved, person: StaffMember, *, latex_alert: bool) -> WornByPerson:
    wanted = (
        (ItemClass.OUTER_GLOVE, person.outer_glove),
        (ItemClass.UNDER_GLOVE, person.under_glove),
        (ItemClass.GOWN, person.gown),
    )
    drafts: list[WorkingLine] = []
    notices: list[Problem] = []
    if not person.outer_glove.strip() and resolving.index.keeps(ItemClass.OUTER_GLOVE):
        notices.append(problems.no_glove_size(person))
    for item_class, size in wanted:
        fitting = resolving.index.worn_in_size(item_class, size) if size.strip() else ()
        if fitting:
            item = _choose(resolving.site, fitting, latex_alert=latex_alert)
            others = [other.id for other in fitting if other is not item]
            drafts.append(_worn_item(person, item, words.worn_by(person, item_class, size, others)))
        elif size.strip():
            sizes = resolving.index.sizes_text(item_class)
            notices.append(problems.size_not_kept(person, item_class, size, sizes))
    return WornByPerson(drafts=tuple(drafts), notices=tuple(notices))


def _worn_item(person: StaffMember, item: Item, text: str) -> WorkingLine:
    reason = Reason(kind=ReasonKind.STAFF, text=text, open=ONE, hold=0, where=person.where)
    return WorkingLine(kind=ThingKind.ITEM, thing=item.id, open=ONE, hold=0, person=person.id, reasons=(reason,))


def _choose(site: Site, fitting: tuple[Item, ...], *, latex_alert: bool) -> Item:
    """The first in the catalogue; under a latex alert the first that is stated, or has a twin stated, to be free."""
    if not latex_alert:
        return fitting[0]
    usable = [item for item in fitting if not item.may_hold_latex or latex_free_twin(site, item)]
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
