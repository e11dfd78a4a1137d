"""The trays of one cart: which set, where it is now, by when it comes, and when this case must give it back."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from picklist import wording
from picklist.documents.views.conflict_lines import brief
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.model.conflicts import Conflict
from picklist.model.plan import Cart, TrayLine
from picklist.model.schedule import ONE_SIDE
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.uses import Act, Assignment, Deadline, Reuse
from picklist.wording.set_states import NO_PLACE, until_here

NO_SET = "NO SET"
IN_HAND = "in use in this case"
MOST_NAMED = 3  # sets of a tray that another stands in for
LOUD_MARGINS = 4  # a set with less to spare than so many margins must not be let lie


@dataclass(frozen=True, kw_only=True)
class Strip(View):
    """A boxed strip under a tray: a word in reversed type, a sentence, and times with their names.

    ``loud``: little time is left; drawn with a heavy border.
    """

    word: str
    text: str
    times: tuple[tuple[str, str], ...] = ()
    loud: bool = False


class TrayRow(View):
    """One tray; ``checks`` are the boxes to tick and ``missing``: no set can serve.

    ``facts``: the name of each, its value, and whether it stands out; ``mark``: what a revision changes in this line.
    """

    def __init__(self, found: Lookup, cart: Cart, line: TrayLine) -> None:
        own = _own_tray(found, line)
        self.set_id = line.set_id or NO_SET
        self.missing = not line.set_id
        self.name = line.name
        self.tray = own if line.copy == 1 else f"{own}, copy {line.copy}"
        self.on_hold = line.on_hold
        self.open = wording.NONE if line.on_hold else "1"
        self.hold = "1" if line.on_hold else wording.NONE
        self.side = wording.small_side(line.need.side)
        self.stand_in = _why_stand_in(found, cart, line) if line.stand_in_for else ""
        self.holder = "container" if line.container else "wrapped"
        self.count_sheet = "count sheet" if line.count_sheet else "no count sheet"
        self.weight = "no weight recorded" if line.weight_lb is None else f"{line.weight_lb:g} lb"
        self.facts = _facts(found, cart, line)
        self.note = wording.joined(line.need.note, *line.not_stated)
        self.checks = () if self.missing or line.in_hand else _checks(line)
        self.strips = (*_comes_from(found, cart, line), *_gives_back(found, line), *_conflicts(found, cart, line))
        self.mark = ""


def tray_rows(found: Lookup, cart: Cart) -> tuple[TrayRow, ...]:
    """The cart's trays in the plan's order."""
    return tuple(TrayRow(found, cart, line) for line in cart.trays)


def _facts(found: Lookup, cart: Cart, line: TrayLine) -> tuple[tuple[str, str, bool], ...]:
    """Where the set is now, by when it must be there, and when it is expected or what is recorded of it.

    Of a set that is turned around first, what is recorded now says nothing about the set on this cart, and where
    another case uses it before, nobody is to take it from where it is.
    """
    needed = ("on the cart by", found.when(line.needed), True)
    if not line.set_id:
        return (needed,)
    if line.in_hand:
        return (("now", IN_HAND, True),)
    place = line.place_now or NO_PLACE
    reuse = found.reuses.get((line.set_id, cart.case.number))
    if reuse and reuse.giver:
        here = ("first with", found.case_in_room(reuse.giver), True)
    elif line.expected and line.set_id in found.sets and found.sets[line.set_id].state is SetState.ON_SHELF:
        here = ("reprocess first, now", place, True)
    else:
        here = ("now" if line.expected else "on the shelf", place, True)
    facts = [here, needed]
    if line.expected:
        facts.append(("expected", wording.at_pace(found.when(line.expected), line.pace), False))
    elif line.recorded:
        facts.append(("recorded as sterile", found.when(line.recorded), False))
    return tuple(facts)


def _checks(line: TrayLine) -> tuple[str, ...]:
    lock = ("lock",) if line.container else ()
    side = ("side",) if line.need.side in ONE_SIDE else ()
    return ("package", "indicator", *lock, "expiry", *side)


def _comes_from(found: Lookup, cart: Cart, line: TrayLine) -> tuple[Strip, ...]:
    """The strip of a set that is not ready yet: what must have happened by when."""
    reuse = found.reuses.get((line.set_id, cart.case.number))
    if reuse is None:
        return ()
    source = f"from {found.case_in_room(reuse.giver)}" if reuse.giver else f"now {reuse.from_state}"
    held = if_held(found, reuse)
    text = f"{source}, on hold there. {held} Latest start of each step if opened:" if held else ""
    return (
        Strip(
            word="COMING",
            text=text or f"{source}, {found.spare(reuse)}. Latest start of each step:",
            times=deadline_times(found, reuse),
        ),
    )


def own_conflicts(found: Lookup, cart: Cart, line: TrayLine) -> list[Conflict]:
    """The conflicts in which this cart lacks or risks the line."""
    known = [found.conflicts[one] for one in line.conflicts if one in found.conflicts]
    return [one for one in known if one.waiter == cart.case.number]


def if_held(found: Lookup, reuse: Reuse) -> str:
    """Of a set that its giver has on hold: what holds if it stays unopened, and if it is opened; else empty."""
    by, slack = reuse.if_unopened_by, reuse.if_unopened_slack
    if by is None or slack is None:
        return ""
    late = "too late, tell the coordinator"
    unopened = f"send back by {found.when(by)}, fine" if slack >= 0 else late
    opened = found.spare(reuse) if found.headline(reuse).slack >= 0 else f"{late} ({found.spare(reuse)})"
    return f"Unopened: {unopened}. Opened: {opened}."


def deadline_times(found: Lookup, reuse: Reuse) -> tuple[tuple[str, str], ...]:
    """Each act of a reuse with its latest time, in order; acts of one moment together."""
    return tuple((acts, found.when(one.latest)) for acts, one in at_one_moment(reuse.deadlines))


def at_one_moment(deadlines: tuple[Deadline, ...]) -> tuple[tuple[str, Deadline], ...]:
    """Deadlines by time, in the route's order where two are equal; those that never differ as one."""
    ordered = sorted(deadlines, key=lambda one: one.latest)
    grouped = groupby(ordered, key=lambda one: (one.latest, one.last_resort))
    moments = [tuple(some) for _, some in grouped]
    return tuple((", ".join(one.act for one in some), some[0]) for some in moments)


