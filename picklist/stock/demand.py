"""What planned cases need from stock, and what each has been given so far."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from picklist.letters import NaturalKey, natural_key
from picklist.model.cards import ThingKind
from picklist.model.catalogue import PICKED
from picklist.model.needs import CaseNeeds, Need
from picklist.model.schedule import Case, CaseStatus
from picklist.model.supply import Pick
from picklist.stock.shelf import LotLeft


@dataclass(slots=True, kw_only=True)
class Demand:
    """A need of one case for one item or pack, what is granted of it, and what is taken for it, lot by lot.

    ``standing_open`` and ``standing_hold`` are what a built cart holds of it already.
    """

    case: Case
    need: Need
    number: int
    open: int = 0
    hold: int = 0
    standing_open: int = 0
    standing_hold: int = 0
    taken: list[DrawnPicks] = field(default_factory=list)

    @property
    def to_draw(self) -> tuple[int, int]:
        """Open and hold that are granted and not on a built cart."""
        return self.open - self.standing_open, self.hold - self.standing_hold

    @property
    def in_day(self) -> tuple[datetime, NaturalKey, int]:
        """Where the demand is in the day: by start, then case number, then line."""
        return self.case.start, natural_key(self.case.number), self.number

    @property
    def when_scarce(self) -> tuple[int, datetime, NaturalKey, int]:
        """Where the demand stands when there is not enough: by priority, then as in the day."""
        return -self.case.priority, *self.in_day

    def picks(self) -> list[Pick]:
        """The demand's picks, what is on a cart first, then in the order of the shelf."""
        return [
            Pick(
                case=self.case.number,
                item=self.need.thing,
                lot=taken.source.lot.lot,
                place=taken.source.lot.place,
                expiry=taken.source.lot.expiry,
                open=taken.open,
                hold=taken.hold,
                person=self.need.person,
                where=taken.source.lot.where,
            )
            for taken in self.taken
        ]


@dataclass(slots=True, kw_only=True, eq=False)
class DrawnPicks:
    """What one demand takes from one lot."""

    demand: Demand
    source: LotLeft
    open: int = 0
    hold: int = 0

    @property
    def quantity(self) -> int:
        """Open and hold together."""
        return self.open + self.hold


def find_demands(case_needs: Iterable[CaseNeeds], cases: Iterable[Case]) -> list[Demand]:
    """Every need of a planned case that is picked from stock, in day order.

    Running cases have their things already; done and cancelled ones want none.
    """
    planned = {case.number: case for case in cases if case.status is CaseStatus.PLANNED}
    served = [(planned[one.case], one) for one in case_needs if one.case in planned and not one.stopped]
    served.sort(key=lambda pair: (pair[0].day, pair[0].start, natural_key(pair[0].number)))
    return [
        Demand(case=case, need=need, number=number)
        for case, one in served
        for number, need in enumerate(one.needs)
        if is_from_stock(need)
    ]


def is_from_stock(need: Need) -> bool:
    """Whether a need is picked from lots: packs and picked items, not trays, checks or references."""
    if not (need.open or need.hold):
        return False
    return need.item_class in PICKED or need.kind is ThingKind.PACK
