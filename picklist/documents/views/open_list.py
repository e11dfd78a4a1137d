"""Everything that is open in one list, in the order of time: for the evening's sheet, the page and the library."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from picklist import wording
from picklist.documents.views.conflict_lines import amount
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.evening.open_points import DecisionPoint, KnownFrom, MissingPoint, OpenPoints
from picklist.grouping import grouped
from picklist.model.cards import ThingKind
from picklist.model.known import Decision, PutBack, Seen, shortage_key
from picklist.wording import say_decisions as words
from picklist.wording.say_remedies import none_noted

HOLD, PUT_BACK, QUESTION, ENTER = "ON HOLD", "PUT BACK", "QUESTION", "TO SCHEDULE"


@dataclass(frozen=True, kw_only=True)
class OpenRow(View):
    """One thing that is open: until when it helps to act, what it is, and what was said of it.

    ``about`` is the key under which a decision on it is recorded, where there can be one.
    """

    by: str
    past: bool
    kind: str
    case: str
    what: str
    note: str
    about: str = ""


Due = tuple[datetime | None, OpenRow]


def open_list(found: Lookup, points: OpenPoints) -> tuple[OpenRow, ...]:
    """Conflicts to decide, decisions to enter, shortages, carts on hold, questions and put-backs, soonest first."""
    return tuple(row for _, row in open_by_time(found, points))


def open_by_time(found: Lookup, points: OpenPoints) -> tuple[Due, ...]:
    """The same, each with the instant until which it helps to act; None: whenever there is time."""
    maker = _Rows(found=found, points=points)
    rows = (*maker.decisions(), *maker.lacks(), *maker.holds(), *maker.questions(), *maker.put_backs())
    return _soonest_first(rows, points.at)


def decisions_by_time(found: Lookup, points: OpenPoints) -> tuple[OpenRow, ...]:
    """Of the same list the conflicts to decide and the decisions that the schedule does not show yet."""
    return tuple(row for _, row in _soonest_first(_Rows(found=found, points=points).decisions(), points.at))


def _soonest_first(rows: Iterable[Due], at: datetime) -> tuple[Due, ...]:
    return tuple(sorted(rows, key=lambda due: (due[0] is None, due[0] or at, due[1].kind, due[1].case, due[1].what)))


@dataclass(frozen=True, slots=True)
class _Rows:
    found: Lookup
    points: OpenPoints

    def _row(self, at: datetime | None, kind: str, case: str, what: str, note: str = "", about: str = "") -> Due:
        by, past = self.found.when(at) if at else "", at is not None and at < self.points.at
        return at, OpenRow(by=by, past=past, kind=kind, case=case, what=what, note=note, about=about)

    def decisions(self) -> Iterator[Due]:
        for kind, some in (("", self.points.decisions), (ENTER, self.points.to_enter)):
            yield from (self._decision(one, kind) for one in some)

    def _decision(self, one: DecisionPoint, kind: str) -> Due:
        conflict, number = one.conflict, len(one.conflict.remedies)
        tray, much = self.found.tray_wanted(conflict), amount(conflict)
        remedies = wording.counted(number, "remedy", "remedies") if number else none_noted(self.found.plan.search)
        return self._row(
            conflict.decide_by,
            kind or conflict.kind.value.upper(),
            self.found.case_in_room(conflict.waiter),
            f"{tray}: {much}" if much else tray,
            self._said(one.said) or remedies,
            one.key,
        )

    def _said(self, said: Decision | None) -> str:
        """The last word, what became of it and who was informed; empty when nothing was said."""
        if said is None:
            return ""
        parts = (said.decided, became_of(self.found, said, stands=True), informed(self.found, said))
        named = ("decided", "", "informed")
        return "; ".join(f"{name}: {part}" if name else part for name, part in zip(named, parts, strict=True) if part)

    def lacks(self) -> Iterator[Due]:
        """What cases lack; a tray without a set is among the conflicts already, and what is decided is not open.

        A conflict says nothing of a set that the crew did not find.
        """
        in_conflict = {(one.waiter, one.tray) for one in self.found.plan.conflicts}
        for one in self.points.missing:
            without_set = one.need.kind is ThingKind.TRAY and one.source is KnownFrom.PLAN
            known = without_set and (one.case, one.need.thing) in in_conflict
            if not known and not (one.said and one.said.is_settled):
                yield self._lack(one)

    def _lack(self, one: MissingPoint) -> Due:
        person = f" for {self.found.person(one.need.person)}" if one.need.person else ""
        what = f"{one.name}{person}: {wording.open_and_hold(one.open, one.hold)}"
        who = (f"reported by {one.who}" if one.who else str(one.source)) if one.source is KnownFrom.CREW else ""
        is_tray = one.need.kind is ThingKind.TRAY
        about = "" if is_tray else shortage_key(one.need.thing, one.case)
        kind = "MISSING" if one.source is KnownFrom.CREW else "NO SET" if is_tray else "NO STOCK"
        return self._row(one.by, kind, self.found.case_in_room(one.case), what, self._said(one.said) or who, about)

    def holds(self) -> Iterator[Due]:
        for cart in self.points.stopped:
            yield self._row(cart.by, HOLD, self.found.case_in_room(cart.case), cart.state)
        for one in self.points.unplaced:
            yield self._row(None, HOLD, ", ".join(one.cases), one.sentence())

    def questions(self) -> Iterator[Due]:
        for one in self.points.questions:
            others = " or ".join(candidate.old_case for candidate in one.candidates)
            what = f"Is it the former {others}, or a new case?"
            case = self.found.case_in_room(one.new_case) if one.new_case in self.found.cases else one.new_case
            yield self._row(self._due(one.new_case), QUESTION, case, what, "leave both carts alone until answered")

    def put_backs(self) -> Iterator[Due]:
        """By cart: what goes onto another cart by when that one must be complete, the rest whenever there is time."""
        groups = grouped(((one.case, one.to_cart), one) for one in self.points.put_backs)
        for (case, to_cart), lines in groups.items():
            what = f"onto cart {to_cart}: {_things(lines)}" if to_cart else _things(lines)
            yield self._row(self._due(to_cart), PUT_BACK, case, what)

    def _due(self, case: str) -> datetime | None:
        cart = self.found.plan.cart(case)
        return cart.complete_by if cart else None


def _things(lines: Sequence[PutBack]) -> str:
    """Sets by name, the rest counted."""
    sets = [one.set_id for one in lines if one.set_id]
    rest = sum(one.quantity for one in lines if not one.set_id)
    return ", ".join([*sets, wording.counted(rest, "other item" if sets else "item")] if rest else sets)


def became_of(found: Lookup, said: Decision, *, stands: bool) -> str:
    """Since when a decision is in the schedule, or that it is not, or no longer; ``stands``: so does its conflict."""
    then = words.renumbered(said.number_then) if said.decided and said.number_then else ""
    return wording.joined(_shown(found, said, stands=stands), then)


def _shown(found: Lookup, said: Decision, *, stands: bool) -> str:
    """What the plans show of a decision; empty where there is nothing to say."""
    by_moves = bool(said.moves)
    if said.since:
        return words.carried_out(_plan(found, said.since), by_moves=by_moves, stands=stands)
    if said.undone:
        return words.not_kept(_plan(found, said.undone), stands=stands)
    return words.waiting(by_moves=by_moves, stands=stands) if said.decided else ""


def informed(found: Lookup, said: Decision) -> str:
    """``ward 4, 19:12``: who was informed and when; empty when nobody is named."""
    return f"{said.told}, {found.when(said.told_at or said.at)}" if said.told else ""


def _plan(found: Lookup, seen: Seen) -> str:
    return words.of_revision(seen.revision, seen.plan_day, found.day)
