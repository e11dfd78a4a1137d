"""What would be needed where no change of the day helps: sets more, each number planned anew before it is said."""

from __future__ import annotations

from picklist.model.conflicts import ConflictKind, Edit, RemedyKind
from picklist.sets.remedies.trial import Trials, is_gone
from picklist.sets.set_words import count, join, minutes, tray_name, when
from picklist.sets.spotted import Spotted

MOST_SETS = 6
_HOW_MUCH = {
    ConflictKind.TIGHT: "to spare",
    ConflictKind.RUSH: "to be saved",
    ConflictKind.CONDITIONAL: "short if opened",
    ConflictKind.SHORT: "short",
}


def what_is_missing(trials: Trials, target: Spotted) -> str:
    """How many more sets by when would remove the conflict; if they would cost another one, that is said with it."""
    name, with_harm = _more_sets_of(trials, target), ""
    for number in range(1, MOST_SETS + 1):
        edits = _brought(target, number)
        if trials.helps(target, edits, counted=False):
            return f"{count(number, 'more set')} {name}"
        harm = _harm(trials, target, edits)
        if harm and not with_harm:
            with_harm = f"{count(number, 'more set')} {name}; but then {harm}"
    return with_harm or f"not even {count(MOST_SETS, 'more set')} {name} remove it: look at side, size and route"


def _more_sets_of(trials: Trials, target: Spotted) -> str:
    site, use = trials.evening.situation.site, target.use
    side = f", {use.side}" if use.side else ""
    return f"of {tray_name(site, use.tray)}{side} by {when(site, use.needed, use.needed)}"


def _brought(target: Spotted, number: int) -> tuple[Edit, ...]:
    use = target.use
    return (Edit(kind=RemedyKind.BRING, case=use.case, tray=use.tray, start=use.needed),) * number


def _harm(trials: Trials, target: Spotted, edits: tuple[Edit, ...]) -> str:
    """What is new or worse where the target is gone; empty where it is not gone."""
    home = trials.home(target)
    after = {one.id: one for one in trials.outcomes.spotted(trials.tried(edits).edited.scenario, home)}
    if not is_gone(target, after.pop(target.id, None)):
        return ""
    before = trials.before.get(home, {})
    worse = [one for key, one in after.items() if key not in before or not one.is_no_worse_than(before[key])]
    return join([_said(trials, one) for one in worse])


def _said(trials: Trials, one: Spotted) -> str:
    tray = tray_name(trials.evening.situation.site, one.use.tray)
    if one.kind is ConflictKind.RESERVE:
        return f"{tray} for case {one.use.case} goes under the number kept ready"
    amount = "" if one.never else f" ({minutes(one.minutes)} {_HOW_MUCH[one.kind]})"
    return f"{tray} for case {one.use.case} is {one.kind}{amount}"
