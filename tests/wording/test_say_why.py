"""Why a thing is on the list, or why it is not."""

from __future__ import annotations

from datetime import date

from picklist.model.catalogue import Procedure, TrayInstrument
from picklist.resolve import gather_problems, resolve_case, resolve_cases
from picklist.wording.say_why import explain_need, explain_thing, find_dropped, find_needs
from tests.builders import case, tray
from tests.resolve.cards import (
    SURGEON,
    house,
    item,
    line,
    only_if,
    operation,
    pack,
    removing,
    replacing,
    row,
    tray_line,
)

CARD = [
    line("gown", "5/0", where=row(2)),
    line("gown", "2/0", procedure="P2", where=row(3)),
    line("gown", "1/1", surgeon=SURGEON, where=row(4)),
    line("drain", "1/0", where=row(5)),
    line("laps", "2/0", where=row(6)),
    replacing("sponge", instead_of="laps", surgeon=SURGEON, where=row(7)),
    line("cover", "2/0", where=row(8)),
    line("mask", "1/0", only_if=only_if("size child"), where=row(9)),
    line("towel", "1/0", where=row(10)),
    removing("towel", surgeon=SURGEON, where=row(11)),
    line("clip", "1/0", approved=False, where=row(12)),
]
ITEMS = [item("drain", latex=True, latex_free_twin="clear-drain"), item("clear-drain"), item("gown")]
SITE = house(
    CARD,
    items=ITEMS,
    packs=[pack("pk", gown=3, cover=2)],
    procedures=[Procedure(id="P1", name="P1", pack="pk", where=row(40, "Procedures"))],
)
NEEDS = resolve_case(SITE, operation("P1", "P2", alerts=("latex",), patient_size="adult"))


def test_that_the_chain_names_each_link_with_its_place() -> None:
    (need,) = find_needs(NEEDS, "gown")
    assert (need.open, need.hold) == (3, 1)
    chain = explain_need(need)
    assert [place(link) for link in chain] == ["row 2", "row 4", "row 3", "", "row 70"]
    assert "add item gown (1 open and 1 hold): 6 open and 1 hold" in chain[1]
    assert "one team takes the larger" in chain[3]
    assert "pack pk holds 3: 3 open and 1 hold" in chain[4]


def place(link: str) -> str:
    return link.rpartition("[")[2].rstrip("]").rpartition(", ")[2] if "[" in link else ""


def test_that_a_thing_that_is_not_listed_is_explained() -> None:
    for thing, words, where in [
        ("drain", "clear-drain goes in its place", "row 90"),
        ("laps", "replace item sponge instead of laps (Laps)", "row 7"),
        ("cover", "pack pk holds 2", "row 70"),
        ("mask", "only if size child; the case's patient size: adult", "row 9"),
        ("towel", "remove item towel", "row 11"),
    ]:
        assert thing not in {need.thing for need in NEEDS.needs}
        (dropped,) = find_dropped(NEEDS, thing)
        last = explain_need(dropped)[-1]
        assert words in last
        assert where in last
        assert f"  {last}" in explain_thing(NEEDS, thing)


def test_that_pack_contents_pending_lines_and_strangers_are_explained() -> None:
    assert any("3 in the pack" in text for text in explain_thing(NEEDS, "gown"))
    assert any(text.startswith("pending:") and "row 12" in text for text in explain_thing(NEEDS, "clip"))
    assert explain_thing(NEEDS, "anvil") == ("anvil: no card line in force asks for it for case C1",)


def test_that_a_tray_says_what_is_listed_in_it_and_an_instrument_in_which_tray_it_is() -> None:
    holder = TrayInstrument(instrument="Needle holder 7 in", quantity=2, where=row(5, "Tray contents"))
    clamp = TrayInstrument(instrument="Clamp", quantity=6, where=row(6, "Tray contents"))
    basic, spare = tray("basic", instruments=(holder, clamp)), tray("spare", instruments=(holder,))
    site = house([tray_line("basic"), line("gown", "1/0")], trays=[basic, spare], items=[item("gown")])
    needs = resolve_case(site, operation())

    asked = explain_thing(needs, "basic", site.trays)
    assert asked[-3].startswith("  listed in it [")
    assert asked[-2:] == ("    2 Needle holder 7 in", "    6 Clamp")
    (found,) = explain_thing(needs, "needle", site.trays)  # the spare tray is not on this case's list
    assert found.startswith("tray basic Basic: lists 2 Needle holder 7 in [")
    assert "row 5" in found
    assert explain_thing(needs, "rongeur", site.trays) == ("rongeur: no card line in force asks for it for case C1",)


def test_that_things_are_found_by_id_first_and_then_by_words_of_their_name() -> None:
    assert [need.thing for need in find_needs(NEEDS, " GOWN ")] == ["gown"]
    assert [need.thing for need in find_needs(NEEDS, "clear")] == ["clear-drain"]
    assert find_needs(NEEDS, "  ") == ()


def test_that_a_stopped_list_says_what_stops_it() -> None:
    needs = resolve_case(house([tray_line("knee")], trays=[tray("knee", sided=True)]), operation())
    first, last = explain_thing(needs, "knee")
    assert "on hold, so nothing is on it" in first
    assert "the side is blank" in last


def test_that_an_older_version_is_named_in_the_chain() -> None:
    card = [line("gown", "3/0", where=row(2)), line("gown", "4/0", begins=date(2026, 3, 13), where=row(3))]
    (need,) = resolve_case(house(card), operation()).needs
    first, last = explain_need(need)
    assert "a later version counts" in first
    assert "row 2" in first
    assert "from 2026-03-13" in last


def test_that_a_problem_of_many_cases_is_told_once_with_all_of_them() -> None:
    site = house([line("gown", "1/0"), removing("laps", where=row(9))])
    cases = [case(number, "07:30", 60) for number in ("C1", "C2", "C3")]
    (problem,) = gather_problems(resolve_cases(site, cases))
    assert (problem.kind, problem.where, problem.cases) == ("removes nothing", row(9), ("C1", "C2", "C3"))


def test_that_many_cases_are_resolved_as_each_alone() -> None:
    cases = [operation("P1"), operation("P2", alerts=("latex",)), operation("P2", "P1", fields=2)]
    assert resolve_cases(SITE, cases) == tuple(resolve_case(SITE, one) for one in cases)
