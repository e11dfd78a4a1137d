"""What is known of an evening beside its plan: carts reported, decisions, questions and what is to be put back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from picklist.model.built import BuiltCart
from picklist.model.conflicts import Conflict
from picklist.model.plan import Cart, Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class CartReport:
    """What is known of a cart: in words, and whether it is built from the list that counts and waits for nothing."""

    state: str
    finished: bool


NO_REPORTS: Mapping[str, CartReport] = {}


STOCK = "stock/"  # how the key of a shortage begins


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """Where a decision puts a case: its room and start, no start when it is cancelled."""

    case: str
    room: str
    start: datetime | None

    @property
    def place(self) -> tuple[str, datetime] | None:
        """Its room and start; None for a cancelled case, which a plan does not have."""
        return (self.room, self.start) if self.start else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """The plan that showed a decision carried out, or showed it no longer (``arrived``)."""

    plan_day: date
    revision: int
    arrived: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What was said last about a conflict or a shortage (``about`` is its key); nothing ``decided`` leaves it open.

    ``told`` since ``told_at``; ``matter`` is what it is about, in words. ``moves`` are the places of cases by which
    a plan shows the decision carried out; without any it is the conflict that must be gone. ``seen``: the plans
    that showed it first, or first no longer, in their order.
    """

    about: str
    decided: str
    told: str
    by: str
    at: datetime
    case_day: date | None = None
    told_at: datetime | None = None
    matter: str = ""
    moves: tuple[Move, ...] = ()
    seen: tuple[Seen, ...] = ()

    @property
    def number_then(self) -> str:
        """The number of its case when it was said, where the case has another one now; else empty."""
        _kind, _, rest = self.matter.partition(", ")
        then = rest.partition(": ")[0].partition(" in ")[0]
        return "" if not then or self.about.endswith(f"/{then}") else then

    @property
    def since(self) -> Seen | None:
        """The plan since which it is carried out; None when it is not."""
        return self.seen[-1] if self.seen and self.seen[-1].arrived else None

    @property
    def undone(self) -> Seen | None:
        """The plan that no longer shows it carried out, though an earlier one did."""
        return self.seen[-1] if self.seen and not self.seen[-1].arrived else None

    @property
    def is_settled(self) -> bool:
        """Whether nobody needs to decide: something is decided, and no later plan has undone it."""
        return bool(self.decided) and self.undone is None

    @property
    def to_enter(self) -> bool:
        """Whether somebody must still put what was decided into the schedule."""
        return self.is_settled and bool(self.moves) and self.since is None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortItem:
    """An item that no shelf can give a case: how many, open and hold, and what may stand in with how many there are."""

    about: str
    case: str
    item: str
    name: str
    open: int
    hold: int
    stand_ins: tuple[tuple[str, int], ...]


def conflict_key(conflict: Conflict) -> str:
    """A name for a conflict that the next plan gives it again while it stands; it ends with the case."""
    copy = f" copy {conflict.copy}" if conflict.copy > 1 else ""
    asked = f" for {conflict.asked}" if conflict.asked else ""
    return f"{conflict.kind.value}/{conflict.tray}{copy}{asked}/{conflict.waiter}"


def shortage_key(item: str, case: str) -> str:
    """A name for what a case lacks of an item, whatever the number."""
    return f"{STOCK}{item}/{case}"


def conflicts_by_key(plan: Plan) -> dict[str, Conflict]:
    """Every conflict of a plan by its key."""
    return {conflict_key(one): one for one in plan.conflicts}


def short_items(plan: Plan) -> dict[str, ShortItem]:
    """What the shelves cannot give to the carts of a plan, by key, in the order of the carts."""
    return {one.about: one for cart in plan.carts if not cart.stopped for one in _short_on(cart)}


def _short_on(cart: Cart) -> Iterator[ShortItem]:
    for item, of_item in cart.goods_by_thing.items():
        lines = [line for line in of_item if line.is_short]
        if not lines:
            continue
        yield ShortItem(
            about=shortage_key(item, cart.case.number),
            case=cart.case.number,
            item=item,
            name=lines[0].need.name or item,
            open=sum(line.short_open for line in lines),
            hold=sum(line.short_hold for line in lines),
            stand_ins=tuple(dict.fromkeys(one for line in lines for one in line.stand_ins)),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PutBack:
    """Something to put back on its shelf, or onto another cart; ``done_at`` None until somebody reports it done.

    ``id`` is 0 of what no build has asked for yet: its case is gone from the schedule since.
    """

    id: int
    revision: int
    case: str
    kind: str
    thing: str
    set_id: str
    lot: str
    quantity: int
    home: str
    to_cart: str
    done_at: datetime | None = None
    done_by: str = ""

    @property
    def is_to_come(self) -> bool:
        """Whether no build has asked for it yet."""
        return self.id == 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """An old case that a new one may be, with what agrees and what differs in words of the schedule."""

    old_case: str
    score: int
    agrees: tuple[str, ...]
    differs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchQuestion:
    """Is ``new_case`` one of these old cases, or none of them? Best candidate first."""

    new_case: str
    candidates: tuple[Candidate, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known beside the plan: facts by case number, the list that counts for each case, decisions.

    ``decided`` holds the last word on each conflict and shortage, by its key; ``questions`` are those about
    renumbered cases that nobody answered, ``put_backs`` what is still to be put back.
    """

    built: Mapping[str, BuiltCart]
    revisions: Mapping[str, int]
    decided: Mapping[str, Decision]
    questions: Sequence[MatchQuestion] = ()
    put_backs: Sequence[PutBack] = ()


NOTHING_KNOWN = Known(built={}, revisions={}, decided={})


Value = str | int | date | None  # a date may have its time


@dataclass(frozen=True, slots=True, kw_only=True)
class TableChange:
    """A cell of a site's table that changes: ``key`` are the values of the table's key columns.

    Times are wall times, as the table holds them.
    """

    table: str
    key: tuple[str, ...]
    column: str
    was: Value
    becomes: Value
    why: str
