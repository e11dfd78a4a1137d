"""A further report on a cart adds to the earlier one, or corrects it line by line."""

from __future__ import annotations

from datetime import timedelta

from picklist.evening.add_reports import add_to_report, of_newer_list, with_reporters, with_trays_to_come
from picklist.model.built import BuiltCart, CountFound, MissingThing, StoodIn, TakenItem, TakenSet
from tests.builders import DAY
from tests.evening.builders import EVENING, a_case, cart, tray_line

NOW = EVENING + timedelta(hours=3)


def report(minutes: int = 0, **facts: object) -> BuiltCart:
    given = {"day": DAY, "case": "C-1", "revision": 1, "at": NOW + timedelta(minutes=minutes)} | facts
    return BuiltCart(**given)  # type: ignore[arg-type]


def joined(before: BuiltCart, said: BuiltCart) -> BuiltCart:
    return add_to_report(before, said, said.at)


FIRST = report(
    done=True,
    by="mk",
    remark="bag torn",
    sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-02"),),
    missing=(MissingThing(thing="0077", quantity=2), MissingThing(thing="saw", copy=1, quantity=1)),
    stood_in=(StoodIn(thing="laps", stood_in="laps-x", quantity=1),),
    counts=(CountFound(item="laps", quantity=14),),
    added=(TakenItem(item="drain", quantity=1),),
)


def test_that_a_second_report_on_another_line_loses_nothing() -> None:
    after = joined(FIRST, report(60, by="rt", added=(TakenItem(item="gown", quantity=1),)))
    assert (after.done, after.by, after.at, after.remark) == (True, "mk, rt", NOW + timedelta(minutes=60), "bag torn")
    assert (after.sets, after.missing, after.stood_in, after.counts) == (
        FIRST.sets,
        FIRST.missing,
        FIRST.stood_in,
        FIRST.counts,
    )
    assert {i.item for i in after.added} == {"drain", "gown"}


def test_that_the_same_report_twice_is_one_report() -> None:
    assert joined(FIRST, FIRST) == FIRST


def test_that_two_packages_that_were_put_on_one_after_the_other_stay_two() -> None:
    """The page has them as two equal lines; a later report of something else leaves them, one about them corrects."""
    before = report(added=(TakenItem(item="drain", quantity=1), TakenItem(item="drain", quantity=1)))
    for said, drains in (("gown", [1, 1]), ("drain", [3])):
        after = joined(before, report(60, added=(TakenItem(item=said, quantity=3),)))
        assert [one.quantity for one in after.added if one.item == "drain"] == drains


def test_that_a_line_said_anew_corrects_the_earlier_one() -> None:
    said = report(
        60,
        missing=(MissingThing(thing="0077", quantity=1), MissingThing(thing="knee", copy=1, quantity=1)),
        sets=(TakenSet(tray="saw", copy=1, set_id="SAW-01"),),
        counts=(CountFound(item="laps", quantity=12),),
        added=(TakenItem(item="drain", quantity=3),),
    )
    after = joined(FIRST, said)
    assert {(m.thing, m.quantity) for m in after.missing} == {("0077", 1), ("knee", 1)}
    assert [t.set_id for t in after.sets] == ["SAW-01"]
    assert [c.quantity for c in after.counts] == [12]
    assert [i.quantity for i in after.added] == [3]


def test_that_nothing_missing_any_more_is_said_by_zero() -> None:
    zero = report(60, missing=(MissingThing(thing="0077", quantity=0), MissingThing(thing="saw", copy=1, quantity=0)))
    assert joined(FIRST, zero).missing == ()


def test_that_a_built_cart_stays_built_until_that_is_taken_back() -> None:
    assert joined(FIRST, report(60, remark="x")).done
    assert not joined(FIRST, report(60, not_done=True)).done


def test_that_an_old_workbook_does_not_take_back_that_the_newer_list_was_built() -> None:
    newer = report(30, revision=2, done=True)
    again = joined(newer, report(60, revision=1, done=True, sets=FIRST.sets))
    assert (again.revision, again.sets) == (2, ())


def test_that_a_cart_newly_built_from_an_older_list_counts_as_built_from_that_one() -> None:
    assert joined(report(30, revision=2), report(60, revision=1, done=True)).revision == 1


def test_that_each_line_keeps_who_reported_it_and_when() -> None:
    first = with_reporters(FIRST, None, "mk", FIRST.at)
    later = NOW + timedelta(minutes=60)
    said = report(60, missing=(MissingThing(thing="0077", quantity=2), MissingThing(thing="gown", quantity=1)))
    after = with_reporters(joined(first, said), first, "rt", later)
    assert {(m.thing, m.by, m.reported_at) for m in after.missing} == {
        ("0077", "mk", NOW),
        ("saw", "mk", NOW),
        ("gown", "rt", later),
    }


def test_that_a_built_cart_waits_for_a_tray_that_comes_at_six_until_somebody_sees_it() -> None:
    """Built at 21:40; the knee is in the sterilizer until 02:00 and the loan comes at 06:00."""
    six = EVENING.replace(hour=6) + timedelta(days=1)
    one = cart(
        a_case("C-1"),
        (
            tray_line("knee", "KNEE-01", expected=six - timedelta(hours=4)),
            tray_line("loan", "LOAN-1", expected=six),
            tray_line("saw", "SAW-01"),
        ),
    )
    built = with_trays_to_come(report(done=True), None, one)
    assert [(t.set_id, t.expected) for t in built.to_come] == [("KNEE-01", six - timedelta(hours=4)), ("LOAN-1", six)]
    on_shelf = cart(
        a_case("C-1"), (tray_line("knee", "KNEE-01"), tray_line("loan", "LOAN-1"), tray_line("saw", "SAW-01"))
    )
    seen = report(600, sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-01"),))
    after = with_trays_to_come(joined(built, seen), built, on_shelf)
    assert [t.set_id for t in after.to_come] == ["LOAN-1"], "a later plan that has it on its shelf is not the cart"
    nothing = with_trays_to_come(report(600, done=True), None, one)
    assert nothing.to_come == ()


def test_that_a_set_which_a_newer_list_expects_later_is_no_longer_taken_to_be_on_the_cart() -> None:
    before = report(done=True, sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-01"),))
    for expected, kept in ((None, 1), (NOW - timedelta(hours=1), 1), (NOW + timedelta(hours=8), 0)):
        newer = cart(a_case("C-1"), (tray_line("knee", "KNEE-01", expected=expected),))
        assert len(of_newer_list(before, 2, newer).sets) == kept
