"""Labels are read as GS1 publishes them.

Sources: GS1 check digit calculator's and company examples, the GS1 syntax dictionary's
linter examples and the GS1 barcode syntax engine's element strings; FDA, UDI formats by
FDA-accredited issuing agency, version 1.3 (2017); the rules for day 00 and the century are
those of the GS1 General Specifications (7.12) as told in secondary copies.
"""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from picklist.labels.gs1 import looks_like_gs1, read_elements, read_gs1, read_gs1_date
from picklist.labels.label import LabelError, check_digit, has_right_check_digit, is_gtin, other_package, same_gtin

TODAY = date(2026, 11, 25)
GS = "\x1d"


@pytest.mark.parametrize(("number", "digit"), [("629104150021", 3), ("890400021003", 7), ("730001100001", 7)])
def test_that_check_digits_are_as_published(number: str, digit: int) -> None:
    assert check_digit(number) == digit
    assert has_right_check_digit(f"{number}{digit}")


@pytest.mark.parametrize("number", ["02345673", "416000336108", "1234567890128", "12345678901231"])
def test_that_numbers_of_the_syntax_dictionary_pass(number: str) -> None:
    assert is_gtin(number)


@pytest.mark.parametrize("number", ["12345673", "416000336109", "1234567890129"])
def test_that_numbers_with_a_wrong_check_digit_fail(number: str) -> None:
    assert not is_gtin(number)


def test_that_a_number_of_another_length_is_no_gtin_even_with_a_right_check_digit() -> None:
    assert has_right_check_digit("17")
    assert not is_gtin("17")


def test_that_a_printed_element_string_gives_number_and_lot() -> None:
    label = read_gs1("(01)12345678901231(10)12345", TODAY)
    assert (label.gtin, label.lot) == ("12345678901231", "12345")


@pytest.mark.parametrize("symbol", ["]d2", "]C1", "]Q3", "]e0"])
def test_that_every_symbols_prefix_leads_to_the_same_elements(symbol: str) -> None:
    elements = read_elements(f"{symbol}011231231231233310ABC123{GS}99TESTING")
    assert elements == (("01", "12312312312333"), ("10", "ABC123"), ("99", "TESTING"))


@pytest.mark.parametrize("text", ["(11)131313", "(10)(11)98765", "(1A)12345"])
def test_that_impossible_element_strings_are_refused(text: str) -> None:
    with pytest.raises(LabelError):
        read_gs1(text, TODAY)


def test_that_the_agencys_device_label_is_read_whole() -> None:
    label = read_gs1("(01)51022222233336(11)141231(17)150707(10)A213B1(21)1234", date(2014, 12, 31))
    assert label.gtin == "51022222233336"
    assert (label.lot, label.serial) == ("A213B1", "1234")
    assert label.expiry == date(2015, 7, 7)


@pytest.mark.parametrize(
    ("text", "gtin", "serial"),
    [
        ("(01)09504000059118(17)141120(10)7654321D(21)10987654d321", "09504000059118", "10987654d321"),
        ("{01}00844588003288{17}141120{10}7654321D{21}10987654d321", "00844588003288", "10987654d321"),
    ],
)
def test_that_the_device_labels_of_hl7s_examples_are_read(text: str, gtin: str, serial: str) -> None:
    """US Core Device example udi-1, and the FHIR Device example udi1, which writes braces. Small letters stay small."""
    label = read_gs1(text, date(2014, 1, 1))
    assert (label.gtin, label.lot, label.serial, label.expiry) == (gtin, "7654321D", serial, date(2014, 11, 20))


def test_that_the_same_label_scanned_says_the_same_as_printed() -> None:
    scanned = f"]C101510222222333361114123117150707{'10A213B1'}{GS}211234"
    printed = "(01)51022222233336(11)141231(17)150707(10)A213B1(21)1234"
    assert read_gs1(scanned, TODAY) == read_gs1(printed, TODAY)


def test_that_a_lot_may_hold_brackets() -> None:
    assert read_elements("(10)A(B)(21)7") == (("10", "A(B)"), ("21", "7"))


