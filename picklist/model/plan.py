"""The plan: one plain object that every document is drawn from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from picklist.grouping import grouped
from picklist.letters import natural_key
from picklist.model.catalogue import Item, Place, Tray
from picklist.model.conflicts import Cluster, Conflict, conflicts_in
from picklist.model.department import ChanceReport, DepartmentRun
from picklist.model.needs import CaseNeeds, Need
from picklist.model.schedule import ONE_SIDE, SIDED, Case, Side, StaffMember
from picklist.model.sets import InstrumentSet
from picklist.model.supply import ItemShortage, Pick
from picklist.model.uses import Assignment, Pace, Reuse
from picklist.problems import Problem
from picklist.settings import Settings

PLAN_VERSION = 1  # of the form in which plans are kept; a plan of another one is not read


class RemedySearch(StrEnum):
    """Whether remedies of a plan's conflicts were sought."""

    DONE = "done"
    GOING_ON = "going on"
    LEFT_OUT = "left out"


@dataclass(frozen=True, slots=True, kw_only=True)
class GiveBack:
    """A set that this case must give back: the two deadlines, for whom, and the minutes to spare at a pace."""

    leave_room_by: datetime
    reach_decontamination_by: datetime
    for_case: str
    slack: int
    pace: Pace = Pace.USUAL


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayLine:
    """A tray on a cart. ``place_now`` is where the set is at the time of planning, in words.

    ``copy`` numbers the sets of one tray over all of the case's lines; ``on_hold``: this copy stays
    unopened until asked for; ``in_hand``: the case runs and has the set already; ``not_stated``: what
    the sheets leave open about the tray or its sets, and what to do about it; ``end_not_recorded``: the
    set comes from a shelf, and nothing says until when its record of sterility holds. ``pace``: at which
    the set is ready when ``expected`` says; None where it only has to be fetched or comes from elsewhere.
    ``conflicts`` are its own: what it lacks or risks. ``awaited_by``: cases that go without until it is back.
    """

    need: Need
    copy: int
    name: str
    container: bool
    count_sheet: bool
    weight_lb: float | None
    set_id: str
    stand_in_for: str
    place_now: str
    recorded: datetime | None
    expected: datetime | None
    needed: datetime
    give_back: GiveBack | None
    conflicts: tuple[str, ...]
    on_hold: bool = False
    in_hand: bool = False
    not_stated: tuple[str, ...] = ()
    end_not_recorded: bool = False
    pace: Pace | None = None
    awaited_by: tuple[str, ...] = ()

    @property
    def key(self) -> tuple[str, int]:
        """Tray and copy: what reports call the line by."""
        return self.need.thing, self.copy

    @property
    def name_with_side(self) -> str:
        """The tray's name, with left or right where it has a side."""
        side = self.need.side
        return f"{self.name}, {side}" if side in ONE_SIDE else self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class SundryLine:
    """An item on a cart with the lots it is picked from; ``short_*`` is what no shelf can give."""

    need: Need
    unit: str
    picks: tuple[Pick, ...]
    short_open: int
    short_hold: int
    stand_ins: tuple[tuple[str, int], ...] = ()

    @property
    def is_short(self) -> bool:
        """Whether the shelves cannot give all of it."""
        return bool(self.short_open or self.short_hold)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cart:
    """Everything one case's cart must hold; nothing but the reasons when ``stopped``."""

    case: Case
    surgeon_name: str
    procedure_names: tuple[str, ...]
    side: Side | None
    complete_by: datetime
    needs: CaseNeeds
    trays: tuple[TrayLine, ...]
    packs: tuple[SundryLine, ...]
    sundries: tuple[SundryLine, ...]
    peel_packs: tuple[SundryLine, ...]
    people: tuple[SundryLine, ...]
    room_checks: tuple[Need, ...]
    implants: tuple[Need, ...]
    reference_only: tuple[Need, ...]
    stopped: tuple[Problem, ...] = ()

    @property
    def goods(self) -> tuple[SundryLine, ...]:
        """Every line that is picked from stock: packs, then the loose goods."""
        return (*self.packs, *self.loose_goods)

    @property
    def loose_goods(self) -> tuple[SundryLine, ...]:
        """What is picked from stock beside the packs: sundries, peel packs, then gloves and gowns."""
        return (*self.sundries, *self.peel_packs, *self.people)

    @property
    def goods_by_thing(self) -> dict[str, list[SundryLine]]:
        """What is picked from stock, thing by thing in the order of the list, for whomever it is."""
        return grouped((line.need.thing, line) for line in self.goods)

    def asked(self, thing: str, person: str = "") -> int:
        """How many of a thing from stock its list asks for, open and hold together."""
        lines = (
            one.need for one in self.goods if one.need.thing == thing and (not person or one.need.person == person)
        )
        return sum(need.open + need.hold for need in lines)

    @property
    def is_sided(self) -> bool:
        """Whether the case is stated to be left, right or both."""
        return self.side in SIDED


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The whole plan: carts of ``day``, and sets, conflicts and department over the horizon."""

    version: int
    day: date
    now: datetime
    revision: int
    replaces: int | None
    settings: Settings
    carts: tuple[Cart, ...]
    cases: tuple[Case, ...]  # of the horizon, live ones
    assignments: tuple[Assignment, ...]
    reuses: tuple[Reuse, ...]
    clusters: tuple[Cluster, ...]
    shortages: tuple[ItemShortage, ...]
    department: DepartmentRun | None
    chance: ChanceReport | None
    sets: tuple[InstrumentSet, ...]
    trays: tuple[Tray, ...]
    items: tuple[Item, ...]  # those on a cart
    places: tuple[Place, ...]
    problems: tuple[Problem, ...]
    staff: tuple[StaffMember, ...] = ()  # those at a table of the horizon
    remedies_sought: bool = True
    being_completed: bool = False  # its lists are handed out, its remedies and chances are still being sought
    lists_from: int | None = None  # its own revision, or the first of those before it that were never completed
    unplaced: tuple[Problem, ...] = ()  # they stop cases whose day, room or start nobody can read
    left_alone: tuple[str, ...] = ()  # cases with lists in hand that a row or file nobody can read may still hold
    uncounted: tuple[str, ...] = ()  # cases of the horizon that are stopped: no tray of theirs is given or in conflict

    @property
    def conflicts(self) -> tuple[Conflict, ...]:
        """All conflicts, cluster by cluster."""
        return conflicts_in(self.clusters)

    @property
    def search(self) -> RemedySearch:
        """How far the search for remedies and chances is."""
        if self.being_completed:
            return RemedySearch.GOING_ON
        return RemedySearch.DONE if self.remedies_sought else RemedySearch.LEFT_OUT

    @property
    def first_new(self) -> int:
        """The revision from which on lists are new with this plan; none of them came with a completed one."""
        return self.revision if self.lists_from is None else self.lists_from

    @property
    def lists_until_next(self) -> int | None:
        """From which revision on the lists stay new in the plan after it; None where this one is complete."""
        return self.first_new if self.being_completed else None

    def cart(self, case: str) -> Cart | None:
        """The cart of a case of the day."""
        return next((one for one in self.carts if one.case.number == case), None)

    def may_serve(self, tray: str) -> tuple[str, ...]:
        """The tray itself, then those that may stand in for it."""
        return (tray, *(one.tray for known in self.trays if known.id == tray for one in known.stand_ins))


def in_order_of_completion(carts: tuple[Cart, ...]) -> tuple[Cart, ...]:
    """The carts by when they must be complete, then room and case as people read them."""

    def key(cart: Cart) -> tuple[datetime, object, object]:
        room, number = natural_key(cart.case.room), natural_key(cart.case.number)
        return (cart.complete_by, room, number)

    return tuple(sorted(carts, key=key))
