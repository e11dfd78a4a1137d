"""What a day leaves on the shelves, minute by minute: counts that came since, late forms, and sets that moved on.

C-1's cart was built at 18:40 the evening before, with five laps of L1 (one on hold) and two blades of B7; its case
runs from 07:30 to 09:00, and its knee, KNEE-01, reaches decontamination at 09:10. The table has 40 laps and 12 blades.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from picklist.evening.after_day import after_day
from picklist.evening.changes import ListInHand
from picklist.evening.content import cart_content
from picklist.evening.table_changes import CountedBefore, CountedItem, CountedSet, CountedShelf, DayChanges, DayFacts
from picklist.evening.usage import UsageLine, UsedPackage
from picklist.model.built import BuiltCart, CountFound, MissingThing, StoodIn, TakenItem, TakenSet
from picklist.model.catalogue import Lot
from picklist.model.sets import SetState
from picklist.model.site import Site
from picklist.model.uses import Assignment, Use
from tests.builders import DAY, at
from tests.evening.builders import EVENING, a_case
from tests.evening.site_builder import a_plan, a_site
from tests.evening.test_usage import line, quantities, tray

NIGHT = at("20:00")
LAPS, BLADES = ("100245", "L1"), ("0077", "B7")
ONE_LAP_BACK = line("100245", open=4, hold=1, used=4, unopened=1)
KNEE_OPENED = tray("knee", "KNEE-01", used=1)
KNEE_BACK = tray("knee", "KNEE-01", open=0, hold=1, unopened=1)


def wall(text: str) -> datetime:
    return at(text).replace(tzinfo=None)


def use_of(case: str, starts: str, ends: str) -> Assignment:
    """KNEE-01 in a case, ten minutes from the end of the case in decontamination."""
    use = Use(
        case=case, tray="knee", copy=1, needed=at(starts) - timedelta(minutes=30), starts=at(starts), ends=at(ends),
        leaves_room=at(ends), received=at(ends) + timedelta(minutes=10),
    )  # fmt: skip
    return Assignment(use=use, set_id="KNEE-01", tray_given="knee", stand_in=False, expected=None, slack=None)


def after(
    *usage: UsageLine,
    site: Site | None = None,
    counted: CountedBefore | None = None,
    now: datetime = NIGHT,
    **facts: Any,
) -> DayChanges:
    """The day after C-1 was built as reported."""
    reported: dict[str, Any] = {"done": True, "at": EVENING} | facts
    built = BuiltCart(day=DAY, case="C-1", revision=1, **reported)
    in_hand = ListInHand(revision=1, content=cart_content(a_plan().carts[0], {}))
    plan = replace(a_plan(), assignments=(use_of("C-1", "07:30", "09:00"), use_of("C-2", "12:00", "13:00")))
    day = DayFacts(built={"C-1": built}, in_hand={"C-1": in_hand}, usage=usage)
    return after_day(site or a_site(), plan, day, counted or CountedBefore(), now)


def left(changes: DayChanges) -> dict[tuple[str, str], object]:
    return {row: becomes for row, (_, becomes) in quantities(changes).items()}


# Lots


def test_the_last_of_a_lot_may_go() -> None:
    site = a_site()
    site = replace(site, lots=(site.lots[0], replace(site.lots[1], quantity=2)))
    changes = after(line("0077", open=2, used=2), site=site)
    assert (left(changes)[BLADES], changes.problems) == (0, ())


def count_of_others(counted_at: datetime, cart: str = "C-9") -> CountedBefore:
    """Another cart's crew counted 40 laps, which the table says since."""
    shelf = CountedShelf(
        cart=cart, item="100245", row_lot="L1", row_place="A-02-10", counted_at=counted_at, quantity=40
    )
    return CountedBefore(shelf=(shelf,))


