"""Alerts and sizes as they are typed: read with accents and look-alike letters, left alone where they are known."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from picklist.checks import check_site
from picklist.problems import Severity
from picklist.resolve import resolve_cases
from tests.inputs.flaws import both, put
from tests.inputs.folders import NOW, Rows, read_changed

METAL = put("Cards", 6, only_if="alert metal")


@pytest.mark.parametrize("alert", ["Latex", "LATEX ALLERGY", "l\u00e1tex", "l\u0430tex", "la\u200btex"])
def test_that_latex_is_read_in_every_spelling_that_looks_like_it(tmp_path: Path, alert: str) -> None:
    site, problems = read_changed(tmp_path, put("Schedule", 2, alerts=(alert,)))
    assert problems == []
    assert site is not None
    assert site.cases[0].latex_alert


@pytest.mark.parametrize(
    "change",
    [
        both(METAL, put("Schedule", 3, alerts=("m\u00e9tal",))),
        both(put("Cards", 6, only_if="alert mrsa"), put("Schedule", 3, alerts=("mssa",))),
        both(put("Cards", 6, only_if="size children"), put("Schedule", 3, patient_size="Children")),
        both(METAL, put("Cards", 2, only_if="alert metall"), put("Schedule", 3, alerts=("metal", "metall"))),
        put("Schedule", 3, alerts=("ltx",), status="cancelled"),
    ],
)
def test_that_words_which_cards_know_and_words_of_their_own_are_no_problem(
    tmp_path: Path, change: Callable[[Rows], None]
) -> None:
    _, problems = read_changed(tmp_path, change)
    assert problems == []


def test_that_an_alert_and_a_size_that_nothing_knows_are_told_with_their_place_and_without_their_words(
    tmp_path: Path,
) -> None:
    change = put("Schedule", 3, alerts=("isolation", "latex"), patient_size="infant")
    site, problems = read_changed(tmp_path, change)
    assert site is not None
    found = (*problems, *check_site(site, NOW))
    told = [one for one in found if one.kind == "unknown word"]
    assert [(one.where.row, one.where.column, one.severity) for one in told] == [
        (3, "alerts", Severity.NOTICE),
        (3, "patient size", Severity.NOTICE),
    ]
    assert not any(word in one.sentence() + one.value for one in told for word in ("isolation", "infant"))
    (needs,) = resolve_cases(site, [site.cases[1]])
    assert (needs.unknown_alerts, needs.unknown_size) == (("isolation",), True)


@pytest.mark.parametrize("status", ["planned", "cancelled"])
def test_that_what_nobody_knows_as_a_size_is_not_kept_for_it_could_be_a_name(tmp_path: Path, status: str) -> None:
    site, _ = read_changed(tmp_path, put("Schedule", 3, patient_size="Anna Muller", status=status))
    assert site is not None
    assert site.cases[1].patient_size == "not known"
    assert status == "cancelled" or resolve_cases(site, [site.cases[1]])[0].unknown_size


def test_that_a_child_is_told_where_no_card_knows_children_and_an_adult_is_not(tmp_path: Path) -> None:
    change = both(put("Schedule", 2, patient_size="adult"), put("Schedule", 3, patient_size="child"))
    site, _ = read_changed(tmp_path, change)
    assert site is not None
    assert [needs.unknown_size for needs in resolve_cases(site, site.cases)] == [False, True]
