"""What a change of cards would do to the coming days: carts, trays, conflicts. Everything is recomputed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time

from picklist.grouping import grouped
from picklist.model.cards import CardLine, ThingKind
from picklist.model.conflicts import Conflict
from picklist.model.needs import CaseNeeds
from picklist.model.schedule import Case, CaseStatus
from picklist.model.sets import NEVER_AVAILABLE
from picklist.model.site import Site
from picklist.plan import OnCarts, PlanRequest, make_plan
from picklist.problems import Problem
from picklist.resolve import resolve_cases
from picklist.resolve.being_resolved import each_once
from picklist.upkeep.attempt import Attempt, do_changes
from picklist.upkeep.card_rows import open_book
from picklist.upkeep.change_log import LogEntry
from picklist.upkeep.owners import Owner
from picklist.upkeep.proposals import Approval, ApprovedBy, CardChange
from picklist.upkeep.slots import thing_name
from picklist.wording import counted, open_and_hold
from picklist.wording.say_conflicts import statement

Amounts = dict[tuple[ThingKind, str], tuple[int, int]]
ConflictsOf = Callable[[Site], tuple[Conflict, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class NeedChange:
    """A thing on a cart, with (open, hold) and with its notes before and after."""

    kind: ThingKind
    thing: str
    before: tuple[int, int]
    after: tuple[int, int]
    notes: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class CartEffect:
    """A case of the coming days whose cart changes. ``stops`` are new problems that would stop its list."""

    case: str
    day: date
    room: str
    surgeon: str
    changes: tuple[NeedChange, ...] = ()
    stops: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayEffect:
    """How many uses of a tray a day has before and after, and how many sets there are."""

    tray: str
    day: date
    before: int
    after: int
    sets: int

    @property
    def scarcer(self) -> bool:
        """Whether the tray is wanted more often."""
        return self.after > self.before


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """All that changes. ``made`` and ``solved`` are conflicts; both None when none were computed.

    ``void`` are changes that the cards no longer allow, left out of the computing.
    """

    carts: tuple[CartEffect, ...] = ()
    trays: tuple[TrayEffect, ...] = ()
    made: tuple[Conflict, ...] | None = None
    solved: tuple[Conflict, ...] | None = None
    void: tuple[CardChange, ...] = ()


def find_effect(
    site: Site,
    owner: Owner,
    changes: Iterable[CardChange],
    effective: date,
    *,
    log: tuple[LogEntry, ...] = (),
    conflicts_of: ConflictsOf | None = None,
) -> Effect:
    """What the changes would do to planned cases on the schedule from the effective day on, after those of the log."""
    lines, void = _lines_after(site, owner, tuple(changes), effective, log)
    after = open_book(site, lines).site
    cases = tuple(case for case in site.cases if case.day >= effective and case.status is CaseStatus.PLANNED)
    before_needs, after_needs = resolve_cases(site, cases), resolve_cases(after, cases)
    carts = _cart_effects(cases, before_needs, after_needs)
    days = {cart.day for cart in carts}
    trays = _tray_effects(site, [*zip(cases, before_needs, after_needs, strict=True)], days)
    if conflicts_of is None:
        return Effect(carts=carts, trays=trays, void=void)
    was, will = conflicts_of(site), conflicts_of(after)
    return Effect(carts=carts, trays=trays, made=_only_in(will, was), solved=_only_in(was, will), void=void)


def plan_conflicts(problems: tuple[Problem, ...], now: datetime, on_carts: OnCarts) -> ConflictsOf:
    """Conflicts as the plan as of ``now`` finds them over its whole horizon."""

    def conflicts_of(site: Site) -> tuple[Conflict, ...]:
        order = PlanRequest(
            day=site.settings.site_clock.day(now),
            now=now,
            on_carts=on_carts,
            with_chance=False,
            with_remedies=False,
        )
        plan = make_plan(site, problems, order)
        return plan.conflicts

    return conflicts_of


def describe_effect(site: Site, effect: Effect) -> tuple[str, ...]:
    """The effect for whoever approves: carts that change, trays, conflicts."""
    clock = site.settings.site_clock
    lines = []
    for cart in effect.carts:
        told = [_need_text(site, one) for one in cart.changes] + [f"STOPS: {p.sentence()}" for p in cart.stops]
        lines.append(f"cart {cart.case}, {clock.day_text(cart.day)}, {cart.room}: {'; '.join(told)}")
    for tray in effect.trays:
        word = "scarcer" if tray.scarcer else "freer"
        name = thing_name(site, ThingKind.TRAY, tray.tray) or tray.tray
        uses = f"{tray.before} -> {tray.after} uses of {counted(tray.sets, 'set')}"
        lines.append(f"{word}: {name} ({tray.tray}), {clock.day_text(tray.day)}: {uses}")
    lines += [f"conflict made: {statement(conflict, clock)}" for conflict in effect.made or ()]
    lines += [f"conflict solved: {statement(conflict, clock)}" for conflict in effect.solved or ()]
    if effect.made == () and effect.solved == ():
        lines.append("no conflict is caused or solved")
    lines += [f"change {change.number} can no longer be made as proposed" for change in effect.void]
    return tuple(lines) or ("no cart of the coming days changes",)


def _need_text(site: Site, change: NeedChange) -> str:
    name = thing_name(site, change.kind, change.thing) or change.thing
    told = []
    if change.before != change.after:
        told.append(f"{open_and_hold(*change.before)} -> {open_and_hold(*change.after)}")
    was, will = change.notes
    if was != will:
        told.append(" -> ".join(f'"{note}"' if note else "no note" for note in (was, will)))
    return f"{name} ({change.thing}) {', '.join(told)}"


def _lines_after(
    site: Site, owner: Owner, changes: tuple[CardChange, ...], effective: date, log: tuple[LogEntry, ...]
) -> tuple[tuple[CardLine, ...], tuple[CardChange, ...]]:
    """The card lines that approving would write, and the changes that it would not."""
    start = datetime.combine(effective, time(), UTC)
    book = open_book(site)
    attempt = Attempt(site=site, now=start, first=book, book=book, log=log)
    nobody = ApprovedBy(name="", reason="", effective=effective)
    do_changes(attempt, Approval(owner=owner, changes=changes, approved=nobody))
    void = tuple(one for one in changes if one in (*attempt.refused, *attempt.already))
    return attempt.book.site.card_lines, void


def _cart_effects(
    cases: tuple[Case, ...], before: tuple[CaseNeeds, ...], after: tuple[CaseNeeds, ...]
) -> tuple[CartEffect, ...]:
    found = []
    for case, old, new in zip(cases, before, after, strict=True):
        known = {(stop.kind, stop.message) for stop in old.stopped}
        stops = tuple(stop for stop in new.stopped if (stop.kind, stop.message) not in known)
        was, will = _amounts(old), _amounts(new)
        notes, new_notes = _notes(old), _notes(new)
        changes = tuple(
            NeedChange(
                kind=key[0],
                thing=key[1],
                before=was.get(key, (0, 0)),
                after=will.get(key, (0, 0)),
                notes=(notes.get(key, ""), new_notes.get(key, "")),
            )
            for key in dict.fromkeys((*was, *will))
            if was.get(key) != will.get(key) or notes.get(key, "") != new_notes.get(key, "")
        )
        if changes or stops:
            told = () if new.stopped and not old.stopped else changes
            found.append(
                CartEffect(
                    case=case.number, day=case.day, room=case.room, surgeon=case.surgeon, changes=told, stops=stops
                )
            )
    return tuple(found)


def _amounts(needs: CaseNeeds) -> Amounts:
    amounts: Amounts = {}
    for need in needs.needs:
        opened, held = amounts.get((need.kind, need.thing), (0, 0))
        amounts[need.kind, need.thing] = (opened + need.open, held + need.hold)
    return amounts


def _notes(needs: CaseNeeds) -> dict[tuple[ThingKind, str], str]:
    found = grouped(((need.kind, need.thing), need.note) for need in needs.needs)
    return {key: "; ".join(each_once(notes)) for key, notes in found.items()}


def _tray_effects(
    site: Site, resolved: list[tuple[Case, CaseNeeds, CaseNeeds]], days: set[date]
) -> tuple[TrayEffect, ...]:
    uses: tuple[Counter[tuple[date, str]], Counter[tuple[date, str]]] = (Counter(), Counter())
    for case, *both in resolved:
        for count, needs in zip(uses, both, strict=True):
            for (kind, thing), (opened, held) in _amounts(needs).items():
                if kind is ThingKind.TRAY and case.day in days:
                    count[case.day, thing] += opened + held
    before, after = uses
    sets = Counter(one.tray for one in site.sets.values() if one.state not in NEVER_AVAILABLE)
    changed = sorted(key for key in before.keys() | after.keys() if before[key] != after[key])
    return tuple(
        TrayEffect(tray=tray, day=day, before=before[day, tray], after=after[day, tray], sets=sets[tray])
        for day, tray in changed
    )


def _only_in(these: tuple[Conflict, ...], others: tuple[Conflict, ...]) -> tuple[Conflict, ...]:
    """Conflicts that the others do not have, each case's conflict over a tray once."""
    known = {(one.kind, one.tray, one.waiter) for one in others}
    new = {key: one for one in these if (key := (one.kind, one.tray, one.waiter)) not in known}
    return tuple(new.values())
