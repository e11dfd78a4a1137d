"""Remedies for the conflicts of a plan."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from picklist.model.conflicts import Conflict, ConflictKind, Edit, Remedy, RemedyKind
from picklist.model.uses import Use
from picklist.sets.remedies.cost import disturbance, make_remedy
from picklist.sets.remedies.evening import Evening
from picklist.sets.remedies.missing import what_is_missing
from picklist.sets.remedies.pairs import Pairs
from picklist.sets.remedies.search import Search
from picklist.sets.remedies.trial import Trials
from picklist.sets.set_words import count
from picklist.sets.spotted import Spotted
from picklist.sets.uses import case_times

MOST_SHOWN = 8


def with_remedies(trials: Trials, conflict: Conflict, spotted: Spotted) -> Conflict:
    """The conflict with what removes it, least disturbing first, or with what is missing when nothing here does."""
    search = Search(trials, spotted)
    verdicts = search.singles()
    pairs: Pairs | None = None
    if all(_is_brought(verdict.edits) for verdict in verdicts):
        pairs = search.pairs()
        verdicts += pairs.found()
    remedies = sorted((make_remedy(trials, verdict, spotted) for verdict in verdicts), key=disturbance)
    shown = _shown(remedies)
    here = [remedy for remedy in remedies if not _is_brought(remedy.edits)]
    decide_by = conflict.decide_by
    if conflict.kind is ConflictKind.SHORT and shown:
        decide_by = max(_decide_by(trials.evening, remedy, spotted.use) for remedy in shown)
    return replace(
        conflict,
        remedies=shown,
        missing="" if here else what_is_missing(trials, spotted),
        searched=_searched(len(remedies) - len(shown), pairs, cut_short=spotted.id in trials.cut_short),
        decide_by=decide_by,
    )


def _shown(remedies: list[Remedy]) -> tuple[Remedy, ...]:
    """The least disturbing, and of each kind of change at least one."""
    first_of_kind: dict[tuple[RemedyKind, ...], Remedy] = {}
    for remedy in remedies:
        first_of_kind.setdefault(tuple(edit.kind for edit in remedy.edits), remedy)
    chosen = [*first_of_kind.values(), *(one for one in remedies if one not in first_of_kind.values())]
    return tuple(sorted(chosen[:MOST_SHOWN], key=disturbance))


def _searched(left_out: int, pairs: Pairs | None, *, cut_short: bool) -> str:
    """What a reader must know of the search: what is not listed, and what was not tried."""
    found = []
    if cut_short:
        found.append("Not all changes were tried: it would have taken too long.")
    elif pairs is not None:
        found.append("No single change to the cases or the handling removes it.")
    if left_out > 0:
        more = count(left_out, "more change").capitalize()
        found.append(f"{more} would remove it; those listed disturb less.")
    if pairs is not None and pairs.looked_at:
        looked = count(pairs.looked_at, "pair").capitalize()
        found.append(f"{looked} of moves {'was' if pairs.looked_at == 1 else 'were'} looked at, the nearest, not all.")
    return " ".join(found)


def _is_brought(edits: tuple[Edit, ...]) -> bool:
    return all(edit.kind is RemedyKind.BRING for edit in edits)


def _decide_by(evening: Evening, remedy: Remedy, use: Use) -> datetime:
    """The last moment at which a remedy can still be taken: before anything that it changes has begun."""
    settings = evening.situation.site.settings
    moments = [use.needed]
    for edit in remedy.edits:
        if edit.kind is RemedyKind.BRING and edit.start is not None:
            moments.append(edit.start)
        for number in (edit.case, edit.other_case):
            if number in evening.cases and edit.kind not in (RemedyKind.BRING, RemedyKind.FASTER):
                moments.append(case_times(settings, evening.cases[number]).needed)
                if edit.start is not None:
                    moments.append(case_times(settings, replace(evening.cases[number], start=edit.start)).needed)
    return min(moments)
