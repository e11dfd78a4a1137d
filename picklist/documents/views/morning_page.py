"""What is open at the end of the shift, on one page for the morning."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from picklist import wording
from picklist.clock import minutes_between
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.open_list import decisions_by_time, informed
from picklist.documents.views.stamp import Printing, stamp_for
from picklist.evening.open_points import CartPoint, KnownFrom, MissingPoint, OpenPoints, SetPoint
from picklist.evening.since_built import Gone, SinceBuilt
from picklist.grouping import grouped
from picklist.model.known import Decision, MatchQuestion, PutBack
from picklist.model.schedule import Case

UNREAD = "its row on the schedule cannot be read now; leave its cart as it is and put nothing back"
NOT_COMPARED = "The carts below are those of the lists as built; check whether any case was cancelled or moved."


class MissingRow(View):
    """What one case lacks, and when its cart must be complete; ``past``: that was before the page's own hour."""

    def __init__(self, found: Lookup, points: Sequence[MissingPoint], at: datetime) -> None:
        first = points[0]
        self.by = found.when(first.by)
        self.past = first.by < at
        self.case = found.case_in_room(first.case)
        self.start = found.when(first.cart.case.start)
        self.things = tuple(_thing(found, one) for one in points)


class OpenSet(View):
    """A set still in process that a case waits for."""

    def __init__(self, found: Lookup, one: SetPoint, at: datetime) -> None:
        step = one.next_step
        late = one.passed[0] if one.passed else None
        self.needed = found.when(one.reuse.needed)
        self.past = one.reuse.needed < at
        self.set_id = one.reuse.set_id
        self.case = found.case_in_room(one.case)
        self.next = f"{step.act} by {found.when(step.latest)}" if step else "put it on the cart"
        self.passed = f"{late.act} was due by {found.when(late.latest)}" if late else ""
        spare = found.spare(one.reuse)
        self.spare = f"planned {spare}" if one.passed else spare
        self.late = found.headline(one.reuse).slack < 0


class CartsRow(View):
    """Carts that are not built, by what is known of them."""

    def __init__(self, state: str, carts: Sequence[str]) -> None:
        self.state = state
        self.number = str(len(carts))
        self.carts = tuple(carts)


@dataclass(frozen=True, kw_only=True)
class SinceRow(View):
    """What became of some cases on the schedule since the lists were built: what, and which, each by itself."""

    what: str
    cases: tuple[str, ...]

    @property
    def text(self) -> str:
        """The cases in one line."""
        return "; ".join(self.cases)


class MorningView(View):
    """The page, each section in the order in which it presses; one without rows is left out.

    ``of_plan``: of which hour the times are, when the plan is not of the page's own. ``stopped``: each case with room
    and hour, and why; ``questions``: each new case, and former ones; ``put_backs``: each case, what is to be put back.
    """

    def __init__(self, found: Lookup, points: OpenPoints) -> None:
        plan = found.plan
        printing = Printing(revision=points.plan_revision, printed=points.at, replaces=plan.replaces)
        self.stamp = stamp_for(plan, printing)
        self.title = f"Open for {found.clock.day_text(plan.day)}"
        self.counts = _counts(found, points)
        self.of_plan = _of_plan(found, points)
        self.nothing = points.nothing
        self.since = since_rows(found, points.since)
        self.decisions = decisions_by_time(found, points)
        self.stopped = (
            *(
                (f"{found.case_in_room(one.case)}, start {found.when(one.cart.case.start)}", one.state)
                for one in points.stopped
            ),
            *((case, UNREAD) for case in points.since.unread),
            *(
                (f"{one.cases[0]}, its day, room or start is unreadable", str(one.where))
                for one in points.unplaced
                if one.cases[0] not in points.since.unread
            ),
        )
        missing = groupby(points.missing, key=lambda one: (one.by, one.case))
        self.missing = tuple(MissingRow(found, list(some), points.at) for _, some in missing)
        self.sets = tuple(OpenSet(found, one, points.at) for one in points.sets)
        self.carts = _carts(points.carts, points.at)
        self.questions = tuple((one.new_case, _candidates(one)) for one in points.questions)
        self.put_backs = _put_backs(points.put_backs)


def _counts(found: Lookup, points: OpenPoints) -> str:
    numbers = (
        (len(points.since.gone), "cart not counted", "carts not counted"),
        (len(points.decisions), "decision waiting", "decisions waiting"),
        (len(points.to_enter), "decision to put into the schedule", "decisions to put into the schedule"),
        (
            len(points.stopped) + len({*points.since.unread, *(one.cases[0] for one in points.unplaced)}),
            "list on hold",
            "lists on hold",
        ),
        (len(points.missing), "item missing", "items missing"),
        (len(points.sets), "set in process", "sets in process"),
        (len(points.carts), "cart to finish", "carts to finish"),
        (len(points.questions), "question", "questions"),
        (len(points.put_backs), "line to put back", "lines to put back"),
    )
    parts = [wording.counted(number, one, many) for number, one, many in numbers if number]
    return f"As of {found.clock.stamp(points.at)}: {', '.join(parts) or 'nothing'}"


