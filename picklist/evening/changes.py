"""What changes from one plan to the next, cart by cart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from picklist.evening.content import Content, PieceLine, Remark, Short
from picklist.evening.details import Detail
from picklist.evening.match import CaseMatch, MatchNote
from picklist.model.built import BuiltCart
from picklist.model.known import CartReport, MatchQuestion
from picklist.model.schedule import Case


class CartChangeKind(StrEnum):
    """What becomes of a cart's list.

    ASKED: an open question decides whether it is a new cart. OVER: its case is done, so that nothing
    comes off it here; what was used is reported the day after. UNREAD: it may still be on the schedule, in a row or
    file that cannot be read, so that its cart is left as it is.
    """

    UNCHANGED = "unchanged"
    CHANGED = "changed"
    NEW = "new"
    CANCELLED = "cancelled"
    STOPPED = "stopped"
    ASKED = "ask first"
    OVER = "over"
    UNREAD = "unreadable"


PRINTED = frozenset({CartChangeKind.CHANGED, CartChangeKind.NEW, CartChangeKind.STOPPED})
NOT_ON_THE_PLAN = frozenset({CartChangeKind.CANCELLED, CartChangeKind.OVER, CartChangeKind.UNREAD})


@dataclass(frozen=True, slots=True, kw_only=True)
class ListInHand:
    """The last list of a cart that was printed with things on it; ``number`` is its case's then.

    ``short`` is what it asks for beside that, and no shelf gave. ``case`` is what the list says of the case, under the
    name by which the cart is kept.
    """

    revision: int
    content: Content
    short: Short = field(default_factory=Counter)
    number: str = ""
    case: Case | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CartChange:
    """What a new plan means for one cart.

    ``case`` is its number now (its old one when it is cancelled), ``old_case`` its number before.
    ``revision`` is that of the list that counts from now on and ``replaces`` the one it takes the
    place of; an unchanged cart keeps its list. ``still_missing`` was reported missing and is still
    wanted. ``takes_back``: what the former list asked beside, and nobody reported as done, is not to be done any
    more. ``reasons`` say why a built cart must change. ``moved_to`` is another day of the case. ``report`` is the
    crew's, as it holds once the change is carried out.
    """

    kind: CartChangeKind
    case: str
    old_case: str
    revision: int
    replaces: int | None
    made: datetime
    built: bool = False
    started: bool = False  # reported as started, not as built
    built_from: int | None = None  # the list that its report speaks of
    waits: tuple[str, ...] = ()  # the sets that a built cart was still to get
    state: str = ""  # how far it is, in words; empty when nothing was reported
    add: tuple[PieceLine, ...] = ()
    take_off: tuple[PieceLine, ...] = ()
    remarks: tuple[Remark, ...] = ()
    still_missing: tuple[PieceLine, ...] = ()
    details: tuple[Detail, ...] = ()
    whereabouts: tuple[Detail, ...] = ()
    reasons: tuple[str, ...] = ()
    takes_back: bool = False
    moved_to: date | None = None
    report: BuiltCart | None = None

    @property
    def is_live(self) -> bool:
        """Whether it is of a cart of the new plan: a number may stand for a gone or doubtful case as well."""
        doubtful = self.kind is CartChangeKind.ASKED and self.old_case != ""
        return not (doubtful or self.kind in NOT_ON_THE_PLAN)

    @property
    def stands(self) -> bool:
        """Whether there is a cart with things on it, as far as the crew reported."""
        return self.built or self.started

    @property
    def finished(self) -> bool:
        """Whether it is built from the list that counts from now on, and waits for no tray."""
        return self.built and not self.waits and (self.built_from or 0) >= self.revision

    @property
    def since_report(self) -> bool:
        """Whether a list that came after its report asked for changes before this one, or asks for them still."""
        last = self.revision if self.kind is CartChangeKind.UNCHANGED else self.replaces
        return last is not None and self.built_from is not None and self.built_from < last

    @property
    def is_open(self) -> bool:
        """Whether its list stays, and what that asks of it is not reported as done."""
        return self.kind is CartChangeKind.UNCHANGED and self.has_work

    @property
    def has_work(self) -> bool:
        """Whether something goes on or off the cart, or must be marked otherwise."""
        return bool(self.add or self.take_off or self.remarks)

    @property
    def prints(self) -> bool:
        """Whether this cart's list is printed again."""
        return self.kind in PRINTED or (self.kind is CartChangeKind.ASKED and bool(self.add))


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanChange:
    """A plan against the one it replaces; carts by start of the case, cancelled ones last.

    ``old_cases`` are those of the plan it replaces, for papers that name a cancelled case. ``renumbered``: the new
    numbers, by the old ones, of cases that no list of the day was for.
    """

    day: date
    old_revision: int | None
    revision: int
    made: datetime
    carts: tuple[CartChange, ...]
    match: CaseMatch
    old_cases: tuple[Case, ...] = ()
    renumbered: Mapping[str, str] = field(default_factory=dict)

    @property
    def cancelled(self) -> tuple[str, ...]:
        """The cases that are gone from the plan."""
        return tuple(cart.case for cart in self.carts if cart.kind is CartChangeKind.CANCELLED)

    @property
    def unread(self) -> tuple[str, ...]:
        """The cases that may stand on the part of the schedule that cannot be read."""
        return tuple(cart.case for cart in self.carts if cart.kind is CartChangeKind.UNREAD)

    @property
    def questions(self) -> tuple[MatchQuestion, ...]:
        """What must be asked before the carts concerned are touched."""
        return self.match.questions

    @property
    def notes(self) -> tuple[MatchNote, ...]:
        """Renumbered cases, reused numbers, renamed rooms, split and joined cases."""
        return self.match.notes

    def reports(self) -> dict[str, CartReport]:
        """The carts of the new plan of which something was reported, by case; one that changes is not finished."""
        return {
            one.case: CartReport(state=one.state, finished=one.finished)
            for one in self.carts
            if one.is_live and one.state
        }

    def old_case(self, number: str) -> Case | None:
        """A case of the plan that this one replaces."""
        return next((case for case in self.old_cases if case.number == number), None)

    def of_live(self, case: str) -> CartChange | None:
        """The change of a cart of the new plan."""
        return next((cart for cart in self.carts if cart.case == case and cart.is_live), None)

    def names_kept(self) -> dict[str, str]:
        """Under which name each case of the former lists is kept from now on: its number, as it is now.

        A longer name, for a gone or doubtful case whose number another one has.
        """
        live = {cart.case: cart.old_case for cart in self.carts if cart.is_live}
        now = {old: case for case, old in live.items() if old}
        others = (*self.match.asked_old, *self.match.cancelled, *self.match.over, *self.match.unread)
        return {key: f"{key} (list {self.old_revision})" if key in live else key for key in others} | now

    def lists_from(self, revision: int) -> tuple[str, ...]:
        """The cases of the new plan whose list is of this revision or a later one."""
        return tuple(cart.case for cart in self.carts if cart.is_live and cart.revision >= revision)

    def to_print(self) -> tuple[str, ...]:
        """The cases whose lists are printed anew with the new plan."""
        return self.lists_from(self.revision)
