"""What a conflict and its proof say, in sentences that a coordinator can read out."""

from __future__ import annotations

from collections import Counter
from datetime import datetime

from picklist.clock import SiteClock
from picklist.model.conflict_facts import Binding, Bound, ConflictFacts, Decider, Later, Shortage
from picklist.model.conflicts import BoundSet, Conflict, ConflictKind, Proof
from picklist.model.uses import Act, Pace, Reuse
from picklist.wording.lists import beside, moment
from picklist.wording.quantities import PACE_WORDS, at_pace, counted, listed, span, to_spare
from picklist.wording.set_states import no_way_back

MOST_CASES, MOST_SETS, MOST_PROOF = 6, 3, 40  # named in a sentence; the proof has a line for each set
CONFIRM = "Confirm with sterile processing."
_DECIDED = {
    Decider.OPEN: "the others together have the higher priority",
    Decider.OPEN_FIRST: "trays to be opened go before trays on hold",
    Decider.HELD: "the others together have the higher priority",
    Decider.CERTAIN: "then the fewest cases depend on hurrying or on a tray that stays unopened",
    Decider.BUILT: "then fewer sets are taken off built carts",
    Decider.EXACT: "then the fewest stand-ins are needed",
    Decider.LATE: "then the waiting is shortest overall",
}


def statement(conflict: Conflict, clock: SiteClock) -> str:
    """What a conflict is about; of an older plan as it was written down."""
    facts = conflict.facts
    if facts is None:
        return conflict.statement
    text = f"{_needs_by(conflict, facts, clock)} {_of_kind(conflict, facts, _Beside(clock, facts.needed))}"
    late = facts.in_queue
    if late is None:
        return text
    return f"{text} It is ready {at_pace(beside(clock, late.at, facts.needed), late.pace)}, {to_spare(late.slack)}."


def depends_on(conflict: Conflict) -> str:
    """What a conflict depends on: the station whose queue it is, or a tray on hold; empty where nothing does."""
    reuse = conflict.facts.reuse if conflict.facts else None
    if conflict.kind is ConflictKind.CONDITIONAL and reuse is not None:
        return f"whether case {reuse.giver} opens {reuse.set_id}, which it has on hold"
    return conflict.depends_on


def proof_opening(conflict: Conflict, clock: SiteClock) -> str:
    """What a proof says of all sets together; of an older plan the whole of it."""
    proof, facts = conflict.proof, conflict.facts
    if proof is None:
        return ""
    if facts is None:
        return proof.statement
    at = _Beside(clock, facts.needed)(proof.instant)
    if facts.reserve is not None:
        keep, ready = facts.reserve.keep, proof.ready
        there = f"{listed(ready) or 'no other set'} of {facts.tray} {'is' if len(ready) < 2 else 'are'} ready"
        return f"At {at} {there}; {counted(keep, 'set')} {'is' if keep == 1 else 'are'} to be kept ready."
    sets = Counter(one.case for one in proof.sets if one.case)
    sets[conflict.waiter] += proof.lacking
    named = (case if number == 1 else f"{case} ({counted(number, 'set')})" for case, number in sets.items())
    cases = listed(named, MOST_PROOF)
    usable = sum(one.until is not None or bool(one.case) for one in proof.sets)
    fit = f"{counted(usable, 'set')} fit" if usable > 1 else f"{'Only 1' if usable else 'No'} set fits"
    return f"At {at} {facts.tray} is taken or wanted by {counted(len(sets), 'case')}: {cases}. {fit} this case."


def bound_lines(conflict: Conflict, clock: SiteClock) -> tuple[str, ...]:
    """A line for each set of the proof: what binds it and until when."""
    proof, facts = conflict.proof, conflict.facts
    if proof is None:
        return ()
    if facts is None:
        return tuple(_older(one, clock, proof) for one in proof.sets if one.set_id not in proof.statement)
    return tuple(f"{one.set_id}: {why(conflict, one, clock)}." for one in proof.sets)


