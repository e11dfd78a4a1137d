"""Find remedies for the conflicts of a plan, or what would be missing where there is none."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from picklist.model.conflicts import Conflict, ConflictKind, Edit, Remedy, RemedyKind
from picklist.model.uses import Use
from picklist.sets.find_conflicts import FoundConflict, is_gone
from picklist.sets.remedies.cost import disturbance, make_remedy, said_by
from picklist.sets.remedies.hurries import hurries_joined
from picklist.sets.remedies.pairs import Pairs
from picklist.sets.remedies.planned_day import last_moment, size_wanted
from picklist.sets.remedies.search import Search
from picklist.sets.remedies.trial import Trials
from picklist.wording import say_remedies as words

MOST_SHOWN = 6


def with_remedies(trials: Trials, conflict: Conflict, conflicts_found: FoundConflict) -> Conflict:
    """Add to a conflict what removes it, least disturbing first, or what is missing where nothing does."""
    search = Search(trials, conflicts_found)
    verdicts = search.singles()
    pairs: Pairs | None = None
    if not any(_frees(verdict.edits) for verdict in verdicts):
        pairs = search.pairs()
        verdicts += pairs.found()
    made = (make_remedy(trials, verdict, conflicts_found) for verdict in hurries_joined(trials.planned, verdicts))
    now = trials.planned.context.now
    remedies, shown = _allowed(trials, [one for one in made if one.until is None or one.until >= now])
    shown = tuple(with_queue(trials, one) for one in shown)
    if conflict.kind is not ConflictKind.RESERVE:  # the number kept ready is not drawn
        shown = tuple(with_chance(trials, one, conflicts_found.use.key) for one in shown)
    # For a case that has started nothing comes in time any more: its gap in the reserve only says what is left.
    settled = conflicts_found.use.starts <= now or any(_frees(remedy.edits) for remedy in remedies)
    # The conflict's own moment is that of the last remedy that is still of use.
    decide_by = max((one.until for one in shown if one.until is not None), default=conflict.decide_by)
    return replace(
        conflict,
        remedies=shown,
        missing="" if settled else what_is_missing(trials, conflicts_found),
        searched=words.searched_words(
            len(remedies) - len(shown),
            pairs.looked_at if pairs else None,
            cut_short=conflicts_found.id in trials.cut_short,
        ),
        decide_by=decide_by,
    )


def _allowed(trials: Trials, remedies: list[Remedy]) -> tuple[list[Remedy], tuple[Remedy, ...]]:
    """The remedies without those that bring a queue conflict, and those to show; only these are run again."""
    if trials.whole is None:
        return remedies, choose_shown(remedies)
    while True:
        shown = choose_shown(remedies)
        refused = {one.edits for one in shown if not trials.whole.allows(trials.tried(one.edits).edited)}
        if not refused:
            return remedies, shown
        remedies = [one for one in remedies if one.edits not in refused]


def with_queue(trials: Trials, remedy: Remedy) -> Remedy:
    """A remedy with the conflicts of the department's queue that go with it."""
    gone = trials.whole.removes(trials.tried(remedy.edits).edited) if trials.whole else ()
    others = [one for one in gone if one.id not in remedy.removes]
    if not others:
        return remedy
    tray_name = trials.planned.context.site.tray_name
    named = [words.conflict_words(tray_name(one.tray), one.waiter, one.kind) for one in others]
    removes = (*remedy.removes, *(one.id for one in others))
    return replace(remedy, removes=removes, cost=words.with_more_removed(remedy.cost, named))


def with_chance(trials: Trials, remedy: Remedy, use: str) -> Remedy:
    """A remedy with the chance of failing that it leaves to the use in conflict, by its key."""
    left = trials.whole.chance_left(trials.tried(remedy.edits).edited, use) if trials.whole else None
    return replace(remedy, chance_left=left.usual, chance_if_hurried=left.hurried) if left else remedy


def choose_shown(remedies: list[Remedy]) -> tuple[Remedy, ...]:
    """The least disturbing, and of each kind of change at least one."""
    first_of_kind: dict[tuple[RemedyKind, ...], Remedy] = {}
    remedies = sorted(remedies, key=disturbance)
    for remedy in remedies:
        first_of_kind.setdefault(tuple(edit.kind for edit in remedy.edits), remedy)
    chosen = [*first_of_kind.values(), *(one for one in remedies if one not in first_of_kind.values())]
    return tuple(sorted(chosen[:MOST_SHOWN], key=disturbance))


def _frees(edits: tuple[Edit, ...]) -> bool:
    """Whether something of the house changes: not only one more set from elsewhere, or doing without."""
    return not all(edit.kind in (RemedyKind.BRING, RemedyKind.ACCEPT) for edit in edits)


MOST_SETS = 6


def what_is_missing(trials: Trials, target: FoundConflict) -> str:
    """How many more sets by when would remove the conflict, and what they would cost another case."""
    site, use, with_harm = trials.planned.context.site, target.use, ""
    which = words.which_set(use.side, size_wanted(trials.planned, use))
    tray, by = ", ".join(filter(None, (site.tray_name(use.tray), which))), said_by(trials.planned, _by(trials, use))
    for number in range(1, MOST_SETS + 1):
        edits = _brought(trials, use, number)
        if trials.helps(target, edits, counted=False):
            return words.missing_words(number, tray, (), by)
        harm = _harm(trials, target, edits)
        if harm and not with_harm:
            with_harm = words.missing_words(number, tray, harm, by)
    return with_harm or words.nothing_helps_words(MOST_SETS, tray, by)


def _brought(trials: Trials, use: Use, number: int) -> tuple[Edit, ...]:
    start = _by(trials, use)
    return (Edit(kind=RemedyKind.BRING, case=use.case, tray=use.tray, start=start, side=use.side),) * number


def _by(trials: Trials, use: Use) -> datetime:
    return last_moment(trials.planned, use.needed, use.starts)


def _harm(trials: Trials, target: FoundConflict, edits: tuple[Edit, ...]) -> list[str]:
    """What is new or worse where the target is gone; empty where it is not gone."""
    home, site = trials.home(target), trials.planned.context.site
    after = {one.id: one for one in trials.outcomes.conflicts_found(trials.tried(edits).edited.scenario, home)}
    if not is_gone(target, after.pop(target.id, None)):
        return []
    before = trials.before.get(home, {})
    worse = [one for key, one in after.items() if key not in before or not one.is_no_worse_than(before[key])]
    return [
        words.harm_words(site.tray_name(one.use.tray), one.use.case, one.kind, None if one.never else one.minutes)
        for one in worse
    ]
