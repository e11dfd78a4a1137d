"""Which signs the sheets' fonts have, and what is printed of those that they lack."""

from __future__ import annotations

import pytest

from picklist.documents.missing_characters import CharacterCheck, covered
from picklist.documents.templates import fonts_of_sheets


def test_that_the_three_fonts_are_found_and_have_the_letters_of_many_languages() -> None:
    fonts = fonts_of_sheets()
    assert [font.name for font in fonts] == ["Inter-Bold.otf", "Inter-Regular.otf", "Inter-SemiBold.otf"]
    for font in fonts:
        assert set(map(ord, "AZaz09 –·×°±µ½éßøŁžΩЖ€→")) <= covered(font)
        assert not set(map(ord, "日本ع")) & covered(font)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Ångström 10 × 5 µm", "Ångström 10 × 5 µm"),
        ("two\nlines\tapart", "two lines apart"),
        ("日", "[U+65E5]"),
        ("\x00\u202e", "[U+0000][U+202E]"),
        ("\U0001f9ea", "[U+1F9EA]"),
    ],
)
def test_that_what_cannot_be_printed_is_shown_by_its_number(text: str, shown: str) -> None:
    assert CharacterCheck(fonts_of_sheets()).printable(text) == shown


def test_that_every_sign_is_reported_once() -> None:
    signs = CharacterCheck(fonts_of_sheets())
    assert signs.everywhere({"a": ["日", ("日", 3, None)]}) == {"a": ["[U+65E5]", ["[U+65E5]", 3, None]]}
    assert len(signs.report()) == 1


def test_that_a_text_too_long_for_a_page_is_cut_where_everyone_sees_it() -> None:
    signs = CharacterCheck(fonts_of_sheets())
    shown = signs.printable("word " * 1000)
    assert shown.endswith("… [cut]")
    assert len(shown) < 700
    assert "is cut on paper" in signs.report()[0]