def _older(one: BoundSet, clock: SiteClock, proof: Proof) -> str:
    until = f" until {_Beside(clock, proof.instant)(one.until)}" if one.until else ""
    return f"{one.set_id}: {one.why}{until}"


def why(conflict: Conflict, one: BoundSet, clock: SiteClock) -> str:
    """What binds one set of the proof: ``with case 1 until 09:30, ready again 12:50 at usual pace``."""
    bound, facts = one.bound, conflict.facts
    if bound is None or facts is None:
        return one.why
    at = _Beside(clock, facts.needed)
    match bound.binding:
        case Binding.NEVER:
            return bound.text
        case Binding.MISFIT:
            return f"{bound.text or 'no side'}, does not fit"
        case Binding.LOAN_ENDS:
            return f"on loan, goes back by {at(bound.loan_until)}, before this case ends"
        case Binding.NO_TRANSFER:
            return f"its place is in {bound.text}, and no transfer from there to {bound.to} is listed"
        case Binding.TOO_LATE:
            return "cannot be brought here in time"
        case Binding.OWN if bound.text:
            return f"goes to case {conflict.waiter} itself, for its {bound.text}"
        case Binding.OWN:
            return f"goes to case {conflict.waiter} itself, which wants {counted(bound.wanted, 'set')} at once"
        case Binding.KEPT if bound.later is not None:
            return _kept_for(conflict, bound.later, at)
    return f"{_held(one, bound, at)}, {_ready_again(one, bound, conflict, at)}"


def _held(one: BoundSet, bound: Bound, at: _Beside) -> str:
    if bound.binding is Binding.STATE:
        return bound.text
    with_whom = "on hold in" if bound.binding is Binding.ON_HOLD else "with"
    return f"{with_whom} case {one.case} until {at(bound.ends)}"


def _ready_again(one: BoundSet, bound: Bound, conflict: Conflict, at: _Beside) -> str:
    """When a set that is away is ready for the case, and why it then does not get it."""
    if one.until is None and bound.used_in:
        return f"and {no_way_back(bound.used_in, bound.to)}"
    if one.until is None:
        return "and never ready again for this case"
    text = f"ready {'' if bound.binding is Binding.STATE else 'again '}{at_pace(at(one.until), Pace.USUAL)}"
    if bound.hurried is not None:
        text += f", {at_pace(at(bound.hurried), Pace.LEAST)}"
    if bound.unopened is not None:
        text += f", if it stays unopened {at(bound.unopened)}"
    if bound.loan_until is not None:
        return f"{text}; on loan, goes back by {at(bound.loan_until)}, before this case would then end"
    if bound.elsewhere:
        text += "; it goes to what else this case lacks"
    return f"{text}; but {_kept_for(conflict, bound.later, at)}" if bound.later else text


def _kept_for(conflict: Conflict, later: Later, at: _Beside) -> str:
    """For which later case a set is kept, and when it would be back for it."""
    kept = f"kept for case {later.case}, which needs it by {at(later.needed)}"
    if later.back is None:
        return f"{kept}; never back from case {conflict.waiter}"
    back = f"would be back from case {conflict.waiter} only at {at_pace(at(later.back), Pace.USUAL)}"
    return f"{kept}; {back}" + (f", {at_pace(at(later.hurried), Pace.LEAST)}" if later.hurried else "")


class _Beside:
    """Writes moments beside a need: hour and minute, with the day where it is not the day of the need."""

    def __init__(self, clock: SiteClock, needed: datetime) -> None:
        self.clock, self.day = clock, clock.day(needed)

    def __call__(self, instant: datetime | None) -> str:
        """The moment in words; empty without one."""
        return moment(self.clock, instant, self.day) if instant else ""


