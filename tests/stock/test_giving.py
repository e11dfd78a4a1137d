"""Lots for the day's cases: earliest expiry, open before hold, priority, keep back, few lots."""

from __future__ import annotations

from datetime import date

import pytest

from picklist.model.cards import ThingKind
from picklist.model.catalogue import Item, ItemClass, Place
from picklist.model.expiry import Expires
from picklist.model.needs import CaseNeeds, Need
from picklist.model.schedule import CaseStatus
from picklist.problems import NOWHERE, Problem, Severity
from picklist.stock import give_stock
from tests.builders import utc_settings
from tests.stock.shelves import days_on, give, lacking, lot, needs_of, on, picked, want


def test_that_the_lot_that_expires_first_goes_first_wherever_it_lies() -> None:
    lots = [lot("LATER", 5, "2027-03-31", "A-1"), lot("SOONER", 2, "2027-01-31", "Z-9"), lot("NEVER", 9)]
    assert picked(give(lots, [on("C1")], [want("C1", "3/0")])) == {"C1 SOONER": "2/0", "C1 LATER": "1/0"}


@pytest.mark.parametrize(
    ("expires", "counts", "answer"),
    [
        ("2026-11-26", True, {"C1 L": "1/0"}),
        ("2026-11-26", False, {}),
        ("2026-11-27", False, {"C1 L": "1/0"}),
        ("2026-11-25", True, {}),
    ],
)
def test_that_the_last_day_counts_only_where_the_site_says_so(
    expires: str, counts: bool, answer: dict[str, str]
) -> None:
    result = give([lot("L", 1, expires)], [on("C1")], [want("C1", "1/0")], expiry_day_counts=counts)
    assert picked(result) == answer


def test_that_expiry_is_of_the_day_of_the_case_not_of_the_picking() -> None:
    lots = [lot("SOON", 2, days_on(1)), lot("LATE", 2, days_on(30))]
    cases = [on("C1", day=0), on("C3", day=2)]
    result = give(lots, cases, [want("C1", "1/0"), want("C3", "2/0")])
    assert picked(result) == {"C1 SOON": "1/0", "C3 LATE": "2/0"}


def test_that_a_lot_of_the_leap_day_serves_on_it_and_no_longer() -> None:
    leap = lot("LEAP", 2, "2028-02-29")
    on_it = on("C1", day=0)
    assert picked(give([leap], [on_it], [want("C1", "1/0")])) == {"C1 LEAP": "1/0"}
    leap_day = (date(2028, 2, 29) - on_it.day).days
    assert picked(give([leap], [on("C2", day=leap_day)], [want("C2", "1/0")])) == {"C2 LEAP": "1/0"}
    assert lacking(give([leap], [on("C3", day=leap_day + 1)], [want("C3", "1/0")])) == {"C3": "1/0"}


def test_that_a_lot_without_a_recorded_expiry_is_used_last() -> None:
    lots = [lot("UNSAID", 2, ""), lot("NEVER", 2, "never"), lot("SOON", 1, days_on(30))]
    result = give(lots, [on("C1")], [want("C1", "4/0")])
    assert picked(result) == {"C1 SOON": "1/0", "C1 NEVER": "2/0", "C1 UNSAID": "1/0"}
    assert [pick.expiry for pick in result.picks] == [days_on(30), Expires.NEVER, None]


def test_that_a_stand_in_without_a_recorded_expiry_is_named_as_such() -> None:
    items = [Item(id="suture", name="Suture", substitutes=("other", "third")), Item(id="other", name="Other")]
    items.append(Item(id="third", name="Third"))
    lots = [lot("O", 2, "", item="other"), lot("T", 2, "never", item="third")]
    (shortage,) = give(lots, [on("C1")], [want("C1", "1/0")], items=items).shortages
    assert (shortage.stand_ins, shortage.undated) == ((("other", 2), ("third", 2)), ("other",))


def test_that_every_open_of_the_day_comes_before_any_hold() -> None:
    cases = [on("C1", "07:30"), on("C2", "13:00")]
    result = give([lot("L", 3, "2027-01-31")], cases, [want("C1", "1/2"), want("C2", "2/0")])
    assert picked(result) == {"C1 L": "1/0", "C2 L": "2/0"}
    assert lacking(result) == {"C1": "0/2"}


