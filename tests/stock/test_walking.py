from __future__ import annotations

from random import Random

from hypothesis import given
from hypothesis import strategies as st

from picklist.letters import natural_key
from picklist.model.catalogue import Place
from picklist.stock import walking_key


def test_that_places_sort_as_people_read_them() -> None:
    assert sorted(["A-10-2", "A-2-10", "A-2-1"], key=natural_key) == ["A-2-1", "A-2-10", "A-10-2"]
    assert sorted(["b-1", "A-3", "B-2", "a-20"], key=natural_key) == ["A-3", "a-20", "b-1", "B-2"]


def test_that_numbers_letters_and_blanks_can_stand_anywhere() -> None:
    mixed = ["A1", "1A", "A", "10", "2", "", "²", "٣"]
    assert sorted(mixed, key=natural_key) == ["", "1A", "2", "٣", "10", "A", "A1", "²"]


def test_that_the_walking_order_comes_first_and_names_follow() -> None:
    places = {p.id: p for p in (Place(id="Z", order=1), Place(id="A", order=2), Place(id="C-10"), Place(id="C-9"))}
    walk = sorted(["", "not listed", "C-10", "A", "C-9", "Z"], key=lambda place: walking_key(places, place))
    assert walk == ["Z", "A", "C-9", "C-10", "not listed", ""]


@given(st.lists(st.text(alphabet="aAbB-0123456789 "), max_size=8), st.integers(0, 99))
def test_that_the_order_is_one_and_the_same_however_rows_come(names: list[str], seed: int) -> None:
    shuffled = list(names)
    Random(seed).shuffle(shuffled)
    assert sorted(shuffled, key=natural_key) == sorted(names, key=natural_key)


@given(st.integers(0, 10**6), st.integers(0, 10**6))
def test_that_numbers_count_as_numbers(one: int, other: int) -> None:
    assert (natural_key(f"A-{one}") < natural_key(f"a-{other}")) == ((one, f"A-{one}") < (other, f"a-{other}"))
