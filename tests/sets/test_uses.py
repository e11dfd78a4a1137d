"""Which case binds a set, from when until when."""

from __future__ import annotations

from dataclasses import replace

from picklist.model.cards import ThingKind
from picklist.model.catalogue import StandIn
from picklist.model.needs import CaseNeeds, Need
from picklist.model.routes import Route, Step
from picklist.model.schedule import Case, CaseStatus, Room, Side
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site
from picklist.model.uses import Use
from picklist.problems import NOWHERE, Problem, Severity
from picklist.sets.case_uses import make_uses, planned_minutes
from picklist.sets.turnaround import Turnaround
from picklist.settings import SetFreedAt, Settings, StartMeans
from tests.builders import at, case, straight_route, tray, utc_settings


def site_of(*cases: Case, settings: Settings | None = None, **groups: object) -> Site:
    base: dict[str, object] = {
        "settings": settings or utc_settings(),
        "cases": cases,
        "routes": {"R": straight_route("R", ("process", 190, 100))},
        "trays": {"T": tray("T"), "U": tray("U")},
    }
    return Site(**(base | groups))  # type: ignore[arg-type]


def want(number: str, thing: str = "T", opened: int = 1, hold: int = 0, side: Side | None = None) -> Need:
    return Need(case=number, kind=ThingKind.TRAY, thing=thing, name=thing, open=opened, hold=hold, side=side)


def uses(site: Site, *needs: Need) -> tuple[Use, ...]:
    numbers = dict.fromkeys(need.case for need in needs)
    grouped = [CaseNeeds(case=one, needs=tuple(need for need in needs if need.case == one)) for one in numbers]
    return make_uses(site, grouped, site.cases)


def test_times_of_a_use_with_plain_settings() -> None:
    (use,) = uses(site_of(case("1", "07:30", 120, priority=3)), want("1"))
    assert (use.needed, use.starts, use.ends) == (at("07:00"), at("07:30"), at("09:30"))
    assert (use.leaves_room, use.received, use.weight) == (at("09:30"), at("09:40"), 3)


def test_a_start_that_means_incision_needs_the_cart_sooner() -> None:
    settings = utc_settings(start_means=StartMeans.INCISION, incision_after=25)
    (use,) = uses(site_of(case("1", "07:55", 120), settings=settings), want("1"))
    assert (use.needed, use.starts, use.ends) == (at("07:00"), at("07:30"), at("09:30"))


def test_sets_freed_at_closure_leave_sooner_and_the_room_release_later() -> None:
    settings = utc_settings(set_freed_at=SetFreedAt.CLOSURE, closure_before=15, room_release=5)
    (use,) = uses(site_of(case("1", "07:30", 120), settings=settings), want("1"))
    assert (use.ends, use.leaves_room, use.received) == (at("09:15"), at("09:20"), at("09:30"))
    assert planned_minutes(settings, use) == 120


def test_open_copies_are_counted_before_those_on_hold() -> None:
    found = uses(site_of(case("1", "07:30", 60)), want("1", opened=1, hold=1), want("1", opened=1))
    assert [(use.copy, use.on_hold) for use in found] == [(1, False), (2, False), (3, True)]
    assert len({use.key for use in found}) == 3


def test_side_counts_only_for_trays_that_have_one() -> None:
    site = site_of(case("1", "07:30", 60), trays={"T": tray("T", sided=True), "U": tray("U")})
    left, plain = uses(site, want("1", side=Side.LEFT), want("1", "U", side=Side.LEFT))
    assert (left.side, plain.side) == (Side.LEFT, None)


def test_stopped_done_and_cancelled_cases_make_no_use() -> None:
    site = site_of(
        case("1", "07:30", 60),
        case("2", "07:30", 60, status=CaseStatus.DONE),
        case("3", "07:30", 60),
        case("4", "09:00", 1),
    )
    site = replace(site, cases=(*site.cases[:2], replace(site.cases[2], status=CaseStatus.CANCELLED), site.cases[3]))
    stop = Problem(kind="side missing", severity=Severity.STOPS_CASE, where=NOWHERE, message="no side is stated")
    needs = [CaseNeeds(case=one, needs=(want(one),)) for one in "234"]
    needs.append(CaseNeeds(case="1", needs=(want("1"),), stopped=(stop,)))
    assert [use.case for use in make_uses(site, needs, site.cases)] == ["4"]


def test_a_running_case_binds_what_it_has_and_claims_only_what_it_lacks() -> None:
    running = case("1", "07:30", 60, status=CaseStatus.RUNNING)
    held = {"T-01": InstrumentSet(id="T-01", tray="T", state=SetState.IN_USE, in_case="1")}
    site = site_of(running, sets=held)
    assert uses(site, want("1")) == ()
    assert [use.copy for use in uses(site, want("1", opened=2))] == [2]


def test_a_tray_that_stands_in_counts_as_in_hand() -> None:
    running = case("1", "07:30", 60, status=CaseStatus.RUNNING)
    held = {"U-01": InstrumentSet(id="U-01", tray="U", state=SetState.IN_USE, in_case="1")}
    trays = {"T": tray("T", stand_ins=(StandIn(tray="U", preference=1),)), "U": tray("U")}
    assert uses(site_of(running, sets=held, trays=trays), want("1")) == ()


def test_the_route_of_the_tray_given_says_when_it_is_free() -> None:
    packed = Route(id="P", steps=(Step(name="pack", usual_minutes=15, least_minutes=15, in_room=True),))
    site = site_of(
        case("1", "07:30", 120, room="OR 9"),
        trays={"T": tray("T"), "V": tray("V", "P")},
        routes={"R": straight_route("R", ("process", 190, 100)), "P": packed},
        rooms={"OR 9": Room(id="OR 9", building="Annex")},
    )
    asked, own = uses(site, want("1"), want("1", "V"))
    turnaround = Turnaround(site)
    assert asked.building == "Annex"
    assert (asked.received, own.received) == (at("09:40"), at("09:30"))
    assert turnaround.free_after(asked, "T") == at("12:50")
    assert turnaround.free_after(asked, "V") == at("09:45")  # the stand-in is packed in the room


def test_a_tray_that_no_table_lists_makes_no_use() -> None:
    assert uses(site_of(case("1", "07:30", 60)), want("1", "X")) == ()


def test_uses_are_in_order_of_need() -> None:
    site = site_of(case("2", "09:30", 60), case("1", "07:30", 60))
    assert [use.key for use in uses(site, want("2"), want("1", "U"), want("1"))] == ["1/T/1", "1/U/1", "2/T/1"]
