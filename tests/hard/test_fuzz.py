"""Spoiled inputs are answered or reported with their place; a few in every run, any number by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import count
from random import Random

import pytest

from picklist.problems import Problem
from tests.hard.doors import DOORS, Answer, faults
from tests.hard.evening import Evening
from tests.hard.fuzz import run, sound_answer, try_one, try_page
from tests.hard.readers import READERS, at_desk, read_spoiled
from tests.patience import THOROUGH, tries

SEED = 17  # as good as any
EVERY = 1 if THOROUGH else 2  # door; so that a few inputs do not all go to the first doors, the site's tables


def test_spoiled_inputs_are_answered_or_reported_with_their_place(evening: Evening) -> None:
    assert [str(one) for one in run(evening, list(DOORS), SEED, range(0, EVERY * tries(1000, 12), EVERY))] == []


def test_a_thousand_spoiled_inputs_are_read_or_reported(evening: Evening) -> None:
    with at_desk(evening) as desk:
        assert list(read_spoiled(desk, SEED, 1000)) == []


def test_that_a_reader_that_breaks_would_be_seen(evening: Evening, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> tuple[Problem, ...]:
        raise IndexError

    for name, reader in READERS.items():
        monkeypatch.setitem(READERS, name, replace(reader, read=broken))
    with at_desk(evening) as desk:
        assert ["IndexError" in one for one in read_spoiled(desk, SEED, 4)] == [True] * 4


def test_forms_of_the_page_filled_in_at_random_are_answered(evening: Evening) -> None:
    assert try_page(evening, Random(SEED), tries(300, 15)) == []


@pytest.mark.parametrize(
    "name", ["crew: carts", "crew: used", "crew: scans", "office", "messages: HL7", "messages: FHIR"]
)
def test_that_the_sound_input_is_understood(name: str, evening: Evening) -> None:
    """Else nothing spoiled would be: C-1 is built, a set was used, a tray is wanted twice, a case is moved."""
    answer = sound_answer(evening, name)
    assert answer.refused == ""
    assert answer.understood
    assert list(faults(answer)) == []


def test_that_a_fault_would_be_seen(evening: Evening, monkeypatch: pytest.MonkeyPatch) -> None:
    """A door that breaks, and one that takes the same for something else."""

    def broken(*_: object) -> Answer:
        raise KeyError("x")

    monkeypatch.setitem(DOORS, "office", replace(DOORS["office"], take=broken))
    assert "KeyError" in try_one("office", evening, Random(SEED))[1]
    answers = count()
    otherwise = replace(DOORS["export"], take=lambda *_: Answer(understood=next(answers)))
    monkeypatch.setitem(DOORS, "export", otherwise)
    found = [try_one("export", evening, Random(seed))[1] for seed in range(20)]
    assert any("understood otherwise" in one for one in found)
    monkeypatch.setattr("picklist.server.desk.Desk.plan", broken)
    assert any("KeyError" in one for one in try_page(evening, Random(SEED), 3))