@pytest.mark.parametrize(
    ("counted_at", "cart", "laps"),
    [
        (EVENING, "C-9", 27),  # at the same minute the crew's 31 holds, less the four opened
        (EVENING + timedelta(minutes=1), "C-9", 41),  # the later 40 holds: all five were gone, and one came back
        (EVENING + timedelta(minutes=1), "C-1", 27),  # whatever a crew counted before, it may correct
    ],
)
def test_of_two_counts_of_a_shelf_the_later_holds(counted_at: datetime, cart: str, laps: int) -> None:
    count = CountFound(item="100245", quantity=31, lot="L1")
    changes = after(ONE_LAP_BACK, counted=count_of_others(counted_at, cart), counts=(count,))
    assert left(changes)[LAPS] == laps


def test_a_count_is_taken_over_once() -> None:
    """31 counted and four used make 27; ten are delivered, and settling again leaves the 37 as they are."""
    count = CountFound(item="100245", quantity=31, lot="L1")
    first = after(ONE_LAP_BACK, counts=(count,))
    assert left(first)[LAPS] == 27
    stands = CountedBefore(
        items=tuple(one for row in first.rows for one in row.counts.items),
        shelf=tuple(one for row in first.rows for one in row.counts.shelf),
    )
    site = a_site()
    delivered = replace(site, lots=(replace(site.lots[0], quantity=37), site.lots[1]))
    assert LAPS not in left(after(ONE_LAP_BACK, counts=(count,), site=delivered, counted=stands))
    assert [(one.quantity, one.counted_at) for one in stands.shelf] == [(31, EVENING)]


def test_what_was_used_before_a_shelf_was_counted_is_not_taken_off_again() -> None:
    """Counted at 12:00, when case and cart were long done: 40 are there, whatever the form says afterwards."""
    assert LAPS not in left(after(ONE_LAP_BACK, counted=count_of_others(at("12:00"))))
    assert left(after(ONE_LAP_BACK, counted=count_of_others(at("09:00"))))[LAPS] == 41


def five_laps_gone(**changes: datetime) -> CountedItem:
    """That C-1 took five laps and gave none back was counted before."""
    times = {"built_at": EVENING, "over_at": at("09:00")} | changes
    return CountedItem(
        cart="C-1", item="100245", lot="L1", place="A-02-10", row_lot="L1", row_place="A-02-10",
        taken=5, back=0, **times,
    )  # fmt: skip


def test_a_form_that_is_corrected_keeps_to_when_the_cart_was_built_and_its_case_over() -> None:
    """Counted at 22:00, after the cart took its five; later its crew reports again, and one lap came back: 41."""
    late = EVENING.replace(hour=22)
    before = replace(count_of_others(late), items=(five_laps_gone(),))
    assert left(after(ONE_LAP_BACK, counted=before, at=EVENING.replace(hour=23)))[LAPS] == 41
    moved = replace(count_of_others(at("09:30")), items=(five_laps_gone(over_at=at("10:00")),))
    assert left(after(ONE_LAP_BACK, counted=moved))[LAPS] == 41


def test_what_comes_back_to_a_row_that_is_gone_from_the_table_is_named() -> None:
    """Somebody struck lot L1 off the table since its five laps were counted; one came back, and has no row now."""
    site = a_site()
    without = replace(site, lots=site.lots[1:])
    changes = after(ONE_LAP_BACK, site=without, counted=CountedBefore(items=(five_laps_gone(),)))
    assert [(one.kind, one.value) for one in changes.problems] == [("row gone", "100245")]
    assert "100245 lot L1" in changes.problems[0].message
    assert left(changes) == {BLADES: 10}


def test_no_more_packages_of_a_lot_are_taken_off_than_were_added() -> None:
    """One lap was added to the five; the room names lot L2 for three of those used."""
    site = a_site()
    site = replace(site, lots=(*site.lots, Lot(item="100245", lot="L2", quantity=10, expiry=None, place="A-02-11")))
    used = line("100245", open=4, hold=1, added=1, used=6, packages=(UsedPackage(lot="L2", used=3),))
    assert left(after(used, site=site)) == {LAPS: 35, ("100245", "L2"): 9, BLADES: 10}