def test_that_day_00_is_the_last_of_the_month_in_leap_years_too() -> None:
    assert read_gs1_date("270600", TODAY) == date(2027, 6, 30)
    assert read_gs1_date("280200", TODAY) == date(2028, 2, 29)
    assert read_gs1_date("270200", TODAY) == date(2027, 2, 28)


@pytest.mark.parametrize(
    ("year", "this_year", "meant"),
    [
        ("76", 2026, 2076),  # 50 ahead: this century
        ("77", 2026, 1977),  # 51 ahead: the last
        ("99", 2026, 1999),
        ("26", 2076, 2126),  # 50 behind: the next
        ("27", 2076, 2027),  # 49 behind: this one
        ("00", 2099, 2100),
    ],
)
def test_that_two_digits_of_a_year_lie_near_today(year: str, this_year: int, meant: int) -> None:
    assert read_gs1_date(f"{year}0101", date(this_year, 6, 1)).year == meant


@pytest.mark.parametrize(
    "text",
    [
        "(01)12345678901234",  # check digit
        "(01)1234567890123",  # 13 digits
        "(17)260230",  # no such day
        "(30)12x",
        "(10)" + "A" * 21,
        "(10)A\u00e4",
        "(10)A(10)B",
        "]C1",
        "]C1X1",
        "(05)1",  # no identifier of the general table
    ],
)
def test_that_what_cannot_be_is_refused_with_a_word_why(text: str) -> None:
    with pytest.raises(LabelError) as refused:
        read_gs1(text, TODAY)
    assert str(refused.value)


def test_that_numbers_of_other_lengths_name_the_same_item() -> None:
    assert same_gtin("416000336108", "00416000336108")
    assert not same_gtin("", "")


def test_that_an_item_number_alone_is_not_taken_for_an_element_string() -> None:
    assert not looks_like_gs1("100245")
    assert looks_like_gs1("(01)12345678901231")
    assert looks_like_gs1("]d201")


LOTS = st.text(st.sampled_from("ABCXYZ0123456789-./"), min_size=1, max_size=20)


@given(st.text("0123456789", min_size=13, max_size=13), LOTS, LOTS, st.dates(date(2000, 1, 1), date(2060, 12, 31)))
def test_that_what_is_written_is_read_whatever_the_order(number: str, lot: str, serial: str, expiry: date) -> None:
    gtin = f"{number}{check_digit(number)}"
    first = f"]C101{gtin}17{expiry:%y%m%d}10{lot}{GS}21{serial}"
    second = f"]d221{serial}{GS}10{lot}{GS}17{expiry:%y%m%d}01{gtin}"
    for text in (first, second):
        label = read_gs1(text, TODAY)
        assert (label.gtin, label.lot, label.serial, label.expiry) == (gtin, lot, serial, expiry)


@given(st.text(max_size=40))
def test_that_any_other_text_is_refused_and_never_crashes(text: str) -> None:
    try:
        read_gs1(text, TODAY)
    except LabelError:
        return


def test_that_a_box_differs_in_indicator_and_check_digit_alone() -> None:
    """GS1 General Specifications 2.1: 1 to 8 in front is a package of the same; 9 is of variable measure."""
    assert other_package("10416000336105", "416000336108")
    assert other_package("416000336108", "80416000336104")
    assert not other_package("90416000336101", "416000336108")
    assert not other_package("416000336108", "00416000336108")
    assert all(is_gtin(number) for number in ("10416000336105", "80416000336104", "90416000336101"))


def test_that_what_is_wrong_with_a_label_is_said_without_its_digits() -> None:
    with pytest.raises(LabelError) as refused:
        read_gs1("(1099)5550147", TODAY)
    assert "99" not in str(refused.value)


@pytest.mark.parametrize("date", ["269901", "260199"])
def test_that_what_is_wrong_with_a_date_is_said_without_its_digits(date: str) -> None:
    with pytest.raises(LabelError) as refused:
        read_gs1_date(date, TODAY)
    assert "99" not in str(refused.value)
