"""What on a printed list is worth new paper, and what may stay: small shifts do not add up unseen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from picklist.documents.plan_json import plan_from_json, plan_to_json
from picklist.evening.changes import CartChange, CartChangeKind
from picklist.evening.compare import compare_plans
from picklist.evening.revise import Schedule, begin_revision, finish_revision, what_changes
from picklist.model.conflicts import Conflict, ConflictKind, Edit, Remedy, RemedyKind
from picklist.model.plan import Cart, Plan, SundryLine
from picklist.model.schedule import Side
from picklist.model.sets import InstrumentSet
from picklist.model.uses import Reuse
from picklist.problems import Problem, Severity, Where
from picklist.store.state import StateFile, open_state
from tests.builders import DAY, at
from tests.evening.builders import a_case, cart, comes, give_back, pick, plan, sundry, tray_line

HELD = cart(a_case("C-5", "06:00", room="OR 5"))


def knee(**changes: object) -> Cart:
    fields: dict[str, object] = {"conflicts": ("K1",), "give_back": give_back("09:00", "09:10", "C-5")}
    line = tray_line("knee", "KNEE-01", "", expected=at("12:00"), **(fields | changes))
    return cart(a_case("C-1", "13:00"), (line,), (sundry("laps", pick("laps", "L1", 2, 1)),))


def conflict(**changes: object) -> Conflict:
    fields: dict[str, object] = {
        "id": "K1",
        "kind": ConflictKind.TIGHT,
        "tray": "knee",
        "waiter": "C-1",
        "givers": ("C-5",),
        "set_id": "KNEE-01",
        "minutes": 12,
        "statement": "12 min to spare",
    }
    return Conflict(**(fields | changes))  # type: ignore[arg-type]


def evening(one: Cart, revision: int = 2, told: Conflict | None = None, reuse: Reuse | None = None) -> Plan:
    return plan(HELD, one, revision=revision, conflicts=(told or conflict(),), reuses=(reuse or comes(),))


def changed(new: Plan) -> CartChange:
    change = compare_plans(evening(knee(), 1), new).of_live("C-1")
    assert change is not None
    return change


def of_case(**changes: object) -> Cart:
    return replace(knee(), case=replace(knee().case, **changes))  # type: ignore[arg-type]


def with_line(**changes: object) -> Cart:
    return replace(knee(), trays=(replace(knee().trays[0], **changes),))  # type: ignore[arg-type]


def coming(time: str) -> Plan:
    return evening(with_line(expected=at(time)), reuse=comes(time))


def renamed(line: SundryLine, name: str) -> SundryLine:
    return replace(line, need=replace(line.need, name=name))


STOP = Problem(kind="k", severity=Severity.STOPS_CASE, where=Where(file="cards.xlsx"), message="m", cases=("C-1",))
REMEDIES = tuple(
    Remedy(edits=(Edit(kind=RemedyKind.FASTER),), text=text, cost="", minutes_moved=0, cases_touched=0, overtime=0)
    for text in ("wash at once", "swap two cases")
)

RENEWED = {
    "another room": evening(of_case(room="OR 2")),
    "another start": evening(of_case(start=at("13:05"))),
    "complete five minutes sooner": evening(replace(knee(), complete_by=at("12:25"))),
    "another side": evening(replace(knee(), side=Side.LEFT)),
    "another surgeon": evening(replace(knee(), surgeon_name="Dr. Other")),
    "another operation": evening(replace(knee(), procedure_names=("Other",))),
    "an alert": evening(of_case(alerts=("latex",))),
    "a note": evening(of_case(notes="bring the old films")),
    "another size": evening(of_case(patient_size="child")),
    "another set": evening(with_line(set_id="KNEE-02")),
    "no set": evening(with_line(set_id="")),
    "a stand-in": evening(with_line(stand_in_for="Knee, new")),
    "another lot": evening(replace(knee(), sundries=(sundry("laps", pick("laps", "L2", 2, 1)),))),
    "one more": evening(replace(knee(), sundries=(sundry("laps", pick("laps", "L1", 3, 1)),))),
    "one held instead of open": evening(replace(knee(), sundries=(sundry("laps", pick("laps", "L1", 1, 2)),))),
    "an item by another name": evening(
        replace(knee(), sundries=(renamed(sundry("laps", pick("laps", "L1", 2, 1)), "Sponge, large"),))
    ),
    "a tray by another name": evening(with_line(need=replace(knee().trays[0].need, name="Knee, new model"))),
    "one short": evening(replace(knee(), sundries=(sundry("laps", pick("laps", "L1", 2, 1), short=(1, 0)),))),
    "a deadline a minute sooner": evening(knee(give_back=give_back("08:59", "09:10", "C-5"))),
    "a deadline half an hour later": evening(knee(give_back=give_back("09:30", "09:40", "C-5"))),
    "given back for another": evening(knee(give_back=give_back("09:00", "09:10", "C-9"))),
    "expected a quarter later": coming("12:15"),
    "expected a quarter sooner": coming("11:45"),
    "from another case": evening(knee(), reuse=comes(giver="C-6")),
    "a graver conflict": evening(knee(), told=conflict(kind=ConflictKind.RUSH)),
    "a conflict with another case": evening(knee(), told=conflict(givers=("C-6",))),
    "stopped": evening(replace(knee(), stopped=(STOP,), trays=(), sundries=())),
}

STAYS = {
    "nothing": evening(knee()),
    "a conflict's words, minutes and name": evening(
        knee(conflicts=("K7",)), told=conflict(id="K7", minutes=9, statement="9 min to spare")
    ),
    "a conflict's chance, remedies and proof": evening(
        knee(), told=conflict(chance_of_failing=0.31, remedies=REMEDIES[::-1], blame="washer", knock_on=("C-9",))
    ),
    "a conflict that is gone": evening(knee(conflicts=())),
    "a tray under the number kept ready": evening(knee(), told=conflict(kind=ConflictKind.RESERVE)),
    "less to spare": evening(knee(), reuse=comes(slack=3)),
    "a deadline somewhat later": evening(knee(give_back=give_back("09:29", "09:39", "C-5"))),
    "expected a little later": coming("12:14"),
    "the set in another place": evening(with_line(place_now="washer 2")),
    "another length of the case": evening(of_case(minutes=120)),
}


@pytest.mark.parametrize("what", RENEWED)
def test_that_a_list_is_renewed_for(what: str) -> None:
    assert changed(RENEWED[what]).prints or changed(RENEWED[what]).kind is CartChangeKind.STOPPED


@pytest.mark.parametrize("what", STAYS)
def test_that_a_list_stays_for(what: str) -> None:
    one = changed(STAYS[what])
    assert (one.kind, one.prints, one.details, one.revision) == (CartChangeKind.UNCHANGED, False, (), 1)


def test_that_only_a_set_that_moved_or_comes_near_to_its_need_is_told_of_a_list_that_stays() -> None:
    def told(expected: str, place: str = "washer") -> list[tuple[str, object]]:
        def standing(time: str, where: str) -> Plan:
            line = tray_line("knee", "KNEE-01", expected=at(time), place_now=where, needed=at("12:30"))
            return plan(cart(a_case("C-1", "13:00"), (line,)))

        change = compare_plans(standing("03:00", "washer"), standing(expected, place)).of_live("C-1")
        assert change is not None
        assert change.kind is CartChangeKind.UNCHANGED
        return [(one.what, one.now) for one in change.whereabouts]

    assert told("03:20") == told("10:30") == []
    assert told("10:31") == [("expected", at("10:31"))]
    assert told("03:20", "sterilizer 2") == [("is now", "sterilizer 2"), ("expected", at("03:20"))]


@pytest.fixture
def state(tmp_path: Path) -> Iterator[StateFile]:
    with open_state(tmp_path / "s.picklist.sqlite") as opened:
        yield opened


def build(state: StateFile, *carts: Cart) -> CartChange:
    start = begin_revision(state, DAY, Schedule(cases=tuple(one.case for one in carts)), plan_from_json)
    new = plan(*carts, revision=start.number, sets=(InstrumentSet(id="KNEE-01", tray="knee"),))
    new = replace(new, now=new.now + timedelta(minutes=start.number))
    change = what_changes(start, new)
    finish_revision(state, new, plan_to_json(new), change)
    return next(one for one in change.carts if one.is_live and one.case.endswith("1"))


def test_that_many_small_shifts_are_measured_from_the_paper_and_not_from_the_last_plan(state: StateFile) -> None:
    def leaving(leave: str, reach: str, number: str = "C-1") -> Cart:
        line = tray_line("knee", "KNEE-01", give_back=give_back(leave, reach, "C-5"))
        return cart(a_case(number, surgeon="S04", procedures=("KNEE",)), (line,))

    assert build(state, HELD, leaving("09:00", "09:10")).kind is CartChangeKind.NEW
    assert build(state, HELD, leaving("09:20", "09:30")).kind is CartChangeKind.UNCHANGED
    later = build(state, HELD, leaving("09:40", "09:50"))
    assert [(one.was, one.now) for one in later.details] == [(at("09:00"), at("09:40")), (at("09:10"), at("09:50"))]
    assert (later.kind, later.revision, later.replaces) == (CartChangeKind.CHANGED, 3, 1)
    renumbered = build(state, HELD, leaving("09:45", "09:55", "K-1"))
    assert [one.what for one in renumbered.details][:1] == ["case"]
    assert build(state, HELD, leaving("09:50", "10:00", "K-1")).kind is CartChangeKind.UNCHANGED
    # Sooner than the last plan by five minutes, yet later than the paper: nothing is asked too late.
    assert build(state, HELD, leaving("09:46", "09:56", "K-1")).kind is CartChangeKind.UNCHANGED
    assert build(state, HELD, leaving("09:44", "09:54", "K-1")).kind is CartChangeKind.CHANGED


def test_that_a_list_that_was_stopped_for_a_while_is_printed_again_when_it_stands_again(state: StateFile) -> None:
    good = cart(a_case("C-1"), (tray_line("knee", "KNEE-01"),))
    stopped = replace(good, stopped=(STOP,), trays=())
    kinds = [build(state, HELD, one).kind for one in (good, stopped, stopped, good, good)]
    assert kinds == [
        CartChangeKind.NEW,
        CartChangeKind.STOPPED,
        CartChangeKind.UNCHANGED,
        CartChangeKind.CHANGED,
        CartChangeKind.UNCHANGED,
    ]
