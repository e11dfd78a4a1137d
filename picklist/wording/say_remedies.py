"""What the remedies of a conflict say, what they cost, and what is missing where there is none."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import NamedTuple

from picklist.clock import SiteClock
from picklist.model.conflicts import ConflictKind, Edit, Remedy, RemedyKind
from picklist.model.plan import RemedySearch
from picklist.model.schedule import Case
from picklist.model.sets import InstrumentSet
from picklist.wording.lists import amount_of, beside, moment
from picklist.wording.quantities import capital, counted, listed, more, span

# Of a conflict without remedies: as a sentence, in a row about it, and in a list that is short of room.
NO_REMEDY = {
    RemedySearch.DONE: "No remedy found.",
    RemedySearch.GOING_ON: "Remedies are still being sought.",
    RemedySearch.LEFT_OUT: "Remedies were not sought.",
}
NONE_IN_A_ROW = {
    RemedySearch.DONE: "None found.",
    RemedySearch.GOING_ON: "Being sought.",
    RemedySearch.LEFT_OUT: "Not sought.",
}
NONE_IN_A_LIST = {
    RemedySearch.DONE: "no remedy",
    RemedySearch.GOING_ON: "remedies being sought",
    RemedySearch.LEFT_OUT: "no search for remedies",
}
# Of a whole plan whose lists are handed out first: on its sheet, and on the page.
NOT_FINAL = "Remedies and risks are still being sought, and the times to decide by can still change."
STILL_SOUGHT = f"{NOT_FINAL} Print this sheet again when the search is done; its revision stays the same."
COMING = f"{NOT_FINAL} What is found appears here by itself. If no build is running, it was stopped: build again."
PAPERS_COMING = (
    "The pick lists are here and valid. Papers that are missing below follow by themselves, and remedies and risks on "
    "those that are here. If no build is running, it was stopped: build again."
)
NO_RISKS_YET = "Risks are still being worked out."


def while_sought(search: RemedySearch, said: str) -> str:
    """What is said only as long as remedies are being sought."""
    return said if search is RemedySearch.GOING_ON else ""


def none_noted(search: RemedySearch) -> str:
    """The same beside a matter that is open."""
    sentence = NO_REMEDY[search]
    return f"{sentence[0].lower()}{sentence[1:].removesuffix('.')}"


def move_words(before: Case, after: Case, clock: SiteClock, day: date) -> str:
    """A case at another start, in another room, or both; a day that is neither ``day`` nor said yet stands there."""
    start = moment(clock, after.start, day)
    said = clock.day(after.start) if clock.day(before.start) != day else day
    was = moment(clock, before.start, said)
    if after.room == before.room:
        return f"Start case {after.number} in {after.room} at {start} instead of {was}"
    at = f"at {start} as planned" if after.start == before.start else f"at {start} instead of {was}"
    return f"Move case {after.number} from {before.room} to {after.room}, {at}"


def swap_words(edit: Edit, moved: Sequence[Case], clock: SiteClock, day: date) -> str:
    """Two cases change places; ``moved``: every case of the room that starts at another time for it."""
    starts = listed(f"case {case.number} starts {moment(clock, case.start, day)}" for case in moved)
    return f"Exchange cases {edit.case} and {edit.other_case} in {moved[0].room}: {starts}"


def stand_in_words(case: str, stand_in: str, tray: str) -> str:
    """A case gets a tray that may stand in."""
    return f"Give case {case} {stand_in} in place of {tray}"


class StepToHurry(NamedTuple):
    """A step at which minutes can be saved; no usual and least minutes where its set has no such step."""

    step: str
    minutes: int
    usual: int | None
    least: int | None

    @property
    def bounds(self) -> str:
        """Waiting is what is saved: a process itself is never cut below its minimum."""
        if self.usual is None or self.least is None:
            return ""
        return f" (usual {span(self.usual)}, minimum {span(self.least)})"


def hurry_words(case: str, sets: Iterable[str], steps: Sequence[StepToHurry]) -> str:
    """How many minutes at which step; with several to choose from each with its own where they differ."""
    names, first = " and ".join(sets), steps[0]
    if len(steps) == 1:
        return f"Save {span(first.minutes)} at {first.step} of {names} for case {case}{first.bounds}"
    same = len({one.minutes for one in steps}) == 1
    at = "; ".join(f"{one.step}{'' if same else f' {span(one.minutes)}'}{one.bounds}" for one in steps)
    much = span(first.minutes) if same else "time"
    return f"Save {much} on the way of {names} to case {case}, at one of these steps: {at}"


def without_words(case: str, tray: str) -> str:
    """A case does without a tray that it has on hold."""
    return f"Do without {tray} on hold for case {case}, if its surgeon agrees"


def which_set(side: str | None, size: str) -> str:
    """Of which side and size a set must be: ``left, size child``; empty where any will do."""
    return ", ".join(part for part in (side, f"size {size}" if size else "") if part)


def bring_words(tray: str, which: str, by: datetime, received: datetime | None, clock: SiteClock, day: date) -> str:
    """A further set from elsewhere; ``received``: when it must be in decontamination to be made ready here."""
    name = f"{tray} ({which})" if which else tray
    here = f"in decontamination by {beside(clock, received, by)}" if received else ""
    made = f"to be made ready here: {here}" if received else "too late to be made ready here"
    return f"Bring one more set of {name}, ready for use by {moment(clock, by, day)} ({made})"


def cancel_words(case: str) -> str:
    """A case does not take place; can be tried, is never proposed."""
    return f"Cancel case {case}"


def direct_words(*, set_id: str, case: str, room: str, ready: str, spare: int, collected: str = "") -> str:
    """A set goes straight to the room when it is ready, so many minutes before wheels-in.

    ``collected``: the case in whose room it is then collected at once.
    """
    first = f"Collect {set_id} as soon as case {collected} ends and take it" if collected else f"Take {set_id}"
    before = f"{span(spare)} before wheels-in" if spare else "at wheels-in"
    return f"{first} straight to {room} for case {case}, not onto its cart: there {ready}, {before}"


def late_words(*, set_id: str, tray: str, case: str, start: str, ready: str, without: int) -> str:
    """A case starts without a tray and gets it later."""
    return (
        f"Accept the gap: case {case} starts at {start} without {tray} and gets {set_id} {ready}, "
        f"{span(without)} after wheels-in"
    )


def reserve_gap_words(*, tray: str, begins: str, ends: str, left: int, keep: int) -> str:
    """Fewer sets stand ready than are to be kept, from and until."""
    until = f"until {ends}" if ends else "for as long as the schedule says"
    there = f"{counted(left, 'set')} of {tray} {'is' if left == 1 else 'are'}" if left else f"no set of {tray} is"
    return f"Accept the gap: from {begins} {until} {there} ready for an emergency; {keep} should be kept"


def complete_words(one: InstrumentSet, tray: str, case: str, by: str) -> str:
    """A set that is recorded as incomplete, away or unknown is made ready for a case."""
    act = {"incomplete": "Complete", "unknown": "Find"}.get(one.state, "Get back")
    what = f" (missing: {one.missing})" if one.missing and one.state == "incomplete" else ""
    return f"{act} {one.id} ({tray}), recorded as {one.state}{what}: ready for case {case} by {by}"


def cost_words(remedy: Remedy, tight: int | None, also: Iterable[str]) -> str:
    """What a remedy costs: cases, minutes, overtime, and how tight it then is; ``also``: what else it removes."""
    kinds = {edit.kind for edit in remedy.edits}
    parts = [f"{counted(remedy.cases_touched, 'case')} changed" if remedy.cases_touched else "no case changed"]
    if remedy.minutes_moved:
        parts.append(f"{span(remedy.minutes_moved)} moved")
    if remedy.overtime:
        parts.append(f"{span(remedy.overtime)} {'more' if remedy.overtime > 0 else 'less'} past closing")
    if RemedyKind.FASTER in kinds:
        parts.append("confirm with sterile processing")
        if remedy.delays:
            parts.append(f"goes ahead of {listed(remedy.delays)} at the same station")
    parts.append("no new conflict")
    if tight is not None and not kinds & {RemedyKind.DIRECT, RemedyKind.ACCEPT}:  # they say themselves what is left
        parts.append(f"tight, {span(tight)} to spare")
    return with_more_removed("; ".join(parts), also)


def with_more_removed(cost: str, also: Iterable[str]) -> str:
    """What a remedy costs, and what else it removes."""
    others = listed(also)
    return f"{cost}; also removes {others}" if others else cost


NOT_ALL = "Not all changes were tried: it would have taken too long."


def conflict_words(tray: str, case: str, kind: ConflictKind) -> str:
    """A conflict in a few words: ``Wrist for case 3 (short)``."""
    return f"{tray} for case {case} ({kind})"


def searched_words(left_out: int, pairs: int | None, *, cut_short: bool) -> str:
    """What is not listed, and what was not tried; ``pairs``: how many pairs of moves were, None where none had to."""
    found = []
    if cut_short:
        found.append(NOT_ALL)
    elif pairs is not None:
        found.append("No single change to the cases or the handling removes it.")
    if left_out > 0:
        found.append(f"{capital(more(left_out, 'change'))} would remove it; those listed disturb less.")
    if pairs:
        found.append(
            f"{counted(pairs, 'pair')} of moves {'was' if pairs == 1 else 'were'} tried, the nearest, not all."
        )
    return " ".join(found)


def missing_words(number: int, tray: str, harm: Sequence[str], by: str) -> str:
    """How many more sets would remove a conflict, and what would be wrong elsewhere with them."""
    sets = f"{more(number, 'set')} of {tray} by {by}"
    return f"{sets}; but then {listed(harm)}" if harm else sets


def nothing_helps_words(number: int, tray: str, by: str) -> str:
    """Not even so many more sets would remove a conflict."""
    sets = missing_words(number, tray, (), by)
    return f"not even {sets} would remove it: check side, size and route"


def harm_words(tray: str, case: str, kind: ConflictKind, minutes: int | None) -> str:
    """A conflict that is new or worse after a change; no minutes: its set never comes."""
    if kind is ConflictKind.RESERVE:
        return f"{tray} for case {case} leaves fewer sets than are to be kept ready"
    amount = "" if minutes is None else f" ({amount_of(kind, minutes)})"
    return f"{tray} for case {case} is {kind}{amount}"
