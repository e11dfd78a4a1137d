"""Which known word a written one was meant for, and which words stand for themselves."""

from __future__ import annotations

import pytest

from picklist.tables.near_words import word_meant, word_slip_of

ALERTS = ("latex", "metal", "mrsa", "malignant hyperthermia", "type 1 diabetes")
SIZES = ("child", "adult")


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("latx", "latex"),
        ("ltx", "latex"),
        ("lattex", "latex"),
        ("laetx", "latex"),
        ("lat", "latex"),
        ("Latx allergy", "latex"),
        ("l\u0430tx", "latex"),  # a Cyrillic letter besides the slip
        ("metall", "metal"),
        ("metals", "metal"),
        ("metal implant", "metal"),
        ("mtl", "metal"),
        ("mrsa positive", "mrsa"),
        ("MH", "malignant hyperthermia"),
        ("malignant hypertermia", "malignant hyperthermia"),
        ("malignant-hyperthermia", "malignant hyperthermia"),
    ],
)
def test_that_a_slip_or_another_form_of_an_alert_finds_it(written: str, meant: str) -> None:
    assert word_meant(written, ALERTS) == meant


@pytest.mark.parametrize(
    "written",
    [
        *ALERTS,
        *("LATEX", "m\u00e9tal", "mssa", "isolation", "pacemaker", "type 2 diabetes", "water", "contact", "hiv", ""),
    ],
)
def test_that_a_known_word_and_a_word_of_its_own_are_left_alone(written: str) -> None:
    assert word_meant(written, ALERTS) == ""


@pytest.mark.parametrize(
    "written", ["chld", "children", "Children", "pediatric", "kid", "infant", "newborn", "childs", "neonat", "pedatric"]
)
def test_that_other_words_for_a_child_find_the_one_that_is_known(written: str) -> None:
    assert word_meant(written, SIZES) == "child"
    assert word_meant("child", ("pediatric", "adult")) == "pediatric"


def test_that_only_slips_of_the_keyboard_count_where_a_word_may_be_of_its_own() -> None:
    assert word_slip_of("chld", SIZES) == "child"
    assert word_slip_of("children", SIZES) == ""
    assert word_slip_of("pediatric", SIZES) == ""
    assert word_slip_of("vna out", ("van out", "van back")) == "van out"
    assert word_slip_of("van out 2", ("van out 1",)) == ""


def test_that_a_word_without_a_letter_is_like_none() -> None:
    assert word_meant("adult", ("?", "-")) == ""
    assert word_meant("?", ("adult", "child")) == ""
