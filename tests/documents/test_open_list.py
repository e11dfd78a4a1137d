"""Everything that is open stands in one list by the time until which it helps to act."""

from __future__ import annotations

from dataclasses import replace

from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.open_list import OpenRow, open_list
from picklist.documents.views.stamp import printing_of
from picklist.evening.open_points import open_points
from picklist.model.built import BuiltCart, MissingThing
from picklist.model.cards import ThingKind
from picklist.model.conflicts import Conflict, ConflictKind
from picklist.model.known import Candidate, Decision, Known, MatchQuestion, Move, PutBack, Seen, conflict_key
from picklist.model.plan import Plan
from picklist.model.schedule import Side
from picklist.problems import NOWHERE, Problem, Severity
from tests.builders import DAY, at
from tests.evening.builders import EVENING, a_case, cart, plan, sundry, tray_line

SHORT = Conflict(
    id="short knee C-2",
    kind=ConflictKind.SHORT,
    tray="knee",
    waiter="C-2",
    givers=(),
    set_id="",
    minutes=40,
    decide_by=at("09:15"),
)
MOVED = Decision(
    about=conflict_key(SHORT),
    decided="start C-2 at 13:20",
    told="ward 4",
    by="co",
    at=EVENING,
    moves=(Move(case="C-2", room="OR 1", start=at("13:20")),),
)
FORMER = Candidate(old_case="C-9", score=3, agrees=("surgeon",), differs=("start",))
NO_SIDE = Problem(kind="side", severity=Severity.STOPS_CASE, where=NOWHERE, message="the side is not stated")


def a_day() -> Plan:
    lacks = cart(a_case("C-1", "08:00"), (), (sundry("laps", short=(2, 0)),))
    waits = cart(a_case("C-2", "10:00"), (tray_line("knee", "", "C-2"),))
    stopped = cart(a_case("C-3", "09:00"), stopped=(NO_SIDE,))
    return plan(lacks, waits, stopped, cart(a_case("C-4", "12:00")), conflicts=(SHORT,))


def back(case: str, set_id: str, to_cart: str = "") -> PutBack:
    return PutBack(
        id=1, revision=1, case=case, kind=ThingKind.TRAY, thing="knee", set_id=set_id, lot="", quantity=1,
        home="T-1", to_cart=to_cart,
    )  # fmt: skip


def rows(of: Plan, said: Decision | None = None) -> tuple[OpenRow, ...]:
    known = Known(
        built={},
        revisions={},
        decided={said.about: said} if said else {},
        questions=(MatchQuestion(new_case="C-4", candidates=(FORMER,)),),
        put_backs=(back("C-8", "HIP-01"), back("C-8", "KNEE-02", "C-1")),
    )
    return open_list(Lookup(of), open_points(of, known, EVENING))


def test_that_conflicts_shortages_holds_questions_and_put_backs_stand_in_the_order_of_time() -> None:
    found = [(one.by, one.kind, one.case, one.what) for one in rows(a_day())]
    assert found == [
        ("07:30", "NO STOCK", "C-1 in OR 1", "Item laps: 2 open"),
        ("07:30", "PUT BACK", "C-8", "onto cart C-1: KNEE-02"),
        ("08:30", "ON HOLD", "C-3 in OR 1", NO_SIDE.sentence()),
        ("09:15", "SHORT", "C-2 in OR 1", "knee: 40 min short"),
        ("11:30", "QUESTION", "C-4 in OR 1", "Is it the former C-9, or a new case?"),
        ("", "PUT BACK", "C-8", "HIP-01"),
    ], "the tray that C-2 lacks is its conflict and no second line"


def test_that_a_decision_is_open_until_the_schedule_shows_it_and_again_when_it_was_not_kept() -> None:
    def of_the_conflict(said: Decision) -> list[tuple[str, str]]:
        return [(one.kind, one.note) for one in rows(a_day(), said) if one.about == MOVED.about]

    arrived, undone = Seen(plan_day=DAY, revision=2, arrived=True), Seen(plan_day=DAY, revision=3, arrived=False)
    [(kind, note)] = of_the_conflict(MOVED)
    assert kind == "TO SCHEDULE"
    assert note.startswith("decided: start C-2 at 13:20; not in the schedule yet; informed: ward 4, Wed 25 Nov 18:40")
    assert of_the_conflict(replace(MOVED, seen=(arrived,))) == []
    [(kind, note)] = of_the_conflict(replace(MOVED, seen=(arrived, undone)))
    assert kind == "SHORT"
    assert "not kept: revision 3 undid it; decide again" in note
    assert of_the_conflict(replace(MOVED, moves=())) == []


def test_that_what_is_past_says_so_and_the_evening_sheet_has_the_same_rows() -> None:
    late = replace(a_day(), now=at("08:00"))
    points = open_points(late, Known(built={}, revisions={}, decided={}), at("08:00"))
    assert [one.by for one in open_list(Lookup(late), points) if one.past] == ["07:30"]
    assert EveningView(Lookup(late), lambda _: printing_of(late)).open == open_list(Lookup(late), points)


def open_of(day: Plan, told: tuple[BuiltCart, ...] = (), said: tuple[Decision, ...] = ()) -> list[tuple[str, str]]:
    """Kind and thing of each line of a day of which the crew reported and somebody decided so much."""
    known = Known(built={one.case: one for one in told}, revisions={}, decided={one.about: one for one in said})
    return [(one.kind, one.what) for one in open_list(Lookup(day), open_points(day, known, EVENING))]


def test_that_a_tray_that_the_crew_does_not_find_stands_beside_a_conflict_about_it() -> None:
    """KNEE-01 comes to C-2 with ten minutes to spare, so its tray is tight; at night it is not on its shelf."""
    tight = replace(SHORT, kind=ConflictKind.TIGHT, set_id="KNEE-01", minutes=10)
    day = plan(cart(a_case("C-2", "10:00"), (tray_line("knee", "KNEE-01", "C-2"),)), conflicts=(tight,))
    missing = (MissingThing(thing="knee", copy=1, quantity=1),)
    told = BuiltCart(day=DAY, case="C-2", revision=1, at=EVENING, done=True, by="mk", missing=missing)
    assert open_of(day, (told,)) == [("TIGHT", "knee: 10 min to spare"), ("MISSING", "Knee: 1 open")]


def test_that_a_case_that_lacks_left_and_right_of_a_tray_has_a_line_for_each() -> None:
    """What is decided of the left one leaves the right one open."""
    left = replace(SHORT, side=Side.LEFT)
    right = replace(SHORT, id="short knee C-2/2", copy=2, side=Side.RIGHT)
    trays = (tray_line("knee", "", "C-2"), tray_line("knee", "", "C-2", copy=2))
    day = plan(cart(a_case("C-2", "10:00"), trays), conflicts=(left, right))
    assert open_of(day) == [("SHORT", "knee, left: 40 min short"), ("SHORT", "knee, right: 40 min short")]
    said = replace(MOVED, about=conflict_key(left), moves=())
    assert open_of(day, said=(said,)) == [("SHORT", "knee, right: 40 min short")]