def _needs_by(conflict: Conflict, facts: ConflictFacts, clock: SiteClock) -> str:
    """The opening of every conflict: who needs what by when."""
    side = f", {conflict.side}" if conflict.side else ""
    day = clock.day_text(clock.day(facts.needed))
    return f"Case {conflict.waiter} needs {facts.tray}{side} by {clock.hhmm(facts.needed)} on {day}."


def _of_kind(conflict: Conflict, facts: ConflictFacts, at: _Beside) -> str:
    reuse = facts.reuse
    if facts.shortage is not None:
        return _short(conflict, facts, facts.shortage, at)
    if facts.reserve is not None:
        one = facts.reserve
        until = f"until {at(one.until)}" if one.until else "for as long as the schedule says"
        kept = f"{one.keep} {'is' if one.keep == 1 else 'are'} to be kept ready for emergencies"
        return f"Taking it then leaves {one.left or 'none'} of {facts.tray} ready {until}; {kept}."
    if reuse is None:
        raise AssertionError(f"{conflict.kind} without a reuse: {conflict.id}")
    if conflict.kind is ConflictKind.CONDITIONAL:
        return _conditional(conflict, reuse, at)
    return _close_call(conflict, facts, reuse, at)


def _short(conflict: Conflict, facts: ConflictFacts, short: Shortage, at: _Beside) -> str:
    """No set makes it, not even when hurried."""
    several = f"It wants {counted(short.wanted, 'set')} and gets {listed(short.gets) or 'none'}. "
    opening = several if short.wanted > 1 else ""
    further = "further " if short.gets or short.first else ""
    reuse = facts.reuse
    if reuse is None:
        bound = conflict.proof.sets if conflict.proof else ()
        named = [f"{one.set_id}: {why(conflict, one, at.clock)}" for one in bound[:MOST_SETS]]
        named += [f"{len(bound) - MOST_SETS} more"] if len(bound) > MOST_SETS else []
        words = "is free" if short.kept else "can be used"
        reasons = f" {'; '.join(named)}." if named else ""
        return f"{opening}No {further}set of it {words} for this case.{reasons}{_decided(short)}"
    kept = listed((f"{one.set_id} is ready by then, but kept for case {one.case}" for one in short.kept), MOST_SETS)
    none = f"No {further}set is free: {kept}." if kept else f"No {further}set is ready by then."
    after = f" after {listed(short.first)}" if short.first else ""
    standing_in = f" ({facts.standing_in}, which may stand in)" if facts.standing_in else ""
    ready = at_pace(at(reuse.ready), Pace.USUAL)
    text = f"{opening}{none} The soonest{after} is {reuse.set_id}{standing_in}, ready {ready}: "
    text += f"{span(reuse.slack)} short{_hurried_still(reuse)}"
    return f"{text}.{_unopened(reuse, at)}{_kept_next(short, at)}{_by(short, reuse, at)}{_decided(short)}"


def _hurried_still(reuse: Reuse) -> str:
    """How much is short even so, where hurrying saves some of it."""
    return f", {PACE_WORDS[Pace.LEAST]} still {span(reuse.least_slack)}" if reuse.slack < reuse.least_slack < 0 else ""


def _unopened(reuse: Reuse, at: _Beside) -> str:
    """When a set that comes too late even so would be free if its giver left it unopened."""
    slack = reuse.if_unopened_slack or 0
    if reuse.if_unopened_ready is None or slack >= 0:
        return ""
    free = at(reuse.if_unopened_ready)
    return f" Case {reuse.giver} has it on hold; if it stays unopened it is free {free}, {span(slack)} short."


def _kept_next(short: Shortage, at: _Beside) -> str:
    """That the soonest set is kept for another case, which could not have it back if this one waited for it."""
    if short.kept_next is None:
        return ""
    needed = at(short.kept_next.needed)
    return (
        f" It is kept for case {short.kept_next.case}, which needs it by {needed} and could not have it back in time."
    )