def test_that_tomorrow_comes_before_the_day_after() -> None:
    result = give([lot("L", 2)], [on("C1", day=0), on("C2", day=1)], [want("C1", "1/1"), want("C2", "1/0")])
    assert picked(result) == {"C1 L": "1/1"}
    assert lacking(result) == {"C2": "1/0"}


def test_that_the_greater_priority_is_served_first_and_then_the_earlier_start() -> None:
    cases = [on("C1", "07:30"), on("C2", "09:00"), on("C3", "12:00", priority=5)]
    needs = [want("C1", "1/0"), want("C2", "1/0"), want("C3", "1/0")]
    result = give([lot("L", 2)], cases, needs)
    assert picked(result) == {"C1 L": "1/0", "C3 L": "1/0"}
    assert lacking(result) == {"C2": "1/0"}


def test_that_what_is_kept_back_is_not_promised() -> None:
    kept = Item(id="suture", name="Suture", keep_back=2)
    result = give([lot("L", 5)], [on("C1")], [want("C1", "4/0")], items=[kept])
    assert picked(result) == {"C1 L": "3/0"}
    (shortage,) = result.shortages
    assert (shortage.wanted, shortage.on_hand, shortage.kept_back, shortage.expired) == (4, 5, 2, 0)


def test_that_only_what_may_still_be_used_counts_as_kept_back() -> None:
    kept = Item(id="suture", name="Suture", keep_back=2)
    lots = [lot("OLD", 7, "2026-11-20"), lot("GOOD", 3, "2027-01-31")]
    result = give(lots, [on("C1")], [want("C1", "2/0")], items=[kept])
    assert picked(result) == {"C1 GOOD": "1/0"}
    (shortage,) = result.shortages
    assert (shortage.on_hand, shortage.kept_back, shortage.expired) == (3, 2, 7)


def test_that_one_lot_serves_a_case_when_it_can() -> None:
    lots = [lot("A", 2, "2027-01-31", "A-1"), lot("B", 9, "2027-01-31", "A-2"), lot("C", 4, "2027-01-31", "A-3")]
    assert picked(give(lots, [on("C1")], [want("C1", "4/0")])) == {"C1 C": "4/0"}
    assert picked(give(lots, [on("C1")], [want("C1", "11/0")])) == {"C1 B": "9/0", "C1 A": "2/0"}


def test_that_hold_comes_from_the_lot_in_hand() -> None:
    lots = [lot("A", 3, "2027-01-31", "A-1"), lot("B", 3, "2027-01-31", "A-2")]
    cases = [on("C1", "07:30"), on("C2", "08:00")]
    result = give(lots, cases, [want("C1", "2/1"), want("C2", "2/1")])
    assert picked(result) == {"C1 A": "2/1", "C2 B": "2/1"}
    small = lot("B", 2, "2027-01-31", "A-2")
    assert picked(give([lot("A", 9, "2027-01-31"), small], [on("C1")], [want("C1", "5/1")])) == {"C1 A": "5/1"}


def test_that_of_equal_lots_the_nearest_on_the_walk_is_taken() -> None:
    lots = [lot("FAR", 1, "2027-01-31", "A-10-2"), lot("NEAR", 1, "2027-01-31", "A-2-10")]
    assert picked(give(lots, [on("C1")], [want("C1", "1/0")])) == {"C1 NEAR": "1/0"}
    places = [Place(id="A-10-2", order=1), Place(id="A-2-10", order=7)]
    assert picked(give(lots, [on("C1")], [want("C1", "1/0")], places=places)) == {"C1 FAR": "1/0"}


def test_that_the_place_on_the_walk_comes_before_the_name_of_the_lot() -> None:
    """Both expire alike; L9 lies at the first stop, L1 at the last."""
    lots = [lot("L1", 1, "2027-01-31", "Z-9"), lot("L9", 1, "2027-01-31", "A-1")]
    assert picked(give(lots, [on("C1")], [want("C1", "1/0")])) == {"C1 L9": "1/0"}


def test_that_gloves_are_picked_by_person() -> None:
    needs = [want("C1", "1/0", person="S04"), want("C1", "1/0", person="N02")]
    result = give([lot("L", 1)], [on("C1")], needs)
    assert picked(result) == {"C1 S04 L": "1/0"}
    assert lacking(result) == {"C1": "1/0"}