def test_what_was_added_and_came_back_was_never_gone() -> None:
    """Three blades were added to the two of the list; one was used and four came back: 11 of 12."""
    assert left(after(line("0077", open=2, added=3, used=1, unopened=4)))[BLADES] == 11


@pytest.mark.parametrize(("used", "blades"), [(2, 10), (3, 9), (4, 8)])
def test_what_the_crew_added_is_gone_as_far_as_the_room_used_more_than_the_list_put_there(
    used: int, blades: int
) -> None:
    """Two blades by the list and two more by hand; the room writes how many it used and nothing of any added."""
    added = (TakenItem(item="0077", quantity=2, lot="B7"),)
    assert left(after(line("0077", open=2, used=used), added=added))[BLADES] == blades
    assert left(after(ONE_LAP_BACK, added=added))[BLADES] == 8  # of blades the room said nothing at all


def test_what_stood_in_for_what_no_shelf_could_give_is_gone_as_what_was_added_by_hand() -> None:
    """No drain was there, and two blades stood in for it; of blades the room said nothing at all."""
    stood_in = (StoodIn(thing="100300", stood_in="0077", quantity=2),)
    assert left(after(ONE_LAP_BACK, stood_in=stood_in))[BLADES] == 8


# Sets


def row_of(changes: DayChanges) -> dict[str, object]:
    return {change.column: change.becomes for change in changes.sets}


def knee(**changes: object) -> Site:
    """The site with KNEE-01's row changed."""
    site = a_site()
    return replace(site, sets={**site.sets, "KNEE-01": replace(site.sets["KNEE-01"], **changes)})  # type: ignore[arg-type]


