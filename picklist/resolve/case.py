"""Resolve a case into needs: layers, merging, people, latex, packs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from picklist.garbage import no_search_for_garbage
from picklist.model.cards import ConditionKind, ThingKind
from picklist.model.catalogue import PICKED, Item, ItemClass
from picklist.model.needs import CaseNeeds, Need, ReasonKind
from picklist.model.schedule import USUAL_SIZES, Case, speaks_of_latex
from picklist.model.site import Site
from picklist.problems import Problem, join_problems
from picklist.resolve.being_resolved import CaseBeingResolved, WorkingLine
from picklist.resolve.card_index import CardIndex, index_cards
from picklist.resolve.conditions import same_word
from picklist.resolve.latex import stop_for_unstated_latex, swap_latex
from picklist.resolve.layers import resolve_procedure
from picklist.resolve.merge import merge_procedures
from picklist.resolve.packs import pack_contents, packs_among, take_off_pack
from picklist.resolve.versions import catalogue
from picklist.resolve.worn_by_people import share_with_people, worn_by_people
from picklist.wording import card_problems as problems

ANY_SIZE = USUAL_SIZES[0]  # the patient for whom a card is meant that says nothing of size
KIND_ORDER = {ThingKind.TRAY: 0, ThingKind.PACK: 1, ThingKind.ITEM: 2}


def resolve_case(site: Site, case: Case) -> CaseNeeds:
    """What one case wants, with the reasons for each line, what was left out and what stops its list."""
    return resolve_cases(site, (case,))[0]


@no_search_for_garbage()
def resolve_cases(site: Site, cases: Iterable[Case]) -> tuple[CaseNeeds, ...]:
    """What each case wants, in the order given. Bad content never raises."""
    index = index_cards(site)
    return tuple(_resolve_once(site, index, case) for case in cases)


def find_card_faults(site: Site, cases: Iterable[Case]) -> Iterator[tuple[tuple[Problem, ...], tuple[Problem, ...]]]:
    """What stops each case and what is noticed while its cards are laid over one another, and no further.

    Much faster than ``resolve_cases`` for many cases of few procedures.
    """
    index = index_cards(site)
    for case in cases:
        resolving = CaseBeingResolved(site=site, index=index, case=case)
        for number, procedure in enumerate(case.procedures):
            resolve_procedure(resolving.for_procedure(number), procedure)
        yield _each_once(resolving.stopped), _each_once(resolving.notices)


def _resolve_once(site: Site, index: CardIndex, case: Case) -> CaseNeeds:
    """What a case wants; a case of the site itself is resolved once for its checks and its plan."""
    if id(case) not in index.cases:
        return _resolve(site, index, case)
    if id(case) not in index.needs:
        index.needs[id(case)] = _resolve(site, index, case)
    return index.needs[id(case)]


def _resolve(site: Site, index: CardIndex, case: Case) -> CaseNeeds:
    resolving = CaseBeingResolved(site=site, index=index, case=case)
    _check_procedures(resolving)
    cards = [
        (one, resolve_procedure(resolving.for_procedure(number), one)) for number, one in enumerate(case.procedures)
    ]
    drafts, merges = merge_procedures(resolving, cards)
    if not (drafts or resolving.stopped or resolving.unstated):
        resolving.stop(problems.nothing_asked(case))
    people = swap_latex(resolving, worn_by_people(resolving))
    drafts = share_with_people(resolving, swap_latex(resolving, drafts), people) + people
    packs = packs_among(drafts)
    contents = pack_contents(site, packs)
    needs, zero = _split(resolving, take_off_pack(site, drafts, packs))
    _check_packs(resolving, packs)
    _stop_for_unstated(resolving)
    alerts, size = _note_unknown_words(resolving)
    stop_for_unstated_latex(resolving)
    return CaseNeeds(
        case=case.number,
        needs=() if resolving.stopped else needs,
        merges=merges,
        pack_contents=contents,
        pending=tuple(dict.fromkeys(resolving.pending)),
        stopped=_each_once(resolving.stopped),
        notices=_each_once(resolving.notices),
        dropped=(*zero, *(_need_of(resolving, draft) for draft in resolving.dropped)),
        approval_not_stated=tuple(dict.fromkeys(resolving.approval_not_stated)),
        unknown_alerts=alerts,
        unknown_size=size,
    )


def _check_procedures(resolving: CaseBeingResolved) -> None:
    case = resolving.case
    for procedure in dict.fromkeys(case.procedures):
        known = resolving.site.procedures.get(procedure)
        base, theirs, *_ = resolving.index.layers(procedure, case.surgeon)
        if known is None:
            resolving.stop(problems.unknown_procedure(case, procedure))
        elif not (base or theirs or known.pack):
            resolving.note(problems.procedure_without_card(case, procedure))
    if case.fields > 1 and len(case.procedures) == 1:
        resolving.note(problems.one_procedure_for_teams(case))


def _note_unknown_words(resolving: CaseBeingResolved) -> tuple[tuple[str, ...], bool]:
    """Alerts that no card and no rule knows, and whether the same is true of the patient size; they change nothing."""
    case, index = resolving.case, resolving.index
    alerts = tuple(one for one in case.alerts if not (speaks_of_latex(one) or index.knows(ConditionKind.ALERT, one)))
    size = bool(case.patient_size) and not same_word(case.patient_size, ANY_SIZE)
    size = size and not index.knows(ConditionKind.SIZE, case.patient_size)
    if alerts:
        resolving.note(problems.unknown_alerts(case, alerts))
    if size:
        resolving.note(problems.unknown_size(case))
    return alerts, size


def _check_packs(resolving: CaseBeingResolved, packs: list[WorkingLine]) -> None:
    if len(packs) > 1:
        resolving.note(problems.several_packs(resolving.case, [draft.thing for draft in packs]))


def _stop_for_unstated(resolving: CaseBeingResolved) -> None:
    """One problem for a blank side and one for a blank size, naming the lines that wait for it."""
    for kind, wheres in resolving.unstated.items():
        resolving.stop(problems.not_stated(resolving.case, kind, wheres))


def _split(resolving: CaseBeingResolved, drafts: list[WorkingLine]) -> tuple[tuple[Need, ...], tuple[Need, ...]]:
    """The needs of the list, trays first, and those of which nothing is left to bring."""
    needs: list[Need] = []
    zero: list[Need] = []
    for draft in sorted(drafts, key=lambda draft: KIND_ORDER[draft.kind]):
        need = _need_of(resolving, draft)
        (needs if _is_listed(need) else zero).append(need)
    for need in needs:
        if need.item_class is ItemClass.IMPLANT and need.side is None and resolving.case.side is None:
            resolving.note(problems.implant_without_side(resolving.case, need.name))
    return tuple(needs), tuple(zero)


def _is_listed(need: Need) -> bool:
    """What is only checked or printed is listed without a quantity too, unless a pack holds it."""
    if need.open or need.hold:
        return True
    only_named = need.kind is ThingKind.ITEM and need.item_class not in PICKED
    return only_named and need.reasons[-1].kind is not ReasonKind.IN_PACK


def _need_of(resolving: CaseBeingResolved, draft: WorkingLine) -> Need:
    site, side = resolving.site, draft.side
    known = catalogue(site, draft.kind).get(draft.thing)
    item = known if isinstance(known, Item) else None
    if item is not None and item.item_class is ItemClass.IMPLANT and side is None and not resolving.case.sides:
        side = resolving.case.sided_as
    return Need(
        case=resolving.case.number,
        kind=draft.kind,
        thing=draft.thing,
        name=(known.name if known else "") or draft.thing,
        open=draft.open,
        hold=draft.hold,
        item_class=item.item_class if item else None,
        side=side,
        size=item.size if item else resolving.case.patient_size if draft.kind is ThingKind.TRAY else "",
        person=draft.person,
        note="; ".join(draft.notes),
        brought_by=item.brought_by if item else "",
        reasons=draft.reasons,
    )


def _each_once(found: list[Problem]) -> tuple[Problem, ...]:
    return tuple({(p.kind, p.where, p.message): p for p in found}.values())


def gather_problems(case_needs: Iterable[CaseNeeds]) -> tuple[Problem, ...]:
    """Join the problems of several cases: each once, with all its cases, in the order of the cases."""
    return join_problems(problem for needs in case_needs for problem in (*needs.stopped, *needs.notices))