def test_that_packs_come_from_lots_of_their_id() -> None:
    need = Need(case="C1", kind=ThingKind.PACK, thing="pk", name="Joint pack", open=1, hold=0)
    result = give([lot("L", 0, item="pk")], [on("C1")], [need])
    (shortage,) = result.shortages
    assert (shortage.item, shortage.name, shortage.wanted) == ("pk", "Joint pack", 1)


@pytest.mark.parametrize("item_class", [ItemClass.MEDICINE, ItemClass.EQUIPMENT, ItemClass.IMPLANT])
def test_that_what_is_not_picked_takes_no_stock(item_class: ItemClass) -> None:
    need = Need(case="C1", kind=ThingKind.ITEM, thing="suture", name="x", open=1, hold=0, item_class=item_class)
    result = give([lot("L", 1)], [on("C1")], [need])
    assert result.picks == ()
    assert result.shortages == ()


@pytest.mark.parametrize("status", [CaseStatus.CANCELLED, CaseStatus.DONE, CaseStatus.RUNNING])
def test_that_only_planned_cases_take_stock(status: CaseStatus) -> None:
    cases = [on("C1", "07:00", status=status), on("C2", "09:00")]
    assert picked(give([lot("L", 1)], cases, [want("C1", "1/0"), want("C2", "1/0")])) == {"C2 L": "1/0"}


def test_that_a_stopped_case_takes_no_stock() -> None:
    problem = Problem(kind="side not stated", severity=Severity.STOPS_CASE, where=NOWHERE, message="")
    stopped = CaseNeeds(case="C1", needs=(want("C1", "1/0"),), stopped=(problem,))
    from picklist.model.site import Site

    site = Site(settings=utc_settings(), lots=(lot("L", 1),))
    assert give_stock(site, [stopped], [on("C1")]).picks == ()


def test_that_what_may_stand_in_is_named_with_what_is_left_of_it_and_never_given() -> None:
    items = [
        Item(id="suture", name="Suture", substitutes=("other", "third", "old", "gone")),
        Item(id="other", name="Other", keep_back=1),
        Item(id="third", name="Third"),
        Item(id="old", name="Old"),
        Item(id="gone", name="Gone", retired=True),
    ]
    lots = [
        lot("O", 4, item="other"),
        lot("T", 1, item="third"),
        lot("X", 9, "2026-11-01", item="old"),
        lot("G", 9, item="gone"),
    ]
    cases = [on("C1"), on("C2")]
    needs = [want("C1", "1/0"), want("C2", "1/0", "other"), want("C2", "1/0", "third")]
    result = give(lots, cases, needs, items=items)
    (shortage,) = result.shortages
    assert shortage.stand_ins == (("other", 2),)
    assert picked(result) == {"C2 O": "1/0", "C2 T": "1/0"}


def test_that_only_what_is_stated_to_be_free_of_latex_stands_in_under_a_latex_alert() -> None:
    kinds = {"rubber": True, "unsaid": None, "clear": False}
    items = [Item(id=name, name=name, latex=latex) for name, latex in kinds.items()]
    items.append(Item(id="suture", name="Suture", substitutes=tuple(kinds)))
    lots = [lot(name.upper(), 4, item=name) for name in kinds]
    plain = give(lots, [on("C1")], [want("C1", "1/0")], items=items)
    alert = give(lots, [on("C1", alerts=("Latex allergy",))], [want("C1", "1/0")], items=items)
    assert [one.stand_ins for one in plain.shortages] == [(("rubber", 4), ("unsaid", 4), ("clear", 4))]
    assert [one.stand_ins for one in alert.shortages] == [(("clear", 4),)]


def test_that_the_order_of_rows_does_not_matter() -> None:
    lots = [lot("A", 2, "2027-01-31"), lot("B", 2, "2027-01-31"), lot("C", 3, "2027-02-28")]
    cases = [on("C1"), on("C2"), on("C10")]
    needs = [want("C1", "2/1"), want("C2", "1/1"), want("C10", "1/0")]
    assert give(lots, cases, needs) == give(lots[::-1], cases[::-1], needs[::-1])
    assert [one.case for one in needs_of(needs)] == ["C1", "C2", "C10"]
