"""One word for each scan, what is left to fetch, and scans that came through another keyboard layout."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from picklist.evening.left_to_fetch import left_to_fetch
from picklist.evening.scan_answers import ScanVerdict, about, gravest, verdict_of
from picklist.evening.scans import ScanSession
from picklist.model.built import BuiltCart, MissingThing, StoodIn
from picklist.model.catalogue import Lot
from picklist.model.scan_answer import ScanKind
from picklist.model.sets import InstrumentSet
from tests.builders import DAY
from tests.evening.builders import EVENING, a_case, cart, pick, sundry
from tests.evening.scanning import InMemory, a_book, kinds_of, sitting, words_of
from tests.evening.site_builder import GTIN


def verdict(session: ScanSession, line: str) -> ScanVerdict:
    return verdict_of(gravest(session.take(line)))


def opened() -> tuple[ScanSession, InMemory]:
    reports = InMemory()
    session = sitting(reports)
    assert verdict(session, "C-1.R1") is ScanVerdict.CART
    return session, reports


def element_string(lot: str, days: int) -> str:
    """GTIN, expiry so many days after the case, lot, as GS1 strings them together."""
    return f"01{GTIN.zfill(14)}17{DAY + timedelta(days=days):%y%m%d}10{lot}"


@pytest.mark.parametrize(
    ("scans", "says"),
    [
        (["KNEE-01"], ScanVerdict.OK),
        (["100245"], ScanVerdict.OK),
        ([element_string("L1", 40)], ScanVerdict.OK),
        (["ANKLE-L"], ScanVerdict.WRONG),
        (["no such thing"], ScanVerdict.WRONG),
        ([element_string("L1", -3)], ScanVerdict.EXPIRED),
        (["100300"], ScanVerdict.SURPLUS),
        (["0077", "0077", "0077"], ScanVerdict.SURPLUS),
        (["KNEE-01", "KNEE-01"], ScanVerdict.LOOK),
        ([element_string("OTHER", 40)], ScanVerdict.LOOK),
        (["MISSING 0077"], ScanVerdict.MISSING),
        (["KNEE-01", "MISSING SAW-01", "DONE"], ScanVerdict.MISSING),
        (["MISSING"], ScanVerdict.NEXT),
        (["KNEE-01", "UNDO"], ScanVerdict.UNDONE),
        (["KNEE-01", "SAW-01", "DONE"], ScanVerdict.BUILT),
        (["KNEE-01", "C-2.R1"], ScanVerdict.CART),
    ],
)
def test_that_a_scan_comes_to_one_word(scans: list[str], says: ScanVerdict) -> None:
    session, _ = opened()
    assert [verdict(session, one) for one in scans][-1] is says


def test_that_a_wrong_set_says_where_it_belongs_and_one_of_no_cart_where_it_is_stored() -> None:
    session, _ = opened()
    assert "It belongs to C-2." in words_of(session, "ANKLE-L")
    assert "It belongs at S-04." in words_of(session, "ANKLE-R")


def test_that_the_word_is_about_the_cart_that_opens_and_not_the_one_left_behind() -> None:
    session, _ = opened()
    assert about(gravest(session.take("C-2.R1"))) == "C-2"
    assert about(gravest(session.take("nothing known"))) == ""


def test_that_what_is_left_shrinks_with_each_scan_and_a_missing_thing_is_not_sought_again() -> None:
    """C-1: two trays, five laps, two blades. One tray, two laps and one blade later: one tray, three of five laps."""
    session, reports = opened()
    cart = reports.book().cart("C-1")
    assert cart is not None

    def left() -> list[tuple[str, int, int]]:
        return [(one.thing, one.left, one.listed) for one in left_to_fetch(cart, reports.kept.get("C-1"))]

    assert left() == [("KNEE-01", 1, 1), ("SAW-01", 1, 1), ("100245", 5, 5), ("0077", 2, 2)]
    for line in ("KNEE-01", "100245", "TIMES 2", "0077", "MISSING 0077 1"):
        session.take(line)
    assert left() == [("SAW-01", 1, 1), ("100245", 3, 5)]
    session.take("DONE")
    assert left() == []


def test_that_what_stood_in_for_what_no_shelf_had_leaves_the_rest_to_be_fetched() -> None:
    """Four laps are asked for and one is there; for the other three there is another brand, or they are missing."""
    laps = cart(a_case("C-1"), (), (sundry("laps", pick("laps", "L1", 1), short=(3, 0)),))
    report = BuiltCart(day=DAY, case="C-1", revision=1, at=EVENING)
    stood_in = replace(report, stood_in=(StoodIn(thing="laps", stood_in="laps-x", quantity=3),))
    missing = replace(stood_in, missing=(MissingThing(thing="laps", quantity=3),))
    assert [[one.left for one in left_to_fetch(laps, facts)] for facts in (report, stood_in, missing)] == [
        [1],
        [1],
        [1],
    ]


@pytest.mark.parametrize(
    ("typed", "country"),
    [("KNEEß01", "German"), ("KNEE'01", "Spanish"), ("KNEE)à&", "French")],
)
def test_that_a_set_is_read_through_another_layout_and_the_layouts_are_named(typed: str, country: str) -> None:
    session, reports = opened()
    said = words_of(session, typed)
    assert "KNEE-01, Knee is on cart C-1." in said
    assert f"(this computer: {country})" in said
    assert "read as KNEE-01" in said
    assert [one.set_id for one in reports.kept["C-1"].sets] == ["KNEE-01"]


def test_that_a_cart_label_opens_its_cart_through_another_layout() -> None:
    session = sitting()
    assert kinds_of(session, "Cß1.R1") == [ScanKind.OPENED, ScanKind.OTHER_LAYOUT]


def test_that_a_scan_with_two_readings_is_refused_and_names_both() -> None:
    """Sets Y-01 and Z-01 stand on two shelves: a German keyboard gives each the other's letter."""
    book = a_book()
    sets = {one: InstrumentSet(id=one, tray="knee", place="S-09") for one in ("Y-01", "Z-01")}
    book = replace(book, site=replace(book.site, sets={**book.site.sets, **sets}))
    reports = InMemory(the_book=book)
    session = sitting(reports)
    session.take("C-1.R1")
    assert kinds_of(session, "Z-01")[0] is ScanKind.SET_ON  # nothing speaks of another layout yet
    assert kinds_of(session, "UNDO", "KNEEß02", "UNDO") == [
        ScanKind.UNDONE,
        ScanKind.SET_ON,
        ScanKind.OTHER_LAYOUT,
        ScanKind.UNDONE,
    ]
    assert kinds_of(session, "Zß01")[0] is ScanKind.SET_ON  # the hyphen says that this one is Y-01
    assert [one.set_id for one in reports.kept["C-1"].sets] == ["Y-01"]


def test_that_a_lot_whose_letters_may_be_swapped_is_the_one_that_the_tables_know() -> None:
    book = a_book()
    lots = (*book.site.lots, Lot(item="100245", lot="Y7", quantity=9, expiry=None, place="A-02-10"))
    reports = InMemory(the_book=replace(book, site=replace(book.site, lots=lots)))
    session = sitting(reports)
    for line in ("Cß1.R1", element_string("Z7", 40)):
        session.take(line)
    assert [one.lot for one in reports.kept["C-1"].scanned] == ["Y7"]
    assert kinds_of(session, element_string("ZZ", 40)) == [ScanKind.TWO_READINGS]
    assert [one.quantity for one in reports.kept["C-1"].scanned] == [1]