def since_rows(found: Lookup, since: SinceBuilt) -> tuple[SinceRow, ...]:
    """What the schedule has become since the lists were built, the carts that are not counted first."""
    rows = [
        SinceRow(what=f"{wording.counted(len(some), 'cart')} not counted, {one} {why}", cases=tuple(some))
        for why, some in _gone(found, since).items()
        for one in ("case" if len(some) == 1 else "cases",)
    ]
    if since.moved:
        moved = tuple(_moved(found, was, now) for was, now in since.moved)
        rows.append(SinceRow(what=f"{wording.counted(len(since.moved), 'case')} changed, list not yet", cases=moved))
    if since.added:
        added = tuple(_slot(found, case) for case in since.added)
        rows.append(SinceRow(what=f"{wording.counted(len(since.added), 'case')} without a list", cases=added))
    if since.rows_unread:
        what = f"{wording.counted(len(since.rows_unread), 'case')} without a list"
        unread = tuple(f"{one}: day, room or start is unreadable" for one in since.rows_unread)
        rows.append(SinceRow(what=what, cases=unread))
    if since.not_seen:
        rows.append(SinceRow(what="Not compared with the schedule", cases=(f"{since.not_seen}. {NOT_COMPARED}",)))
    return tuple(rows)


def _gone(found: Lookup, since: SinceBuilt) -> dict[str, list[str]]:
    """The carts that are not counted, by why."""
    ordered = sorted(since.gone, key=lambda one: (list(Gone).index(one.why), one.case.start, one.case.number))
    return grouped(
        (
            f"moved to {found.clock.day_text(one.to)}" if one.to else one.why.value,
            _slot(found, one.case) + (f" ({one.state})" if one.state else ""),
        )
        for one in ordered
    )


def _slot(found: Lookup, case: Case) -> str:
    return f"{case.number} in {case.room} {found.when(case.start)}"


def _moved(found: Lookup, was: Case, now: Case) -> str:
    """What of a case is another one now."""
    named = was.number if was.number == now.number else f"{was.number}, now {now.number}"
    if (was.room, was.start) != (now.room, now.start):
        return f"{named}: now in {now.room} {found.when(now.start)}, planned in {was.room} {found.when(was.start)}"
    parts = {
        "surgeon": was.surgeon != now.surgeon,
        "procedures": was.procedures != now.procedures,
        "side": was.side is not now.side,
        "alerts": was.alerts != now.alerts,
    }
    what = wording.listed(name for name, other in parts.items() if other)
    return f"{named}: another {what}" if what else named


def _of_plan(found: Lookup, points: OpenPoints) -> str:
    """Of which hour the page's times are: nobody has reported what a set did since the plan was made."""
    plan = found.plan
    if minutes_between(plan.now, points.at) < 1:
        return ""
    return (
        f"Times come from the plan of {found.clock.stamp(plan.now)}, revision {plan.revision}, "
        f"made {wording.span(minutes_between(plan.now, points.at))} before this page. PAST: due before "
        f"{found.clock.stamp(points.at)}; check whether it was done. Build again for current times."
    )


def _thing(found: Lookup, one: MissingPoint) -> str:
    person = f" for {found.person(one.need.person)}" if one.need.person else ""
    told = f" (reported by {one.who})" if one.source is KnownFrom.CREW and one.who else ""
    told = " (reported by the crew)" if one.source is KnownFrom.CREW and not one.who else told
    stood = f"; stand-in: {', '.join(found.item(part) for part in one.stood_in.split(', '))}" if one.stood_in else ""
    return f"{one.name}{person}: {wording.open_and_hold(one.open, one.hold)}{stood}{told}{_said(found, one.said)}"


def _said(found: Lookup, said: Decision | None) -> str:
    """What was decided about a missing thing, and who was informed when."""
    if said is None:
        return ""
    parts = ((said.decided, "decided"), (informed(found, said), "informed"))
    return "".join(f"; {name}: {text}" for text, name in parts if text)


def _carts(carts: Sequence[CartPoint], at: datetime) -> tuple[CartsRow, ...]:
    states = grouped((one.state, f"{one.case} (PAST)" if one.by < at else one.case) for one in carts)
    return tuple(CartsRow(state, some) for state, some in states.items())


def _candidates(question: MatchQuestion) -> str:
    return " or ".join([*(one.old_case for one in question.candidates), "a new case"])


def _put_backs(lines: Iterable[PutBack]) -> tuple[tuple[str, str], ...]:
    """What is to be put back of each cart: its sets by name, all else counted."""
    carts = grouped((one.case, one) for one in lines)
    return tuple((case, _off_one_cart(some)) for case, some in carts.items())


def _off_one_cart(lines: Sequence[PutBack]) -> str:
    sets = [f"{one.set_id} to cart {one.to_cart}" if one.to_cart else one.set_id for one in lines if one.set_id]
    rest = sum(one.quantity for one in lines if not one.set_id)
    still = " (still on the cart)" if any(one.is_to_come for one in lines) else ""
    return ", ".join([*sets, wording.counted(rest, "other item")] if rest else sets) + still
