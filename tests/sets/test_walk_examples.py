"""Worked examples of our own, not published: what turnaround means, with the wrong answers ruled out.

Lead 30, haul 10; a set is needed at start less lead and received at the end plus haul.
"""

from __future__ import annotations

from dataclasses import replace

from picklist.model.cards import ThingKind
from picklist.model.needs import CaseNeeds, Need
from picklist.model.routes import Departure, Route, Station, Step, StepOnlyFor
from picklist.model.schedule import Case
from picklist.model.sets import InstrumentSet
from picklist.model.site import Site
from picklist.model.uses import Act, Pace, Reuse, Use
from picklist.sets.case_uses import make_uses
from picklist.sets.reuse import reuse_after
from picklist.sets.turnaround import Turnaround
from tests.builders import at, case, copies, straight_route, tray, utc_settings


def uses_of(site: Site, hold: bool = False) -> tuple[Use, ...]:
    """Every case of the site wants one set of tray T; the first only on hold when asked."""
    needs = [CaseNeeds(case=one.number, needs=(wanted(one, hold=hold and one is site.cases[0]),)) for one in site.cases]
    return make_uses(site, needs, site.cases)


def wanted(one: Case, hold: bool) -> Need:
    return Need(case=one.number, kind=ThingKind.TRAY, thing="T", name="T", open=int(not hold), hold=int(hold))


def one_set(site: Site) -> InstrumentSet:
    return next(iter(site.sets.values()))


def reuse_of(site: Site, hold: bool = False) -> Reuse:
    first, second = uses_of(site, hold)
    found = reuse_after(Turnaround(site), one_set(site), first, second)
    assert found is not None
    return found


def wrist_site(*cases: Case) -> Site:
    route = straight_route("R", ("process", 190, 190))
    return Site(settings=utc_settings(), cases=cases, routes={"R": route}, trays={"T": tray("T")}, sets=copies("T", 1))


def test_third_wrist_is_short_by_125_and_not_by_85() -> None:
    reuse = reuse_of(wrist_site(case("1", "07:30", 120), case("3", "11:15", 120)))
    assert (reuse.released, reuse.ready, reuse.needed) == (at("09:40"), at("12:50"), at("10:45"))
    assert reuse.slack == -125
    into = reuse.deadline_of(Act.INTO_DECONTAMINATION)
    assert into is not None
    assert into.latest == at("07:35")
    out = reuse.deadline_of(Act.OUT_OF_ROOM)
    assert out is not None
    assert out.latest == at("07:25")


def test_second_wrist_set_is_ready_later_still() -> None:
    reuse = reuse_of(wrist_site(case("2", "08:00", 135), case("3", "11:15", 120)))
    assert (reuse.ready, reuse.slack) == (at("13:35"), -170)


def test_a_third_wrist_at_1320_is_just_in_time() -> None:
    assert reuse_of(wrist_site(case("1", "07:30", 120), case("3", "13:20", 120))).slack == 0
    assert reuse_of(wrist_site(case("1", "07:30", 120), case("3", "13:19", 120))).slack == -1


def implant_route(indicator: int) -> Route:
    clean = straight_route("R", ("clean", 30, 30), ("wash", 55, 55), ("assemble", 35, 35), ("steam", 70, 70))
    cool = Step(name="cool", after=("steam",), usual_minutes=45, least_minutes=45)
    reading = Step(
        name="indicator",
        after=("steam",),
        usual_minutes=indicator + 10,
        least_minutes=indicator + 10,
        only_for=StepOnlyFor.IMPLANTS,
    )
    return replace(clean, steps=(*clean.steps, cool, reading))


def implant_site(indicator: int, implants: bool = True, wait: bool = True) -> Site:
    return Site(
        settings=utc_settings(implants_wait=wait),
        cases=(case("1", "07:30", 90), case("2", "14:00", 60)),
        routes={"R": implant_route(indicator)},
        trays={"T": tray("T", implants=implants)},
        sets=copies("T", 1),
    )


def test_a_short_indicator_runs_beside_the_cooling_and_costs_nothing() -> None:
    reuse = reuse_of(implant_site(24))
    assert (reuse.ready, reuse.slack) == (at("13:05"), 25)  # added to the cooling it would be 13:39


def test_a_long_indicator_counts_and_not_the_cooling() -> None:
    reuse = reuse_of(implant_site(180))
    assert (reuse.ready, reuse.slack) == (at("15:30"), -120)


