"""Remedies for the conflicts of a plan."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from picklist.model.conflicts import Conflict, ConflictKind, Edit, Remedy, RemedyKind
from picklist.model.uses import Use
from picklist.sets.remedies.cost import disturbance, make_remedy
from picklist.sets.remedies.evening import Evening
from picklist.sets.remedies.search import Search
from picklist.sets.remedies.trial import Trials
from picklist.sets.set_words import count, tray_name, when
from picklist.sets.spotted import Spotted
from picklist.sets.uses import case_times

MOST_SHOWN = 8
_MOST_SETS = 6


def with_remedies(trials: Trials, conflict: Conflict, spotted: Spotted) -> Conflict:
    """The conflict with what removes it, least disturbing first, or with what is missing when nothing here does."""
    search = Search(trials, spotted)
    verdicts = search.singles()
    if all(_is_brought(verdict.edits) for verdict in verdicts):
        verdicts += search.pairs().found()
    remedies = sorted((make_remedy(trials.evening, verdict) for verdict in verdicts), key=disturbance)
    shown = tuple(remedies[:MOST_SHOWN])
    here = [remedy for remedy in remedies if not _is_brought(remedy.edits)]
    missing = "" if here else _missing(trials, spotted)
    decide_by = conflict.decide_by
    if conflict.kind is ConflictKind.SHORT and shown:
        decide_by = max(_decide_by(trials.evening, remedy, spotted.use) for remedy in shown)
    return replace(conflict, remedies=shown, missing=missing, decide_by=decide_by)


def _is_brought(edits: tuple[Edit, ...]) -> bool:
    return all(edit.kind is RemedyKind.BRING for edit in edits)


def _missing(trials: Trials, spotted: Spotted) -> str:
    """How many more sets by when would serve the case, where no change of the day does."""
    use, site = spotted.use, trials.evening.situation.site
    bring = Edit(kind=RemedyKind.BRING, case=use.case, tray=use.tray, start=use.needed)
    side = f", {use.side}" if use.side else ""
    for number in range(1, _MOST_SETS + 1):
        if trials.helps(spotted, (bring,) * number):
            sets = count(number, "more set")
            return f"{sets} of {tray_name(site, use.tray)}{side} by {when(site, use.needed, use.needed)}"
    return ""


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
