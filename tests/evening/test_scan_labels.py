"""Makers' labels and the site's own, as scanners, keyboards and paper give them, at the cart.

The element strings with ABC123 are those of the GS1 barcode syntax engine's tests (src/c-lib/scandata.c,
Apache License 2.0), with this site's item number; the HIBC labels are worked examples of ANSI/HIBC 2.6.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from picklist.evening.check_facts import as_spelled
from picklist.evening.scan_answers import say
from picklist.labels.hibc import check_character
from picklist.labels.label import check_digit
from picklist.model.built import BuiltCart, StoodIn, TakenItem
from picklist.model.catalogue import Item
from picklist.model.scan_answer import ScanKind, Weight
from picklist.model.site import Site
from picklist.settings import Settings
from tests.builders import DAY
from tests.evening.scanning import CLOCK, NOW, InMemory, a_book, answers, sitting
from tests.evening.site_builder import GTIN, a_site

GS = "\x1d"
PREFIX = "9506000"
TODAY = date(2026, 11, 25)
HIBC = "A123BJC5D6E71"


def the_site(**items: Item) -> Site:
    """The small site, whose blade has a HIBC code."""
    site = a_site()
    blade = replace(site.items["0077"], hibc=HIBC)
    return replace(site, items={**site.items, "0077": blade, **items})


def reports_of(site: Site) -> InMemory:
    return InMemory(the_book=replace(a_book(), site=site))


def scanned(*lines: str, site: Site | None = None) -> list[tuple[str, int, str, date | None]]:
    """What is on cart C-1 after its label and these lines."""
    reports = reports_of(site or the_site())
    answers(sitting(reports), "C-1.R1", *lines)
    return [(i.item, i.quantity, i.lot, i.expiry) for i in reports.kept["C-1"].scanned]


LAP = ("100245", 1, "ABC123", date(2027, 6, 30))


@pytest.mark.parametrize(
    "line",
    [
        f"]d201{GTIN}17270600{'10ABC123'}{GS}99TESTING",
        f"]C101{GTIN}17270600{'10ABC123'}{GS}99TESTING\r\n",
        f"]Q301{GTIN}17270600{'10ABC123'}{GS}99TESTING{GS}",  # the engine leaves a separator at the end
        f"]J101{GTIN}17270600{'10ABC123'}",
        f"{GS}01{GTIN}17270600{'10ABC123'}{GS}99TESTING",
        f"01{GTIN}17270600{'10ABC123'}{GS}99TESTING",  # no word of the scanner which symbol it was
        f"01{GTIN}17270600{'10ABC123'}<GS>99TESTING",
        f"01{GTIN}17270600{'10ABC123'}^]99TESTING",
        f"(01){GTIN}(17)270600(10)ABC123(99)TESTING",
        "{01}" + GTIN + "{17}270600{10}ABC123{99}TESTING",
    ],
)
def test_that_item_lot_and_expiry_are_read_however_the_scanner_writes_them(line: str) -> None:
    assert scanned(line) == [LAP]


def test_that_without_a_separator_the_rest_is_the_lot_and_nothing_is_guessed() -> None:
    assert scanned(f"]C101{GTIN}10ABC1239TEST") == [("100245", 1, "ABC1239TEST", None)]


@pytest.mark.parametrize(
    ("own", "line"),
    [
        ("416000336108", "416000336108"),  # UPC-A
        ("416000336108", "]E00416000336108"),
        ("2112345678900", "]E02112345678900"),  # EAN-13
        ("02345673", "]E402345673"),  # EAN-8
        ("02345673", "02345673"),
        ("416000336108", "00416000336108"),  # ITF-14
        ("416000336108", "]I100416000336108"),
        ("416000336108", f"]E00416000336108|]e099COMPOSITE{GS}98XYZ"),
    ],
)
def test_that_the_plain_numbers_of_shops_and_boxes_are_items(own: str, line: str) -> None:
    site = the_site(drape=Item(id="drape", name="Drape", gtin=own, latex=False))
    reports = reports_of(site)
    answers(sitting(reports), "C-1.R1", line)
    assert [one.item for one in reports.kept["C-1"].added] == ["drape"]


def refusal(line: str, site: Site | None = None) -> str:
    reports = reports_of(site or the_site())
    session = sitting(reports)
    session.take("C-1.R1")
    [answer] = session.take(line)
    assert answer.weight is Weight.REFUSED
    assert "C-1" not in reports.kept
    return say(answer, CLOCK)


def test_that_a_box_is_no_piece_and_is_said_to_be_a_box() -> None:
    """GTIN-14: the indicator in front tells a box of the same thing (GS1 General Specifications 2.1)."""
    single = the_site(lap=Item(id="lap", name="Lap", gtin="416000336108", latex=False))
    box = "1041600033610"
    assert refusal(f"{box}{check_digit(box)}", single).startswith("This is a box of lap, Lap")
    boxed = the_site(lap=Item(id="lap", name="Lap", gtin=f"{box}{check_digit(box)}", latex=False))
    assert refusal("416000336108", boxed).startswith("This is a smaller package of lap, Lap")


def test_that_a_hibc_package_of_another_level_is_said_too() -> None:
    site = the_site(lap=Item(id="lap", name="Lap", hibc="H123ABC01234567891", latex=False))
    assert refusal("+H123ABC01234567890D", site).startswith("This is a smaller package of lap, Lap")


def test_that_hibc_labels_in_one_symbol_or_two_give_item_lot_and_expiry() -> None:
    both = ("0077", 1, "10X3", date(2020, 1, 15))
    assert scanned("+A123BJC5D6E71/$$52001510X3C") == [both]
    assert scanned("]C0+A123BJC5D6E71G", "]C0+$$52001510X3GD") == [both]


def test_that_a_second_label_goes_with_all_of_the_item_scanned_last() -> None:
    many = ("0077", 2, "10X3", date(2020, 1, 15))
    assert scanned("+A123BJC5D6E71G", "TIMES 2", "+$$52001510X3GD") == [many]
    assert scanned("+A123BJC5D6E71G", "+$$52001510X3GD", "TIMES 2") == [many]
    assert scanned("+A123BJC5D6E71G", "+$$52001510X3GD", "UNDO") == [("0077", 1, "", None)]


def test_that_gs1_labels_in_two_symbols_are_one_item() -> None:
    assert scanned(f"]C101{GTIN}", "]C117270600" + "10ABC123") == [LAP]
    assert scanned(GTIN, "17270600" + "10ABC123") == [LAP]


def test_that_a_serial_number_is_kept_and_counts_once() -> None:
    """Two packages of one lot with their own serial numbers are two lines; the same package again is refused."""
    first, second = (f"]d201{GTIN}10ABC123{GS}21{serial}" for serial in ("S7", "S8"))
    reports = reports_of(the_site())
    said = answers(sitting(reports), "C-1.R1", first, second, first, "TIMES 2")
    assert [one.kind for one in said[1:]] == [
        ScanKind.OTHER_LOT,
        ScanKind.OTHER_LOT,
        ScanKind.SCANNED_TWICE,
        ScanKind.NOT_A_NUMBER,
    ]
    assert "100245 lot ABC123 serial S8" in say(said[2], CLOCK)
    scanned = reports.kept["C-1"].scanned
    assert [(one.quantity, one.lot, one.serial) for one in scanned] == [(1, "ABC123", "S7"), (1, "ABC123", "S8")]


def test_that_a_serial_number_may_stand_on_the_second_label() -> None:
    """Appendix F: +$$+70001X, its link and check character for this item's G."""
    second = "+$$+70001G"
    reports = reports_of(the_site())
    answers(sitting(reports), "C-1.R1", "+A123BJC5D6E71G", second + check_character(second))
    assert [(one.item, one.serial) for one in reports.kept["C-1"].scanned] == [("0077", "0001")]