def test_a_form_that_names_the_planned_set_speaks_of_the_one_that_was_on_the_cart() -> None:
    """The crew took KNEE-02; the form was printed before, and nobody built again."""
    changes = after(KNEE_OPENED, sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-02"),))
    assert {change.key for change in changes.sets} == {("KNEE-02",)}
    assert row_of(changes) == {"state": "dirty", "step since": wall("09:10")}


def test_a_set_reported_before_its_case_was_to_end_is_dirty_since_now() -> None:
    assert row_of(after(KNEE_OPENED, now=at("08:40"))) == {"state": "dirty", "step since": wall("08:40")}


@pytest.mark.parametrize(("since", "stays"), [("09:10", False), ("09:11", True)])
def test_a_set_whose_row_was_changed_since_it_came_back_is_left_as_it_is(since: str, stays: bool) -> None:
    changes = after(KNEE_OPENED, site=knee(state=SetState.AT_STEP, step="wash", step_since=at(since)))
    assert ("state" not in row_of(changes)) == stays
    assert [one.kind for one in changes.problems] == (["set moved on"] if stays else [])


def counted_set(case: str, since: str, *, opened: bool, written: bool = False) -> CountedBefore:
    one = CountedSet(cart=case, set_id="KNEE-01", opened=opened, since=at(since), written=written)
    return CountedBefore(sets=(one,))


def test_a_set_that_a_later_case_had_since_is_counted_and_its_row_stays() -> None:
    changes = after(KNEE_OPENED, counted=counted_set("C-7", "15:00", opened=True, written=True))
    assert (changes.sets, changes.problems) == ((), ())
    assert [one.cart for row in changes.rows for one in row.counts.sets] == ["C-1"]


def test_a_corrected_form_does_not_undo_what_a_person_wrote_of_the_set_since() -> None:
    """C-1's knee had been reported unopened, and is on the shelf; since then somebody found it incomplete."""
    before = counted_set("C-1", "09:10", opened=False, written=True)
    changes = after(KNEE_OPENED, site=knee(state=SetState.INCOMPLETE), counted=before)
    assert changes.sets == ()
    assert [one.kind for one in changes.problems] == ["set moved on"]
    untouched = after(KNEE_OPENED, counted=before)
    assert row_of(untouched) == {"state": "dirty", "step since": wall("09:10")}


def test_a_record_from_before_the_first_opening_of_the_day_is_no_record_of_the_evening() -> None:
    """C-1 opened the set and C-2 brought it back unopened: what was recorded yesterday says nothing of it now."""
    recorded = knee(recorded_at=at("15:00", -1))
    changes = after(KNEE_OPENED, replace(KNEE_BACK, case="C-2"), site=recorded)
    assert row_of(changes) == {"recorded sterile at": None}
    assert row_of(after(KNEE_BACK, site=recorded)) == {}


def test_the_last_case_of_a_set_is_the_one_that_starts_last_whatever_its_number() -> None:
    """Case A-3 at 14:00 opened it after C-1, which had brought it back unopened."""
    plan = replace(
        a_plan(),
        cases=(*a_plan().cases, a_case("A-3", "14:00")),
        assignments=(use_of("C-1", "07:30", "09:00"), use_of("A-3", "14:00", "15:00")),
    )
    day = DayFacts(built={}, in_hand={}, usage=(replace(KNEE_OPENED, case="A-3"), KNEE_BACK))
    changes = after_day(a_site(), plan, day, CountedBefore(), at("20:00"))
    assert row_of(changes) == {"state": "dirty", "step since": wall("15:10")}


def test_what_a_row_says_of_the_last_day_of_a_record_is_kept_when_the_set_comes_back_unopened() -> None:
    """C-1's form said opened, and the row was written so; it is corrected to unopened, and the record is back."""
    before = CountedSet(
        cart="C-1", set_id="KNEE-01", opened=True, since=at("09:10"), written=True,
        recorded_at=wall("06:00"), recorded_until=date(2026, 12, 31),
    )  # fmt: skip
    site = knee(state=SetState.DIRTY, step_since=at("09:10"))
    changes = after(KNEE_BACK, site=site, counted=CountedBefore(sets=(before,)))
    assert row_of(changes) == {
        "state": "on shelf",
        "step since": None,
        "recorded sterile at": wall("06:00"),
        "recorded sterile until": date(2026, 12, 31),
    }


@pytest.mark.parametrize("told", [KNEE_BACK, KNEE_OPENED])
def test_a_set_that_was_reported_missing_from_the_cart_comes_back_from_no_case(told: UsageLine) -> None:
    changes = after(told, missing=(MissingThing(thing="knee", copy=1, quantity=1),))
    assert (changes.sets, [one.kind for one in changes.problems]) == ((), ["set not on the cart"])


@pytest.mark.parametrize(
    ("recorded", "facts", "kinds"),
    [
        ({"state": SetState.IN_USE, "in_case": "C-7"}, {}, ["set not on the cart"]),
        ({"state": SetState.DIRTY, "step_since": at("06:00") - timedelta(days=1)}, {}, ["set not on the cart"]),
        ({"state": SetState.IN_USE, "in_case": "C-1"}, {}, []),
        (
            {"state": SetState.DIRTY, "step_since": at("06:00") - timedelta(days=1)},
            {"sets": (TakenSet(tray="knee", copy=1, set_id="KNEE-01"),)},
            [],
        ),
    ],
)
def test_a_set_in_process_comes_back_unopened_only_from_a_cart_that_had_it(
    recorded: dict[str, Any], facts: dict[str, Any], kinds: list[str]
) -> None:
    """A form says of KNEE-01, which by its row is in another case or dirty, that C-1 did not open it."""
    site = a_site()
    site = replace(site, sets={**site.sets, "KNEE-01": replace(site.sets["KNEE-01"], **recorded)})
    changes = after(KNEE_BACK, site=site, **facts)
    assert [one.kind for one in changes.problems] == kinds
    assert ("on shelf" in {change.becomes for change in changes.sets}) is (not kinds)
