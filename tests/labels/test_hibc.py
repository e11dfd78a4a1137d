"""HIBC labels are read as they are published.

Sources: the worked examples of ANSI/HIBC 2.6 (Appendix B: the check character; Appendix C, figure C5;
Appendix F, paragraph 5: dates and serial numbers), as open-source tests quote them with their paragraphs;
the device identifier of the HL7 FHIR Device example and of the FDA's list of UDI formats (version 1.3).
"""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from picklist.labels.hibc import check_character, primary_of, read_hibc, same_product
from picklist.labels.label import Label, LabelError
from picklist.labels.reading import read_label, without_marks

TODAY = date(2026, 11, 25)
ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"


def test_that_the_check_character_of_the_worked_example_is_g() -> None:
    """Appendix B.2: the places of +A123BJC5D6E71 add up to 145, and 145 modulo 43 is 16, which is G."""
    assert check_character("+A123BJC5D6E71") == "G"


@pytest.mark.parametrize(
    ("text", "hibc"),
    [
        ("+A123BJC5D6E71G", "A123BJC5D6E71"),
        ("*+A123BJC5D6E71G*", "A123BJC5D6E71"),  # as it is printed
        ("+H123ABC01234567890D", "H123ABC01234567890"),
    ],
)
def test_that_a_primary_label_names_maker_product_and_packaging_level(text: str, hibc: str) -> None:
    assert read_hibc(text, TODAY) == Label(hibc=hibc)


def test_that_both_parts_in_one_symbol_give_item_lot_and_expiry() -> None:
    """Day 15 of 2020, by the calendar of days."""
    day = date(2020, 1, 15)
    assert read_hibc("+A99912345/$$52001510X33", TODAY) == Label(hibc="A99912345", lot="10X3", expiry=day)
    assert read_hibc("+A123BJC5D6E71/$$52001510X3C", TODAY).hibc == "A123BJC5D6E71"


def test_that_a_secondary_label_alone_says_whose_it_is_by_the_link() -> None:
    label = read_hibc("+$$52001510X3GD", TODAY)
    assert label == Label(lot="10X3", expiry=date(2020, 1, 15), link="G")
    assert not label.names_item


@pytest.mark.parametrize(
    ("text", "lot", "serial", "expiry"),
    [
        ("+$$09053C001XA", "3C001", "", date(2005, 9, 30)),  # month and year: the last day of the month
        ("+$$30509283C001XN", "3C001", "", date(2005, 9, 28)),
        ("+$$+20928050001X5", "", "0001", date(2005, 9, 28)),
        ("+$$+70001XT", "", "0001", None),
        ("+$$73C001X3", "3C001", "", None),
    ],
)
def test_that_each_way_of_writing_a_date_is_read(text: str, lot: str, serial: str, expiry: date | None) -> None:
    assert read_hibc(text, TODAY) == Label(lot=lot, serial=serial, expiry=expiry, link="X")


def with_check(data: str) -> str:
    return data + check_character(data)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ("+$$824730LOT9X", ("30LOT9", "", None)),  # 24 of them, no date
        ("+$$900100316122412AX", ("12A", "", date(2016, 12, 24))),  # one hundred, YYMMDD
        ("+$$416122423L1X", ("L1", "", date(2016, 12, 24))),  # with the hour
        ("+$$61635923L1X", ("L1", "", date(2016, 12, 24))),
        ("+$LOT7X", ("LOT7", "", None)),
        ("+$+SN7X", ("", "SN7", None)),
        ("+16359L7X", ("L7", "", date(2016, 12, 24))),
        ("+A99912345/$LOT7/SSN7/14D20290228/16D20240101", ("LOT7", "SN7", date(2029, 2, 28))),
        ("+A99912345/SSN7", ("", "SN7", None)),
    ],
)
def test_that_quantities_old_forms_and_named_parts_are_read_or_passed_over(
    data: str, said: tuple[str, str, date | None]
) -> None:
    """Worked by hand from the forms of ANSI/HIBC 2.6."""
    label = read_hibc(with_check(data), TODAY)
    assert (label.lot, label.serial, label.expiry) == said


def test_that_the_published_example_with_a_wrong_check_character_is_refused() -> None:
    """It is printed so in the FDA's list and in the FHIR Device example; modulo 43 gives H, not C."""
    data = "+H123PARTNO1234567890120/$$420020216LOT123456789012345/SXYZ456789012345678/16D20130202"
    assert check_character(data) == "H"
    with pytest.raises(LabelError, match="check character"):
        read_hibc(f"{data}C", TODAY)
    label = read_hibc(f"{data}H", TODAY)
    assert (label.lot, label.serial) == ("LOT123456789012345", "XYZ456789012345678")
    assert label.expiry == date(2020, 2, 2)


def with_a_blank_at_its_end() -> str:
    return next(d for sign in ALPHABET[10:36] if check_character(d := f"+A123P{sign}71") == " ")


def test_that_a_check_character_may_be_a_blank_that_no_reader_takes_off() -> None:
    data = with_a_blank_at_its_end()
    assert read_hibc(without_marks(f"{data} \r\n"), TODAY).hibc == data[1:]
    assert read_hibc(f"*{data}_*", TODAY).hibc == data[1:]  # it is printed as an underscore
    with pytest.raises(LabelError):
        read_hibc(data, TODAY)
    assert primary_of(data) == data[1:]  # a cell of a table has lost it


def test_that_the_code_of_a_patient_or_of_staff_is_refused_without_being_said() -> None:
    text = with_check("+/EH701234567")
    with pytest.raises(LabelError) as refused:
        read_label(text, TODAY)
    assert "701234567" not in str(refused.value)


def test_that_a_keyboard_with_small_letters_and_a_scanners_mark_do_no_harm() -> None:
    assert read_hibc("+a123bjc5d6e71g", TODAY).hibc == "A123BJC5D6E71"
    assert without_marks("]C0+A123BJC5D6E71G\n") == "+A123BJC5D6E71G"
    assert without_marks("]d1+A123BJC5D6E71G\n") == "+A123BJC5D6E71G"


def test_that_a_package_of_another_size_is_the_same_product() -> None:
    assert same_product("A123BJC5D6E71", "A123BJC5D6E73")
    assert not same_product("A123BJC5D6E71", "A123BJC5D6E81")
    assert not same_product("", "")


@pytest.mark.parametrize(
    "text",
    [
        "+",
        "+G",
        "+A1G",
        "+$$",
        with_check("+123"),
        with_check("+$$213012599L1X"),
        with_check("+A123BJ"),
        "+A123\u00e91G",
    ],
)
def test_that_what_is_no_label_is_refused(text: str) -> None:
    with pytest.raises(LabelError):
        read_hibc(text, TODAY)


@given(st.text(ALPHABET, max_size=30))
def test_that_any_text_with_a_right_check_character_is_read_or_refused(text: str) -> None:
    try:
        read_hibc(with_check(f"+{text}"), TODAY)
    except LabelError:
        return