def _by(short: Shortage, reuse: Reuse, at: _Beside) -> str:
    """By when the soonest set would have had to come, against when its case starts or when it is here."""
    if short.by is not None and short.arrives is not None:
        return f" For that it would have to be here by {at(short.by.latest)}; it is expected {at(short.arrives)}."
    if short.by is None or short.giver_starts is None:
        return ""
    act = "leave the room" if short.by.act == Act.OUT_OF_ROOM else "reach decontamination"
    starts = f"its case {reuse.giver} starts {at(short.giver_starts)}"
    return f" For that it would have to {act} by {at(short.by.latest)}; {starts}."


def _decided(short: Shortage) -> str:
    """What decided that the case goes without; that a person decides where another case has the same priority."""
    if short.decider is None:
        return ""
    because = _DECIDED.get(short.decider)
    words = f"This case goes without, because {because}."
    if because is None:
        words = f"All else is equal: the {short.rule} keeps its set."
    if not short.equal:
        return f" {words}"
    have = "Case" if len(short.equal) == 1 else "Cases"
    verb = "has" if len(short.equal) == 1 else "have"
    return f" {have} {listed(short.equal, MOST_CASES)} {verb} the same priority. {words} Someone must confirm."


def _close_call(conflict: Conflict, facts: ConflictFacts, reuse: Reuse, at: _Beside) -> str:
    """It makes it only in a rush, or with less than the margin to spare."""
    whence = f"{reuse.set_id} is {reuse.from_state}"
    if reuse.giver:
        whence = f"{reuse.set_id} comes from case {reuse.giver}{f' in {facts.room}' if facts.room else ''}"
    text = f"{whence} and is ready {at_pace(at(reuse.ready), Pace.USUAL)}: "
    if conflict.kind is ConflictKind.RUSH:
        hurried = at_pace(at(reuse.least_ready), Pace.LEAST)
        return f"{text}{span(reuse.slack)} must be saved. It is ready {hurried}.{_savings(conflict, 'can')} {CONFIRM}"
    text += f"{span(reuse.slack)} to spare, the margin is {span(facts.margin)}."
    if overrun := overrun_words(reuse):
        text += f" Case {overrun}."
    return f"{text}{_savings(conflict, 'could')}"


def overrun_words(reuse: Reuse) -> str:
    """How much the giving case may overrun, or by how much it is too long; empty when no case gives."""
    if reuse.break_even is None or not reuse.giver:
        return ""
    opened = " if it opens the set" if reuse.hangs_on_opening else ""
    if reuse.break_even == 0:
        return f"{reuse.giver} cannot overrun at all{opened}"
    share = "" if reuse.break_even_percent is None else f" ({abs(reuse.break_even_percent)} % of its minutes)"
    if reuse.break_even < 0:
        return f"{reuse.giver} must end {span(reuse.break_even)} earlier{opened}{share}"
    return f"{reuse.giver} may overrun by {span(reuse.break_even)}{share}"


def _conditional(conflict: Conflict, reuse: Reuse, at: _Beside) -> str:
    """It makes it only if the giver leaves its held tray unopened."""
    free = at(reuse.if_unopened_ready) or "in time"
    opened = f"{span(reuse.slack)} short{_hurried_still(reuse)}."
    if reuse.least_slack >= 0:
        opened = f"{span(reuse.slack)} must be saved.{_savings(conflict, 'can')} {CONFIRM}"
    return (
        f"{reuse.set_id} is on hold in case {reuse.giver}. If it stays unopened it is free {free}, "
        f"{span(reuse.if_unopened_slack or 0)} to spare. If it is opened it is ready "
        f"{at_pace(at(reuse.ready), Pace.USUAL)}: {opened}"
    )


def _savings(conflict: Conflict, verb: str) -> str:
    where = saved_at(conflict)
    return f" Time {verb} be saved here: {where}." if where else ""


def saved_at(conflict: Conflict) -> str:
    """Where minutes can be saved: ``20 min at wash and 10 min at assemble``."""
    return listed(f"{span(one.minutes)} at {one.step}" for one in conflict.savings)
