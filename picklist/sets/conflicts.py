"""Conflicts of a plan: what is short, rushed, conditional, under the reserve or tight."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from picklist.model.conflicts import Conflict, ConflictKind, Saving
from picklist.model.routes import Step
from picklist.model.uses import Reuse, Use
from picklist.sets.allocation.terms import Grade
from picklist.sets.conflict_words import (
    conditional_words,
    reserve_words,
    rush_words,
    short_words,
    tight_words,
)
from picklist.sets.deadlines import OUT_OF_ROOM
from picklist.sets.knock_on import Followers
from picklist.sets.proof import prove, soonest_set
from picklist.sets.reuse import deadline_of
from picklist.sets.savings import rush_by, savings_of, way_steps
from picklist.sets.serve_part import PartPlan, Service
from picklist.sets.situation import Situation
from picklist.sets.states import home_of


@dataclass(frozen=True, slots=True, kw_only=True)
class BareConflict:
    """A conflict in plain figures: enough to compare two plans, without words and proof."""

    kind: ConflictKind
    use: Use
    minutes: int
    service: Service | None = None

    @property
    def id(self) -> str:
        """Stable over small changes: who waits for what, and that it is about the reserve."""
        copy = f"/{self.use.copy}" if self.use.copy > 1 else ""
        reserve = "/reserve" if self.kind is ConflictKind.RESERVE else ""
        return f"{self.use.case}/{self.use.tray}{copy}{reserve}"


def find_conflicts(situation: Situation, plan: PartPlan, followers: Followers) -> tuple[Conflict, ...]:
    """All conflicts of one part, in order of need."""
    return tuple(dress(situation, plan, followers, bare) for bare in spot_conflicts(situation, plan))


def spot_conflicts(situation: Situation, plan: PartPlan) -> tuple[BareConflict, ...]:
    """The conflicts of one part in plain figures, in order of need."""
    found = [BareConflict(kind=ConflictKind.SHORT, use=use, minutes=minutes or 0) for use, minutes in plan.unserved]
    margin = situation.site.settings.margin
    for service in plan.services:
        kind = _kind(service, margin)
        slack = service.slack or 0
        if kind is not None:
            found.append(BareConflict(kind=kind, use=service.use, minutes=abs(slack), service=service))
        if service.under:
            found.append(
                BareConflict(kind=ConflictKind.RESERVE, use=service.use, minutes=service.under, service=service)
            )
    return tuple(sorted(found, key=lambda one: (one.use.needed, one.use.key, one.kind)))


def _kind(service: Service, margin: int) -> ConflictKind | None:
    if service.grade is Grade.RUSH:
        return ConflictKind.RUSH
    if service.grade is Grade.UNOPENED:
        return ConflictKind.CONDITIONAL
    tight = service.slack is not None and service.reuse is not None and service.slack < margin
    return ConflictKind.TIGHT if tight else None


def dress(situation: Situation, plan: PartPlan, followers: Followers, bare: BareConflict) -> Conflict:
    """A conflict with its words, proof, savings, and who loses if it slips."""
    if bare.service is None:
        return _short(situation, plan, followers, bare)
    if bare.kind is ConflictKind.RESERVE:
        return _reserve(situation, plan, bare)
    return _close_call(situation, plan, followers, bare, bare.service)


def _short(situation: Situation, plan: PartPlan, followers: Followers, bare: BareConflict) -> Conflict:
    use = bare.use
    soonest = soonest_set(situation, plan, use)
    proof = prove(situation, plan, use)
    savings: tuple[Saving, ...] = ()
    if soonest is not None:
        state = plan.states[soonest.one.id]
        savings = savings_of(way_steps(situation, soonest.one, state, soonest.reuse, use), soonest.reuse)
    return Conflict(
        id=bare.id,
        kind=bare.kind,
        tray=use.tray,
        waiter=use.case,
        givers=tuple(case for case in proof.overlapping if case != use.case),
        set_id=soonest.one.id if soonest else "",
        minutes=bare.minutes,
        statement=short_words(situation, use, soonest, proof),
        proof=proof,
        savings=savings,
        decide_by=use.needed,
        knock_on=followers.knock_on(use.case, bare.minutes) if bare.minutes else (),
    )


def _reserve(situation: Situation, plan: PartPlan, bare: BareConflict) -> Conflict:
    use, service = bare.use, bare.service
    tray = service.one.tray if service else use.tray
    others = [one.use.case for one in plan.services if one.one.tray == tray and one.use.needed <= use.needed]
    busy = [case for case in dict.fromkeys(others) if case != use.case]
    return Conflict(
        id=bare.id,
        kind=bare.kind,
        tray=tray,
        waiter=use.case,
        givers=tuple(busy),
        set_id=service.one.id if service else "",
        minutes=bare.minutes,
        statement=reserve_words(situation, use, tray, bare.minutes),
        decide_by=use.needed,
    )


def _close_call(
    situation: Situation, plan: PartPlan, followers: Followers, bare: BareConflict, service: Service
) -> Conflict:
    use, reuse = bare.use, service.reuse
    if reuse is None:
        raise AssertionError(f"{bare.kind} without a reuse: {use.key}")
    state = plan.states[service.one.id]
    steps = way_steps(situation, service.one, state, reuse, use)
    savings = savings_of(steps, reuse)
    margin = situation.site.settings.margin
    late = margin - bare.minutes if bare.kind is ConflictKind.TIGHT else bare.minutes
    return Conflict(
        id=bare.id,
        kind=bare.kind,
        tray=use.tray,
        waiter=use.case,
        givers=(reuse.giver,) if reuse.giver else (),
        set_id=service.one.id,
        minutes=bare.minutes,
        statement=_WORDS[bare.kind](situation, use, reuse, savings),
        savings=savings,
        decide_by=_decide_by(situation, bare, service, reuse, steps),
        depends_on=_depends_on(bare, service),
        knock_on=followers.knock_on(use.case, max(1, late)),
    )


_WORDS = {
    ConflictKind.RUSH: rush_words,
    ConflictKind.CONDITIONAL: conditional_words,
    ConflictKind.TIGHT: tight_words,
}


def _decide_by(
    situation: Situation, bare: BareConflict, service: Service, reuse: Reuse, steps: tuple[Step, ...]
) -> datetime:
    """Rushed: until the last step at which hurry suffices. On a held tray: until its case may open it.

    Tight: until the set must have left the room, or begun, by usual minutes.
    """
    if bare.kind is ConflictKind.RUSH:
        home = home_of(situation.turnaround, service.one)
        return rush_by(situation, steps, reuse, home, bare.use.building) or reuse.released
    if bare.kind is ConflictKind.CONDITIONAL and service.after is not None:
        return service.after.starts
    leaves = deadline_of(reuse, OUT_OF_ROOM)
    return leaves.latest if leaves else reuse.deadlines[0].latest


def _depends_on(bare: BareConflict, service: Service) -> str:
    if bare.kind is not ConflictKind.CONDITIONAL or service.after is None:
        return ""
    return f"whether case {service.after.case} opens {service.one.id}, which it has on hold"
