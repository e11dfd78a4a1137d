"""The page for the morning names what is open, by the hour at which it presses."""

from __future__ import annotations

from datetime import datetime, timedelta

from picklist.evening.add_reports import with_reporters
from picklist.evening.open_points import KnownFrom, OpenPoints, open_points
from picklist.model.built import BuiltCart, MissingThing, StoodIn, TakenSet, TrayToCome
from picklist.model.conflicts import Conflict, ConflictKind, Remedy
from picklist.model.known import Decision, Known, conflict_key
from picklist.model.plan import Plan
from picklist.model.uses import Deadline, Reuse, Walk
from picklist.problems import NOWHERE, Problem, Severity
from tests.builders import DAY, at
from tests.evening.builders import EVENING, a_case, cart, pick, plan, sundry, tray_line

NOW = EVENING + timedelta(hours=5)  # 23:40


def facts(case: str = "C-1", revision: int = 1, **told: object) -> BuiltCart:
    given: dict[str, object] = {"done": True, "by": "mk"} | told
    report = BuiltCart(day=DAY, case=case, revision=revision, at=NOW, **given)  # type: ignore[arg-type]
    return with_reporters(report, None, report.by, NOW)


def look(
    of: Plan, *told: BuiltCart, decided: dict[str, Decision] | None = None, lists: dict[str, int] | None = None
) -> OpenPoints:
    known = Known(built={one.case: one for one in told}, revisions=lists or {}, decided=decided or {})
    return open_points(of, known, NOW)


def reuse(set_id: str, waiter: str, ready: datetime, slack: int, *deadlines: Deadline, giver: str = "") -> Reuse:
    return Reuse(
        set_id=set_id,
        tray="knee",
        giver=giver,
        waiter=waiter,
        waiter_use=f"{waiter}/knee/1",
        from_state="dirty",
        released=NOW,
        ready=ready,
        least_ready=ready,
        needed=ready + timedelta(minutes=slack),
        slack=slack,
        least_slack=slack,
        deadlines=deadlines,
        walk=Walk(released=NOW, ready=ready, steps=()),
    )


def deadline(act: str, latest: datetime) -> Deadline:
    return Deadline(act=act, station="washers", latest=latest, last_resort=latest + timedelta(minutes=20))


def test_that_a_day_with_every_cart_built_and_nothing_missing_has_nothing_open() -> None:
    one = cart(a_case("C-1"), (tray_line("knee", "KNEE-01"),), (sundry("laps", pick("laps", "L1", 2)),))
    assert look(plan(one), facts()).nothing


def test_that_missing_things_stand_with_case_and_hour_the_earliest_first() -> None:
    late = cart(a_case("C-1", "11:00"), (tray_line("knee", ""),))
    early = cart(a_case("C-2", "07:30", room="OR 2"), (), (sundry("laps", pick("laps", "L1", 2), short=(1, 2)),))
    points = look(plan(late, early)).missing
    assert [(p.case, p.need.thing, p.open, p.hold, p.by, p.source) for p in points] == [
        ("C-2", "laps", 1, 2, at("07:00"), KnownFrom.PLAN),
        ("C-1", "knee", 1, 0, at("10:30"), KnownFrom.PLAN),
    ]


def test_that_what_the_crew_told_missing_names_who_and_what_stood_in() -> None:
    one = cart(a_case("C-1"), (tray_line("knee", "KNEE-01"),), (sundry("laps", pick("laps", "L1", 4, 1)),))
    told = facts(
        missing=(MissingThing(thing="laps", quantity=2), MissingThing(thing="knee", copy=1, quantity=1)),
        stood_in=(StoodIn(thing="laps", stood_in="laps-x", quantity=2),),
    )
    points = look(plan(one), told).missing
    assert [(p.need.thing, p.open, p.hold, p.source, p.who, p.stood_in) for p in points] == [
        ("laps", 1, 1, KnownFrom.CREW, "mk", "laps-x"),
        ("knee", 1, 0, KnownFrom.CREW, "mk", ""),
    ]


def test_that_what_the_plan_was_short_of_is_not_told_a_second_time() -> None:
    one = cart(a_case("C-1"), (), (sundry("laps", pick("laps", "L1", 2), short=(3, 0)),))
    points = look(plan(one), facts(missing=(MissingThing(thing="laps", quantity=3),))).missing
    assert [(p.open, p.source) for p in points] == [(3, KnownFrom.PLAN)]
    more = look(plan(one), facts(missing=(MissingThing(thing="laps", quantity=4),))).missing
    assert sorted((p.open, p.source) for p in more) == [(1, KnownFrom.CREW), (3, KnownFrom.PLAN)]