def test_that_a_lot_that_the_list_does_not_name_is_said_at_once() -> None:
    """The list of C-1 names lot L1 of the laps."""
    reports = reports_of(the_site())
    other, named = answers(sitting(reports), "C-1.R1", f"]C101{GTIN}10ABC123", f"]C101{GTIN}10L1")[1:]
    assert (other.kind, other.weight, other.things) == (ScanKind.OTHER_LOT, Weight.LOOK, ("L1",))
    assert say(other, CLOCK).endswith("The list names lot L1: see that this one may be used.")
    assert named.kind is ScanKind.ITEM_ON


@pytest.mark.parametrize("line", ["+$$52001510X3GD", "]C11727060010ABC123"])
def test_that_a_lot_without_an_item_before_it_is_refused(line: str) -> None:
    assert "scan it right after the label that does" in refusal(line)


def test_that_the_lot_of_another_items_label_is_refused() -> None:
    """The second label links to the first by its check character, X here and not G."""
    reports = reports_of(the_site())
    _, _, other = answers(sitting(reports), "C-1.R1", "+A123BJC5D6E71G", "+$$73C001X3")
    assert other.kind is ScanKind.UNKNOWN_SCAN
    assert [(i.item, i.lot) for i in reports.kept["C-1"].scanned] == [("0077", "")]


