"""What the sheets do not state about a tray takes the careful way, and the list of the case that it touches says so."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from picklist.documents.views.bulk import BulkView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.remarks import remarks
from picklist.documents.views.tray_rows import tray_rows
from picklist.model.catalogue import StandIn
from picklist.model.routes import Route, Step, StepOnlyFor
from picklist.model.schedule import Case, Side
from picklist.model.sets import SetState
from picklist.model.site import Site
from picklist.problems import Where
from tests.builders import at, case, says_of_sets, straight_route, tray
from tests.plan.nights import cart_of, hospital, lines_of, planned, shelf

NOW = at("06:00")


def right_case(**changes: object) -> Case:
    return case("C1", "09:00", 60, side=Side.RIGHT, **changes)  # type: ignore[arg-type]


def notes(site: Site) -> list[str]:
    plan = planned(site, NOW)
    return [row.note for row in tray_rows(Lookup(plan), cart_of(plan, "C1"))]


def test_a_set_of_unknown_state_is_given_to_nobody_and_the_list_says_to_look_for_it() -> None:
    unknown = shelf("wrist-1", state=SetState.UNKNOWN)
    site = hospital((right_case(),), (unknown,))
    assert [one.set_id for one in lines_of(planned(site, NOW), "C1")] == [""]
    assert notes(site) == ["state not recorded, so look for: wrist-1"]


def test_a_set_of_a_sided_tray_that_does_not_say_its_side_is_given_to_nobody() -> None:
    sets = (shelf("wrist-1"), shelf("wrist-L", side=Side.LEFT))
    site = hospital((right_case(),), sets, trays=(tray("wrist", sided=True),))
    plan = planned(site, NOW)
    assert [one.set_id for one in lines_of(plan, "C1")] == [""]
    assert notes(site) == ["left or right not recorded, so look at: wrist-1"]
    (conflict,) = (one for one in plan.conflicts)
    assert says_of_sets(conflict) == {"wrist-1": "left or right is not recorded", "wrist-L": "left, does not fit"}


def test_such_a_set_does_not_count_as_one_that_is_kept_ready() -> None:
    sets = (shelf("wrist-1"), shelf("wrist-R", side=Side.RIGHT))
    site = hospital((right_case(),), sets, trays=(tray("wrist", sided=True, keep_ready=1),))
    kinds = [one.kind.value for one in planned(site, NOW).conflicts]
    assert kinds == ["reserve"]


def test_where_nothing_says_whether_a_tray_is_sided_the_list_asks_to_check_the_side() -> None:
    site = hospital((right_case(),), (shelf("wrist-1"),), trays=(tray("wrist", sided=None),))
    assert notes(site) == ["not stated whether its sets are left or right: check the side"]
    without = replace(site, cases=(replace(site.cases[0], side=Side.NOT_SIDED),))
    assert notes(without) == [""]


def with_indicator(site: Site) -> Site:
    steps = straight_route("R", ("wash", 60, 40), ("sterilize", 120, 80)).steps
    indicator = Step(
        name="indicator",
        after=("sterilize",),
        usual_minutes=180,
        least_minutes=180,
        only_for=StepOnlyFor.IMPLANTS,
    )
    return replace(site, routes={"R": Route(id="R", steps=(*steps, indicator))})


def test_a_tray_that_may_hold_implants_waits_for_the_indicator_and_the_list_says_so() -> None:
    """Dirty at 06:00, 180 minutes by the route and 180 more for the indicator: 12:00, not 09:00."""
    ready = {}
    for implants in (False, None, True):
        dirty = shelf("wrist-1", state=SetState.DIRTY)
        late = replace(right_case(), start=at("15:00"))
        site = with_indicator(hospital((late,), (dirty,), trays=(tray("wrist", implants=implants),)))
        (line,) = lines_of(planned(site, NOW), "C1")
        ready[implants] = line.expected
        told = "not stated whether it holds implants: counted with the steps that are only for implants"
        assert notes(site) == [told if implants is None else ""]
    assert ready == {False: at("09:00"), None: at("12:00"), True: at("12:00")}


def test_a_set_on_the_shelf_without_a_place_says_that_its_place_is_not_recorded() -> None:
    plan = planned(hospital((right_case(),), (shelf("wrist-1", place=""),)), NOW)
    found = Lookup(plan)
    (row,) = tray_rows(found, cart_of(plan, "C1"))
    assert row.facts[0] == ("on the shelf", "place not recorded", True)
    assert [one.place for group in BulkView(found).sets for one in group.rows] == ["place not recorded"]


def said(site: Site) -> list[str]:
    """What the list of C1 says is not stated."""
    return [text for name, text in remarks(cart_of(planned(site, NOW), "C1")) if name == "Not stated:"]


def two_trays(*ends: bool, state: SetState = SetState.ON_SHELF) -> Site:
    kinds = ("wrist", "elbow")
    sets = tuple(
        replace(shelf(f"{kind}-1", state=state), tray=kind, end_recorded=end)
        for kind, end in zip(kinds, ends, strict=True)
    )
    site = hospital((right_case(),), sets, trays=tuple(tray(kind) for kind in kinds))
    return replace(site, card_lines=tuple(replace(site.card_lines[0], thing=kind) for kind in kinds))


def test_sets_without_an_end_of_their_record_are_named_in_one_line_of_the_list() -> None:
    both = ["the last day of recorded sterility of wrist-1 and elbow-1; check the package"]
    assert said(two_trays(False, False)) == both
    assert said(two_trays(True, False)) == [both[0].replace("wrist-1 and elbow-1", "elbow-1")]
    assert said(two_trays(True, True)) == []


def test_a_set_that_is_sterilized_first_gets_a_new_record_and_is_not_named() -> None:
    assert said(two_trays(False, False, state=SetState.DIRTY)) == []


def test_card_lines_that_nobody_says_are_approved_are_named_in_one_line_of_the_list() -> None:
    site = two_trays(True, True)
    rows = [Where(file="cards.xlsx", sheet="Cards", row=number) for number in (4, 9)]
    lines = [replace(one, where=row) for one, row in zip(site.card_lines, rows, strict=True)]
    assert said(replace(site, card_lines=tuple(lines))) == []
    unsaid = tuple(replace(one, approval_stated=False) for one in lines)
    assert said(replace(site, card_lines=unsaid)) == [
        "whether 2 card lines are approved (first cards.xlsx, sheet Cards, row 4); they count as approved"
    ]
    ended = replace(unsaid[1], ends=right_case().day - timedelta(days=1))
    assert said(replace(site, card_lines=(unsaid[0], ended))) == [
        "whether a card line is approved (cards.xlsx, sheet Cards, row 4); it counts as approved"
    ]


def test_under_a_latex_alert_a_tray_that_does_not_say_whether_it_holds_latex_is_named() -> None:
    site = hospital((right_case(alerts=("Latex allergy",)),), (shelf("wrist-1"),), trays=(tray("wrist", latex=None),))
    (note,) = notes(site)
    assert "not stated whether anything in it holds latex" in note
    without = replace(site, cases=(replace(site.cases[0], alerts=()),))
    assert notes(without) == [""]


def test_a_tray_that_holds_latex_does_not_stand_in_under_a_latex_alert() -> None:
    """The only wrist set is incomplete; an elbow set may stand in, but holds latex."""
    kinds = (
        tray("wrist", stand_ins=(StandIn(tray="elbow", preference=1),)),
        tray("elbow", latex=True),
    )
    sets = (shelf("wrist-1", state=SetState.INCOMPLETE), replace(shelf("elbow-1"), tray="elbow"))
    site = hospital((right_case(),), sets, trays=kinds)
    alert = replace(site, cases=(right_case(alerts=("latex",)),))
    assert [one.set_id for one in lines_of(planned(site, NOW), "C1")] == ["elbow-1"]
    assert [one.set_id for one in lines_of(planned(alert, NOW), "C1")] == [""]