def _gives_back(found: Lookup, line: TrayLine) -> tuple[Strip, ...]:
    return (*(_at_once(found, case) for case in line.awaited_by), *_goes_on(found, line))


def _at_once(found: Lookup, case: str) -> Strip:
    """The strip of a set for which a case waits that goes without until it is back."""
    return Strip(word="NEEDED NEXT", text=f"by {_goes_without(found, case)}. Send it out at once.", loud=True)


def _goes_without(found: Lookup, case: str) -> str:
    """A case that waits for a set: ``C-2 in OR 6, start 13:55, which has no set until this one is back``."""
    start = f", start {found.when(found.cases[case].start)}" if case in found.cases else ""
    return f"{found.case_in_room(case)}{start}, which has no set until this one is back"


def take_first(found: Lookup, case: str) -> str:
    """What the department is told of a set that a case goes without: for whom, and what to do."""
    return f"for {_goes_without(found, case)}. Take it first."


def _goes_on(found: Lookup, line: TrayLine) -> tuple[Strip, ...]:
    back = line.give_back
    if back is None:
        return ()
    reuse = found.reuses.get((line.set_id, back.for_case))
    held = if_held(found, reuse) if reuse else ""
    waiter = found.cases.get(back.for_case)
    start = f", start {found.when(waiter.start)}" if waiter else ""
    spare = wording.at_pace(wording.to_spare(back.slack), back.pace)
    return (
        Strip(
            word="NEEDED NEXT",
            text=f"by {found.case_in_room(back.for_case)}{start}"
            + (f". {held} If opened, send out by:" if held else f", {spare}. Send out by:"),
            times=(
                (Act.OUT_OF_ROOM, found.when(back.leave_room_by)),
                (Act.INTO_DECONTAMINATION, found.when(back.reach_decontamination_by)),
            ),
            loud=back.slack < LOUD_MARGINS * found.plan.settings.margin,
        ),
    )


def _conflicts(found: Lookup, cart: Cart, line: TrayLine) -> tuple[Strip, ...]:
    known = own_conflicts(found, cart, line)
    return tuple(Strip(word=one.kind.value.upper(), text=brief(found, one)) for one in known)


def _own_tray(found: Lookup, line: TrayLine) -> str:
    """The tray that a line's set is a copy of; the one asked for where it has no set."""
    return found.sets[line.set_id].tray if line.set_id in found.sets else line.need.thing


def _why_stand_in(found: Lookup, cart: Cart, line: TrayLine) -> str:
    """What it stands in for, and where the sets of that tray are."""
    wanted = line.need.thing
    sets = [one for one in found.plan.sets if one.tray == wanted and one.serves_side(line.need.side)]
    named = [_where_it_is(found, cart, one) for one in sets[:MOST_NAMED]]
    if len(sets) > MOST_NAMED:
        named.append(f"{len(sets) - MOST_NAMED} more not in time")
    return f"Stands in for {line.stand_in_for} ({wanted}): {'; '.join(named) or 'it has no set'}"


def _where_it_is(found: Lookup, cart: Cart, one: InstrumentSet) -> str:
    """Why a set does not come to this cart: another case has it, or it is unavailable."""
    others = [
        given for given in found.plan.assignments if given.set_id == one.id and given.use.case != cart.case.number
    ]
    if others:
        return f"{one.id} goes to {found.case_in_room(_nearest(others, cart).use.case)}"
    if one.state is SetState.IN_USE and one.in_case:
        return f"{one.id} is in use in {found.case_in_room(one.in_case)}"
    if one.back_at:
        return f"{one.id} is {until_here(one, found.clock.stamp(one.back_at))}"
    if one.state is SetState.ON_SHELF:
        return f"{one.id} is kept ready or does not fit this case"
    return f"{one.id} is of unknown state" if one.state is SetState.UNKNOWN else f"{one.id} is {one.state}"


def _nearest(others: list[Assignment], cart: Cart) -> Assignment:
    """The use of a set that is nearest to the case in time."""
    return min(others, key=lambda given: (abs(given.use.starts - cart.case.start), given.use.key))