@pytest.mark.parametrize(
    "line",
    [
        f"]C101{GTIN[:-1]}2",  # wrong check digit
        f"]C101{GTIN}10ABC^DE",  # the engine's own case of a sign that no element may hold
        f"]C101{GTIN}17261301",
        f"]C101{GTIN}10A{GS}10B",
        "]C1",
        "+A123BJC5D6E71H",
        "]C18018950600000000000002",  # whose wrist-band it is, is nobody's business here
        "]d18888",
    ],
)
def test_that_a_label_that_cannot_be_is_refused(line: str) -> None:
    assert refusal(line)


def test_that_the_code_of_a_patient_is_never_shown_or_kept() -> None:
    reports = reports_of(the_site())
    session = sitting(reports)
    for line in ("+/EH1234567", "C-1.R1", "+/EH1234567", "NOTE +/EH1234567", "NOTE", "+/EH1234567", "DONE"):
        assert all("1234567" not in say(one, CLOCK) for one in session.take(line)), line
    assert "1234567" not in repr((reports.kept, session.problems, session.touched))


def with_prefix() -> Site:
    settings = Settings(site="Example", time_zone="UTC", gs1_company_prefix=PREFIX)
    return replace(the_site(), settings=settings)


@pytest.mark.parametrize(
    "line", [f"]d28004{PREFIX}C-1.R1", f"8004{PREFIX}C-1.R1", f"(8004){PREFIX}C-1.R1", f"]D28004{PREFIX}c-1.r1"]
)
def test_that_the_carts_own_gs1_label_opens_it(line: str) -> None:
    [answer] = answers(sitting(reports_of(with_prefix())), line)
    assert (answer.kind, answer.case) == (ScanKind.OPENED, "C-1")


def test_that_a_plain_label_with_the_scanners_mark_opens_its_cart_too() -> None:
    [answer] = answers(sitting(reports_of(with_prefix())), "]C0C-1.R1")
    assert (answer.kind, answer.case) == (ScanKind.OPENED, "C-1")


def test_that_another_owners_label_opens_nothing() -> None:
    reports = reports_of(with_prefix())
    [answer] = answers(sitting(reports), "]d280049512345C-1.R1")
    assert answer.kind is ScanKind.NO_CART


def test_that_a_label_typed_or_scanned_into_a_form_is_its_item() -> None:
    """In a cell of the crew's workbook or a box of the page; a lot that stands in its own cell goes before."""
    label = f"01{GTIN}1727060010ABC123"
    facts = BuiltCart(
        day=DAY,
        case="C-1",
        revision=1,
        at=NOW,
        added=(TakenItem(item=label, quantity=3), TakenItem(item=GTIN, quantity=1, lot="Z9")),
        stood_in=(StoodIn(thing="100246", stood_in="+A123BJC5D6E71G", quantity=1),),
    )
    spelled = as_spelled(facts, the_site(), TODAY)
    assert [(i.item, i.quantity, i.lot, i.expiry) for i in spelled.added] == [
        ("100245", 3, "ABC123", date(2027, 6, 30)),
        ("100245", 1, "Z9", None),
    ]
    assert spelled.stood_in[0].stood_in == "0077"