def test_that_a_set_found_by_the_crew_is_not_missing() -> None:
    one = cart(a_case("C-1"), (tray_line("knee", ""),))
    told = facts(sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-09"),))
    assert look(plan(one), told).missing == ()


def test_that_sets_in_process_say_the_next_deadline_and_those_that_have_passed() -> None:
    one = cart(a_case("C-1", "09:00"), (tray_line("knee", "KNEE-01"),))
    wash, steam = deadline("start wash", NOW - timedelta(minutes=15)), deadline("start steam", at("04:00"))
    urgent = reuse("KNEE-01", "C-1", at("08:10"), 20, wash, steam)
    calm = reuse("KNEE-02", "C-1", at("05:00"), 210)
    there = reuse("KNEE-03", "C-1", NOW - timedelta(minutes=1), 500)
    in_the_day = reuse("KNEE-04", "C-1", at("12:00"), 5, giver="C-1")
    points = look(plan(one, reuses=(calm, urgent, there, in_the_day)), facts()).sets
    assert [p.reuse.set_id for p in points] == ["KNEE-01", "KNEE-02"]
    assert (points[0].next_step, points[0].passed) == (steam, (wash,))
    assert points[1].next_step is None


def conflict(waiter: str, decide_by: datetime | None, minutes: int = 125) -> Conflict:
    remedy = Remedy(edits=(), text=f"start {waiter} at 13:20", cost="", minutes_moved=0, cases_touched=1, overtime=0)
    return Conflict(
        id=f"K-{waiter}",
        kind=ConflictKind.SHORT,
        tray="knee",
        waiter=waiter,
        givers=("C-9",),
        set_id="KNEE-01",
        minutes=minutes,
        statement=f"{waiter} is short by {minutes} min",
        decide_by=decide_by,
        remedies=(remedy,),
    )


def test_that_conflicts_wait_for_a_decision_by_the_last_moment_that_helps() -> None:
    past, soon, never = conflict("C-3", NOW - timedelta(hours=1)), conflict("C-1", at("05:00")), conflict("C-2", None)
    points = look(plan(conflicts=(never, soon, past))).decisions
    assert [(d.conflict.cases[0], d.conflict.decide_by) for d in points] == [
        ("C-3", NOW - timedelta(hours=1)),
        ("C-1", at("05:00")),
        ("C-2", None),
    ]
    assert [one.text for one in points[1].conflict.remedies] == ["start C-1 at 13:20"]


def said(decided: str, told: str = "") -> Decision:
    return Decision(about="", decided=decided, told=told, by="co", at=NOW)


def test_that_a_conflict_of_which_somebody_was_only_told_still_waits() -> None:
    decided = {conflict_key(conflict("C-1", None)): said("", "Dr. Teasel's office")}
    [point] = look(plan(conflicts=(conflict("C-1", None),)), decided=decided).decisions
    assert point.said is not None
    assert point.said.told == "Dr. Teasel's office"


def test_that_a_decided_conflict_is_open_no_more_though_its_minutes_change() -> None:
    decided = {conflict_key(conflict("C-1", None)): said("C-1 moves to 13:20")}
    assert look(plan(conflicts=(conflict("C-1", None, minutes=140),)), decided=decided).decisions == ()


def test_that_carts_say_how_far_they_are() -> None:
    carts = [cart(a_case(f"C-{n}", room=f"OR {n}")) for n in range(4)]
    told = (facts("C-1", done=False), facts("C-2"), facts("C-3"))
    points = look(plan(*carts, revision=2), *told, lists={"C-2": 1, "C-3": 2}).carts
    assert [(p.case, p.state) for p in points] == [
        ("C-0", "not started"),
        ("C-1", "started"),
        ("C-3", "built; list 2 is new, its changes are not reported as made"),
    ]


def test_that_a_stopped_list_stands_with_what_stops_it() -> None:
    why = Problem(kind="side not stated", severity=Severity.STOPS_CASE, where=NOWHERE, message="the side is not stated")
    points = look(plan(cart(a_case("C-1"), stopped=(why,))))
    assert [(p.case, p.state) for p in points.stopped] == [("C-1", "the side is not stated")]
    assert points.carts == ()


def test_that_a_built_cart_that_waits_for_a_tray_stays_among_those_to_finish() -> None:
    one = cart(a_case("C-1"), (tray_line("knee", "KNEE-01"), tray_line("loan", "LOAN-1")))
    waits = TrayToCome(tray="loan", copy=1, set_id="LOAN-1", expected=at("06:00"))
    [point] = look(plan(one), facts(to_come=(waits,))).carts
    assert point.state == "built, waits for LOAN-1 (Thu 26 Nov 06:00)"
    [older] = look(plan(one, revision=2), facts(to_come=(waits,)), lists={"C-1": 2}).carts
    assert older.state.startswith("built, waits for LOAN-1")
    assert "list 2" in older.state


def test_that_a_missing_thing_names_who_reported_it_and_not_who_signed_last() -> None:
    one = cart(a_case("C-1"), (), (sundry("laps", pick("laps", "L1", 4, 1)),))
    gone = MissingThing(thing="laps", quantity=2, by="mk", reported_at=EVENING)
    [point, *_] = look(plan(one), facts(by="mk, rt", missing=(gone,))).missing
    assert point.who == "mk"
