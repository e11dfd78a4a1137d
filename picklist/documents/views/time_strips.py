"""A conflict drawn to scale: each set's uses and turnarounds against the time it is needed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from picklist.clock import shift
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.scale import Bar, Scale
from picklist.model.conflicts import BoundSet, Conflict, ConflictKind
from picklist.model.uses import Assignment, Pace, Use
from picklist.wording import at_pace
from picklist.wording.say_conflicts import why

EDGE = 30  # minutes of white at either end
REACH = 12 * 60  # minutes from the need beyond which a strip is cut off
USE, TURNAROUND, WANTED, UNUSABLE = "use", "turnaround", "wanted", "unusable"


class StripRow(View):
    """One set, or a case that goes without."""

    def __init__(self, scale: Scale, name: str, stretches: list[_Stretch]) -> None:
        bars = (Bar(scale, one.begins, one.ends, one.kind, one.text) for one in stretches)
        self.name = name
        self.bars = tuple(bar for bar in bars if bar.length > 0)


class TimeStrip(View):
    """Rows over one scale; ``ticks`` are (share of the width, time), ``needed`` is a heavy line."""

    def __init__(self, found: Lookup, conflict: Conflict, wanted: Use) -> None:
        rows = [(set_id, _of_set(found, conflict, set_id)) for set_id in _sets(found, conflict)]
        if conflict.kind is not ConflictKind.RESERVE:  # there the case has its set
            unserved = _Stretch(wanted.needed, wanted.ends, WANTED, f"{wanted.case} needs one")
            rows.append((f"for {wanted.case}", [unserved]))
        drawn = [(name, stretches) for name, stretches in rows if stretches]
        scale = _scale([one for _, stretches in drawn for one in stretches], wanted)
        self.ticks = scale.ticks(found.clock)
        self.rows = tuple(StripRow(scale, name, some) for name, some in drawn)
        self.needed = scale.share(wanted.needed)
        self.needed_text = f"needed {found.when(wanted.needed)}"


@dataclass(frozen=True, slots=True)
class _Stretch:
    begins: datetime
    ends: datetime
    kind: str
    text: str


def time_strip(found: Lookup, conflict: Conflict) -> TimeStrip | None:
    """The strip of one conflict; None when nothing bears on time, or no use of the waiting case is known."""
    wanted = wanted_use(found, conflict)
    if wanted is None or (conflict.kind is ConflictKind.RESERVE and conflict.proof is None):  # of an older plan
        return None
    return TimeStrip(found, conflict, wanted)


def wanted_use(found: Lookup, conflict: Conflict) -> Use | None:
    """The use that a conflict is about; None when the plan does not hold it."""
    for one in found.plan.assignments:
        if (one.use.case, one.use.tray, one.use.copy) == (conflict.waiter, *conflict.wanted):
            return one.use
    return None


def _sets(found: Lookup, conflict: Conflict) -> tuple[str, ...]:
    """The sets of the proof, else the conflict's own, else those that the givers have."""
    named = [one.set_id for one in conflict.proof.sets] if conflict.proof else []
    named += [conflict.set_id] if conflict.set_id else []
    if not named:
        named = [one.set_id for one in _uses(found, conflict)]
    return tuple(dict.fromkeys(named))


def _uses(found: Lookup, conflict: Conflict) -> list[Assignment]:
    return [
        one
        for one in found.plan.assignments
        if one.set_id and one.use.case in conflict.givers and conflict.tray in (one.use.tray, one.tray_given)
    ]


def _of_set(found: Lookup, conflict: Conflict, set_id: str) -> list[_Stretch]:
    """What a set does around the conflict: the givers' uses, and what follows each of them."""
    bound = {one.case: one for one in conflict.proof.sets if one.set_id == set_id} if conflict.proof else {}
    parties = {*conflict.givers, *bound}
    uses = [one.use for one in found.plan.assignments if one.set_id == set_id and one.use.case in parties]
    stretches = []
    for use in uses:
        stretches.append(_Stretch(use.starts, use.leaves_room, USE, use.case))
        ready = _ready(found, set_id, use, bound.get(use.case))
        if ready:
            text = f"ready {at_pace(found.when(ready[0]), ready[1])}"
            stretches.append(_Stretch(use.leaves_room, ready[0], TURNAROUND, text))
    return stretches or _without_use(found, conflict, set_id, bound.values())


def _ready(found: Lookup, set_id: str, use: Use, bound: BoundSet | None) -> tuple[datetime, Pace] | None:
    if bound and bound.until:
        return bound.until, Pace.USUAL
    reuses = [one for one in found.plan.reuses if one.set_id == set_id and one.giver == use.case]
    first = min(map(found.headline, reuses), key=lambda one: one.at, default=None)
    return (first.at, first.pace) if first else None


def _without_use(found: Lookup, conflict: Conflict, set_id: str, bound: Iterable[BoundSet]) -> list[_Stretch]:
    """A set that no case of the plan uses: with a case that runs, on its way from its state now, or unavailable."""
    wanted = wanted_use(found, conflict)
    if reuse := found.reuses.get((set_id, conflict.waiter)):
        giver = found.cases.get(reuse.giver)
        used = [_Stretch(giver.start, reuse.released, USE, giver.number)] if giver else []
        return [*used, _Stretch(reuse.released, found.headline(reuse).at, TURNAROUND, f"ready {found.ready(reuse)}")]
    if wanted is None:
        return []
    return [
        _Stretch(shift(wanted.needed, -120), one.until or wanted.ends, UNUSABLE, why(conflict, one, found.clock))
        for one in bound
    ]


def _scale(stretches: list[_Stretch], wanted: Use) -> Scale:
    """From the first use to the last moment that matters, cut off where it would dwarf the rest."""
    earliest, latest = shift(wanted.needed, -REACH), shift(wanted.ends, REACH)
    begins = min([max(one.begins, earliest) for one in stretches] + [wanted.needed])
    ends = max([min(one.ends, latest) for one in stretches if one.kind is not UNUSABLE] + [wanted.ends])
    return Scale(begins=shift(begins, -EDGE), ends=shift(ends, EDGE))