def test_the_indicator_is_only_for_implants_and_where_the_site_waits() -> None:
    assert reuse_of(implant_site(180, implants=False)).ready == at("13:05")
    assert reuse_of(implant_site(180, wait=False)).ready == at("13:05")


def staircase_site(*cases: Case) -> Site:
    clean, wash, assemble, steam, cool = straight_route(
        "R", ("clean", 25, 25), ("wash", 50, 50), ("assemble", 35, 35), ("steam", 70, 70), ("cool", 40, 40)
    ).steps
    steps = (clean, replace(wash, station="washers"), assemble, replace(steam, station="sterilizers"), cool)
    stations = (Station(id="washers", start_every=30), Station(id="sterilizers", start_every=60))
    return Site(
        settings=utc_settings(),
        cases=cases,
        routes={"R": Route(id="R", steps=steps)},
        stations={one.id: one for one in stations},
        trays={"T": tray("T")},
        sets=copies("T", 1),
    )


def test_seven_minutes_later_into_the_washer_cost_an_hour() -> None:
    timed_route = Turnaround(staircase_site()).timed_route("T", Pace.USUAL)
    assert timed_route is not None
    late = timed_route.walk_after(at("09:12"))
    assert late is not None
    begins = {step.step: step.begins for step in late.steps}
    assert (begins["wash"], begins["steam"], late.ready) == (at("10:00"), at("12:00"), at("13:50"))
    assert timed_route.ready(at("09:05")) == at("12:50")
    assert timed_route.release(at("13:00")) == at("09:05")  # a plain sum of 220 would say 09:20


def test_the_staircase_shows_in_the_deadlines_of_the_reuse() -> None:
    reuse = reuse_of(staircase_site(case("1", "07:00", 115), case("2", "13:30", 60)))
    assert [(one.act, one.latest) for one in reuse.deadlines] == [
        ("out of the room", at("08:55")),
        ("into decontamination", at("09:05")),
        ("start clean", at("09:05")),
        ("start wash", at("09:30")),
        ("start assemble", at("10:25")),
        ("start steam", at("11:00")),
        ("start cool", at("12:20")),
        ("cool done", at("13:00")),
        ("on the cart", at("13:00")),
    ]
    assert (reuse.slack, reuse.break_even) == (10, 0)  # ten minutes to spare, and none to overrun


def off_site(minutes: int) -> Site:
    pack, out, process, back, put_up = straight_route(
        "R", ("pack", 15, 15), ("drive out", 40, 40), ("process", 200, 200), ("drive back", 40, 40), ("store", 20, 20)
    ).steps
    steps = (replace(pack, in_room=True), replace(out, run="out"), process, replace(back, run="back"), put_up)
    leaves = {"out": ("10:00", "13:00", "17:00", "21:00"), "back": ("15:00", "18:00", "21:30", "05:00")}
    departures = tuple(
        Departure(run=run, weekday=day, leaves=at(wall).time())
        for run, walls in leaves.items()
        for wall in walls
        for day in range(7)
    )
    return Site(
        settings=utc_settings(),
        cases=(case("1", "09:00", minutes), case("2", "19:45", 60)),
        routes={"R": Route(id="R", steps=steps)},
        departures=departures,
        trays={"T": tray("T")},
        sets=copies("T", 1),
    )


def test_off_site_processing_waits_for_the_vans() -> None:
    reuse = reuse_of(off_site(200))
    assert (reuse.released, reuse.ready, reuse.slack) == (at("12:20"), at("19:00"), 15)
    out = reuse.deadline_of(Act.OUT_OF_ROOM)
    assert out is not None
    assert out.latest == at("12:45")  # the last safe patient-out
    assert reuse.break_even == 25


def test_off_site_missing_the_van_costs_the_evening() -> None:
    reuse = reuse_of(off_site(230))
    assert (reuse.released, reuse.ready, reuse.slack) == (at("12:50"), at("22:30"), -195)


def test_a_set_on_hold_gives_two_answers() -> None:
    reuse = reuse_of(wrist_site(case("1", "07:30", 150), case("2", "12:00", 60)), hold=True)
    assert (reuse.if_unopened_ready, reuse.if_unopened_slack) == (at("10:15"), 75)
    assert (reuse.ready, reuse.slack) == (at("13:20"), -110)


def test_a_set_that_is_opened_has_no_answer_for_unopened() -> None:
    reuse = reuse_of(wrist_site(case("1", "07:30", 150), case("2", "12:00", 60)))
    assert (reuse.if_unopened_ready, reuse.if_unopened_slack) == (None, None)
