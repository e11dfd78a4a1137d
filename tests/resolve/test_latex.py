"""Under a latex alert: the latex-free twin or a stopped list, never silence."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from picklist.documents.missing_characters import LONGEST
from picklist.model.cards import Change, Condition, ConditionKind
from picklist.model.catalogue import Item, ItemClass, Procedure
from picklist.model.needs import ReasonKind
from picklist.problems import Severity
from picklist.resolve import resolve_case
from picklist.wording.say_why import find_dropped
from tests.builders import tray
from tests.resolve.cards import (
    amounts,
    house,
    item,
    line,
    listed,
    only_if,
    operation,
    pack,
    pack_line,
    person,
    replacing,
    row,
    stops,
    tray_line,
)

ALERT = operation(alerts=("latex",))
DRAIN = item("drain", latex=True, latex_free_twin="clear-drain")
TWIN = item("clear-drain")


def test_that_without_an_alert_latex_stays() -> None:
    assert listed([line("drain", "1/1")], items=[DRAIN, TWIN]) == {"drain": "1/1"}


def test_that_the_twin_goes_in_its_place_open_and_hold() -> None:
    needs = resolve_case(house([line("drain", "1/1", where=row(8))], items=[DRAIN, TWIN]), ALERT)
    assert amounts(needs) == {"clear-drain": "1/1"}
    assert [reason.kind for reason in needs.needs[0].reasons] == [ReasonKind.CARD_LINE, ReasonKind.LATEX_SWAP]
    (dropped,) = find_dropped(needs, "drain")
    assert (dropped.thing, dropped.open, dropped.hold) == ("drain", 0, 0)


def test_that_a_reason_with_many_names_stays_whole_on_paper_and_says_how_many_more_there_are() -> None:
    unsaid = [item(f"sponge-{number}", latex=None) for number in range(40)]
    card = [line(one.id, "1/0") for one in unsaid]
    (stopped,) = resolve_case(house(card, items=unsaid), ALERT).stopped
    assert len(stopped.message) <= LONGEST
    named, _, left = stopped.message.removesuffix(" more").rpartition(" and ")
    assert named.count("(sponge-") == 40 - int(left)
    kit = pack("kit", **{one.id.replace("-", "_"): 1 for one in unsaid})
    (stopped,) = resolve_case(house([pack_line("kit")], items=unsaid, packs=[kit]), ALERT).stopped
    assert len(stopped.message) <= LONGEST
    assert " more; no twin pack is stated" in stopped.message


def test_that_a_twin_that_is_wanted_anyway_adds_up() -> None:
    card = [line("drain", "1/0"), line("clear-drain", "2/0")]
    assert listed(card, ALERT, items=[DRAIN, TWIN]) == {"clear-drain": "3/0"}


@pytest.mark.parametrize(
    "items",
    [
        [item("drain", latex=True)],
        [item("drain", latex=True, latex_free_twin="nowhere")],
        [item("drain", latex=True, latex_free_twin="drain")],
        [DRAIN, item("clear-drain", latex=True)],
        [DRAIN, item("clear-drain", latex=True, latex_free_twin="third"), item("third")],
        [DRAIN, item("clear-drain", retired=True)],
    ],
)
def test_that_the_list_stops_without_a_twin_that_can_serve(items: list[Item]) -> None:
    needs = resolve_case(house([line("drain", "0/1", where=row(8))], items=items), ALERT)
    (problem,) = needs.stopped
    assert (problem.kind, problem.severity, problem.cases) == ("latex without a twin", Severity.STOPS_CASE, ("C1",))
    assert row(8) in problem.related


def test_that_every_latex_item_is_named_in_one_run() -> None:
    items = [item("drain", latex=True), item("strap", latex=True, item_class=ItemClass.POSITIONING)]
    assert stops([line("drain", "1/0"), line("strap", "0/0")], ALERT, items=items) == ["latex without a twin"] * 2


PACKED = pack("pk", drain=1, gown=2)
PROCEDURES = [Procedure(id="P1", name="P1", pack="pk")]


def test_that_latex_inside_the_pack_stops_the_list() -> None:
    needs = resolve_case(
        house([line("gown", "3/0")], items=[DRAIN, TWIN], packs=[PACKED], procedures=PROCEDURES), ALERT
    )
    (problem,) = needs.stopped
    assert (problem.kind, problem.where.sheet) == ("latex in the pack", "Packs")


def test_that_a_card_line_may_replace_the_pack_under_the_alert() -> None:
    rule = pack_line("safe", "1/0", change=replacing("x").change, instead_of="pk", only_if=only_if("alert latex"))
    site: dict[str, Any] = {"items": [DRAIN, TWIN], "packs": [PACKED, pack("safe", gown=1)], "procedures": PROCEDURES}
    assert listed([line("gown", "3/0"), rule], ALERT, **site) == {"safe": "1/0", "gown": "2/0"}
    assert listed([line("gown", "3/0"), rule], **site) == {"pk": "1/0", "gown": "1/0"}


def test_that_a_twin_pack_goes_in_the_packs_place_and_offsets_what_it_holds() -> None:
    packs = [PACKED, pack("safe", gown=1, clear_drain=1)]
    items = [DRAIN, TWIN, item("pk", latex_free_twin="safe"), item("safe")]
    site: dict[str, Any] = {"items": items, "packs": packs, "procedures": PROCEDURES}
    assert listed([line("gown", "3/0"), line("drain", "1/0")], ALERT, **site) == {"safe": "1/0", "gown": "2/0"}


def test_that_a_twin_pack_with_latex_is_no_twin() -> None:
    packs = [PACKED, pack("safe", drain=1)]
    items = [DRAIN, TWIN, item("pk", latex_free_twin="safe")]
    assert stops([line("gown", "1/0")], ALERT, items=items, packs=packs, procedures=PROCEDURES) == ["latex in the pack"]


def test_that_a_pack_marked_as_latex_stops_the_list() -> None:
    items = [item("pk", latex=True)]
    packs = [pack("pk", gown=1)]
    assert stops([line("gown", "1/0")], ALERT, items=items, packs=packs, procedures=PROCEDURES) == ["latex in the pack"]


GLOVE = item("g75", item_class=ItemClass.OUTER_GLOVE, size="7.5", latex=True, latex_free_twin="n75")
FREE = item("n75", item_class=ItemClass.OUTER_GLOVE, size="7.5")


def test_that_gloves_of_people_are_swapped_too() -> None:
    staff = [person("S04", outer_glove="7.5")]
    card = [line("laps", "1/0")]
    assert listed(card, items=[GLOVE, FREE], staff=staff) == {"laps": "1/0", "g75 S04": "1/0"}
    assert listed(card, ALERT, items=[GLOVE, FREE], staff=staff) == {"laps": "1/0", "n75 S04": "1/0"}


def test_that_any_latex_free_glove_of_the_size_serves_when_no_twin_is_named() -> None:
    staff = [person("S04", outer_glove="7.5")]
    card = [line("laps", "1/0")]
    gloves = [item("g75", item_class=ItemClass.OUTER_GLOVE, size="7.5", latex=True), FREE]
    assert listed(card, ALERT, items=gloves, staff=staff) == {"laps": "1/0", "n75 S04": "1/0"}
    assert stops(card, ALERT, items=gloves[:1], staff=staff) == ["latex without a twin"]


@pytest.mark.parametrize("alert", ["latex", "LATEX", "Latex allergy", "látex", "l\u0430tex", "Allergy: latex gloves"])
def test_that_every_spelling_of_the_latex_alert_swaps(alert: str) -> None:
    assert listed([line("drain", "1/0")], operation(alerts=(alert,)), items=[DRAIN, TWIN]) == {"clear-drain": "1/0"}


@pytest.mark.parametrize("condition", ["latex", "latex allergy", "látex"])
@pytest.mark.parametrize("alert", ["latex", "latex allergy"])
def test_that_any_condition_on_latex_holds_under_any_latex_alert(condition: str, alert: str) -> None:
    asked = (Condition(kind=ConditionKind.ALERT, value=condition),)
    assert listed([line("mask", "1/0", only_if=asked)], operation(alerts=(alert,))) == {"mask": "1/0"}


UNSAID = item("drain", latex=None)
UNSAID_WITH_TWIN = item("drain", latex=None, latex_free_twin="clear-drain")


def test_that_latex_not_stated_is_no_matter_without_an_alert() -> None:
    assert listed([line("drain", "1/0")], items=[UNSAID]) == {"drain": "1/0"}


def test_that_an_item_whose_latex_is_not_stated_goes_to_its_twin_and_the_list_says_why() -> None:
    needs = resolve_case(house([line("drain", "1/1")], items=[UNSAID_WITH_TWIN, TWIN]), ALERT)
    assert amounts(needs) == {"clear-drain": "1/1"}
    assert "does not state whether it holds latex" in needs.needs[0].reasons[-1].text


@pytest.mark.parametrize(
    "items",
    [
        [UNSAID],
        [UNSAID_WITH_TWIN],
        [UNSAID_WITH_TWIN, item("clear-drain", latex=None)],
        [UNSAID_WITH_TWIN, item("clear-drain", latex=True)],
        [UNSAID_WITH_TWIN, item("clear-drain", retired=True)],
    ],
)
def test_that_the_list_stops_when_latex_is_not_stated_and_no_twin_is_stated_to_be_free(items: list[Item]) -> None:
    needs = resolve_case(house([line("drain", "0/1")], items=items), ALERT)
    (problem,) = needs.stopped
    assert (problem.kind, problem.severity, problem.where.column) == ("latex not stated", Severity.STOPS_CASE, "latex")
    assert "Drain (drain" in problem.message


def test_that_a_latex_item_whose_twin_is_not_stated_to_be_free_stops_the_list() -> None:
    items = [DRAIN, item("clear-drain", latex=None)]
    assert stops([line("drain", "1/0")], ALERT, items=items) == ["latex without a twin"]


def test_that_all_things_not_stated_are_named_in_one_problem() -> None:
    items = [item("drain", latex=None), item("strap", latex=None, item_class=ItemClass.POSITIONING)]
    needs = resolve_case(house([line("drain", "1/0"), line("strap", "0/0"), line("laps", "2/0")], items=items), ALERT)
    (problem,) = needs.stopped
    assert "Drain (drain)" in problem.message
    assert "Strap (strap)" in problem.message
    assert "laps" not in problem.message


def test_that_latex_not_stated_inside_the_pack_stops_the_list() -> None:
    site: dict[str, Any] = {"packs": [PACKED], "procedures": PROCEDURES}
    assert stops([line("gown", "3/0")], ALERT, items=[UNSAID], **site) == ["latex in the pack"]
    assert stops([line("gown", "3/0")], ALERT, items=[item("drain")], **site) == []


def test_that_a_twin_pack_not_stated_to_be_free_is_no_twin() -> None:
    packs = [PACKED, pack("safe", clear_drain=1)]
    items = [DRAIN, item("clear-drain", latex=None), item("pk", latex_free_twin="safe"), item("safe")]
    assert stops([line("gown", "1/0")], ALERT, items=items, packs=packs, procedures=PROCEDURES) == ["latex in the pack"]


def test_that_a_row_of_the_pack_that_could_not_be_read_may_be_latex() -> None:
    packs = [replace(pack("pk", gown=1), unread=(row(71, "Packs"),))]
    needs = resolve_case(house([line("gown", "3/0")], packs=packs, procedures=PROCEDURES), ALERT)
    assert [(one.kind, one.where) for one in needs.stopped] == [("latex in the pack", row(71, "Packs"))]
    assert listed([line("gown", "3/0")], packs=packs, procedures=PROCEDURES) == {"pk": "1/0", "gown": "2/0"}


def test_that_gloves_stated_to_be_free_go_before_gloves_of_which_nothing_is_stated() -> None:
    staff = [person("S04", outer_glove="7.5")]
    unsaid = item("g75", item_class=ItemClass.OUTER_GLOVE, size="7.5", latex=None)
    card = [line("laps", "1/0")]
    assert listed(card, ALERT, items=[unsaid, FREE], staff=staff) == {"laps": "1/0", "n75 S04": "1/0"}
    assert stops(card, ALERT, items=[unsaid], staff=staff) == ["latex not stated"]


def test_that_a_tray_that_holds_latex_stops_the_list_until_the_card_says_what_goes_instead() -> None:
    trays = [tray("scope", latex=True, where=row(3, "Trays")), tray("clear-scope")]
    card = [tray_line("scope")]
    assert stops(card, trays=trays) == []
    (problem,) = resolve_case(house(card, trays=trays), ALERT).stopped
    assert (problem.kind, problem.where) == ("latex in the tray", replace(row(3, "Trays"), column="latex"))
    instead = tray_line("clear-scope", change=Change.REPLACE, instead_of="scope", only_if=only_if("alert latex"))
    assert listed([*card, instead], ALERT, trays=trays) == {"clear-scope": "1/0"}


def test_that_a_tray_that_does_not_say_whether_it_holds_latex_stays() -> None:
    assert listed([tray_line("scope")], ALERT, trays=[tray("scope", latex=None)]) == {"scope": "1/0"}
