"""What stands on each sheet, as data: one golden file a document, and the rules of wording."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from io import BytesIO
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from picklist import wording
from picklist.documents.html_lists import pick_list_html
from picklist.documents.tables import bulk_table
from picklist.documents.views.bulk import BulkView
from picklist.documents.views.department_sheet import DepartmentView
from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.reuse_blocks import ReuseBlock
from picklist.documents.views.stamp import printing_of
from picklist.evening.changes import CartChangeKind
from picklist.evening.compare import compare_plans
from picklist.evening.content import PieceLine, cart_content
from picklist.evening.crew_workbook import cart_workbook
from picklist.letters import natural_key
from picklist.model.catalogue import Place
from picklist.model.department import ReuseChance
from picklist.model.expiry import Expires
from picklist.model.known import CartReport
from picklist.model.plan import Plan
from picklist.model.schedule import CaseStatus, Side
from picklist.model.sets import SetState
from picklist.model.uses import Deadline
from picklist.settings import Settings
from tests.board.days import sample_day
from tests.documents.carts import local
from tests.documents.findings import rich_plan
from tests.documents.sheets import GOLDEN, all_views, as_text

# To renew after a change that was meant: python -m tests.documents.sheets, then read the difference.


@pytest.mark.parametrize("name", sorted(all_views(rich_plan())))
def test_that_each_sheet_says_what_its_golden_file_says(name: str) -> None:
    assert as_text(all_views(rich_plan())[name]) == (GOLDEN / f"{name}.json").read_text(encoding="utf-8")


def test_that_no_golden_file_is_left_over() -> None:
    assert {path.stem for path in GOLDEN.glob("*.json")} == set(all_views(rich_plan()))


def view_of(number: str, plan: Plan | None = None) -> PickListView:
    plan = plan or rich_plan()
    cart = next(cart for cart in plan.carts if cart.case.number == number)
    return PickListView(Lookup(plan), cart, printing_of(plan))


@pytest.mark.parametrize("word", ["latex", "Latex allergy", "látex"])
def test_that_the_alert_box_names_what_was_swapped_however_the_alert_is_spelled(word: str) -> None:
    plan = rich_plan()
    (cart,) = (one for one in plan.carts if one.case.number == "C-1041")
    alerts = ("malignant hyperthermia", word, "latex precautions")
    changed = replace(cart, case=replace(cart.case, alerts=alerts))
    boxes = PickListView(Lookup(plan), changed, printing_of(plan)).alerts
    assert [box.word for box in boxes] == [one.upper() for one in alerts]
    assert len(boxes[1].notes) == 2
    assert all("Glove, outer" in note for note in boxes[1].notes)
    assert boxes[0].notes == boxes[2].notes == ()


def test_that_an_alert_or_size_that_nothing_knows_stands_in_the_alert_box() -> None:
    plan = rich_plan()
    (cart,) = (one for one in plan.carts if one.case.number == "C-1041")
    needs = replace(cart.needs, unknown_alerts=("malignant hyperthermia",), unknown_size=True)
    changed = replace(cart, case=replace(cart.case, patient_size="infant"), needs=needs)
    _, alert, size = PickListView(Lookup(plan), changed, printing_of(plan)).alerts
    assert (alert.word, size.word) == ("MALIGNANT HYPERTHERMIA", "PATIENT SIZE INFANT")
    assert "no card or rule covers this alert" in alert.notes[0]
    assert "no card covers the size on the schedule" in size.notes[0]


def test_that_places_sort_as_people_read_them() -> None:
    names = ["A-10-2", "A-2-10", "a-2-1", "B-1-1"]
    assert sorted(names, key=natural_key) == ["a-2-1", "A-2-10", "A-10-2", "B-1-1"]


@given(st.lists(st.text(max_size=8)))
def test_that_any_names_can_be_sorted(names: list[str]) -> None:
    ordered = sorted(names, key=natural_key)
    assert [natural_key(n) for n in ordered] == sorted(map(natural_key, reversed(names)))


def test_that_a_named_walking_order_goes_before_the_name() -> None:
    plan = rich_plan(places=(Place(id="A-1-01", order=9), Place(id="C-3-03", order=1)))
    firsts = [row.place for group in view_of("C-1041", plan).sundries for row in group.rows]
    assert firsts.index("C-3-03") < firsts.index("A-1-01") < firsts.index("B-2-02")


def test_that_a_wall_clock_of_twelve_hours_is_used_throughout() -> None:
    plan = rich_plan(settings=Settings(site="Example Hospital", time_zone="America/New_York", clock=12))
    view = view_of("C-1047", plan)
    assert (view.start, view.complete_by) == ("2:30 pm", "2:00 pm")
    assert view.stamp.printed == "printed Wed 25 Nov 8:15 pm"
    times = [time for row in view.trays for strip in row.strips for _, time in strip.times]
    assert times
    assert all(time.endswith((" am", " pm")) for time in times)


def test_that_a_time_on_another_day_carries_its_date() -> None:
    comes = next(row for row in view_of("C-1041").trays if row.set_id == "HIPA-02")
    assert ("expected", "Wed 25 Nov 23:10", False) in comes.facts


def test_that_the_giving_case_says_by_when_and_for_whom() -> None:
    gives = next(row for row in view_of("C-1041").trays if row.set_id == "HIPF-01")
    strip = next(one for one in gives.strips if one.word == "NEEDED NEXT")
    assert strip.loud
    assert strip.text.startswith("by C-1047 in OR 3, start 14:30, 18 min late in today's queue")
    assert strip.times == (("out of the room", "10:12"), ("into decontamination", "10:22"))


def test_that_the_waiting_case_says_from_whom_and_every_step() -> None:
    waits = next(row for row in view_of("C-1047").trays if row.set_id == "HIPF-01")
    strip = next(one for one in waits.strips if one.word == "COMING")
    assert strip.text.startswith("from C-1041 in OR 3, 18 min late in today's queue")
    assert strip.times[0] == ("out of the room", "10:12")
    assert strip.times[-1] == ("on the cart", "14:00")


def test_that_a_wrapped_tray_has_no_lock_to_check() -> None:
    rows = {row.set_id: row for row in view_of("C-1041").trays}
    assert "lock" not in rows["RET-02"].checks
    assert rows["BASIC-04"].checks == ("package", "indicator", "lock", "expiry")


def test_that_the_side_is_checked_where_a_set_has_one() -> None:
    rows = {row.set_id: row for row in view_of("C-1041").trays}
    assert {set_id for set_id, row in rows.items() if "side" in row.checks} == {
        set_id for set_id, row in rows.items() if row.side in ("left", "right") and not row.missing
    }
    assert "side" in rows["RET-02"].checks


def test_that_a_recorded_set_is_never_called_sterile() -> None:
    text = as_text(view_of("C-1041"))
    assert "recorded as sterile" in text
    assert text.replace("recorded as sterile", "").count("sterile") == 0


def test_that_a_short_line_stands_in_the_walk_and_at_the_end() -> None:
    view = view_of("C-1041")
    walk = [row for group in view.sundries for row in group.rows if row.short]
    assert {row.item for row in walk} == {"I-201", "I-203"}
    assert [(row.name, row.missing) for row in view.shorts] == [
        ("Graft harvest", "no set in time"),
        ("Cement, bone, with antibiotic (I-201)", "1 open and 1 hold"),
        ("Reamer sleeve, 9 mm (I-203)", "1 open"),
    ]
    assert view.shorts[1].stand_in == "Cement, bone, plain (I-202), 6 left"


def test_that_a_stand_in_says_which_tray_it_is_and_why_no_set_of_the_other_comes() -> None:
    plan = rich_plan()
    given = next(one for one in plan.sets if one.id == "RET-02")
    back = datetime(2026, 12, 1, 11, 0, tzinfo=UTC)
    wanted = (
        replace(given, id="RET-08", tray="T-RET", side=Side.LEFT, state=SetState.AWAY, back_at=back),
        replace(given, id="RET-09", tray="T-RET", side=Side.LEFT, state=SetState.INCOMPLETE),
    )
    plan = replace(plan, sets=(*plan.sets, *wanted))
    [line] = [row for row in PickListView(Lookup(plan), plan.carts[0], printing_of(plan)).trays if row.stand_in]
    back_at = plan.settings.site_clock.stamp(back)
    assert line.tray == given.tray == "T-RET2"
    assert line.stand_in == (
        f"Stands in for Retractor, deep, blades A to D (T-RET): RET-08 is away until {back_at}; RET-09 is incomplete"
    )


def test_that_what_is_not_picked_keeps_open_and_hold_apart() -> None:
    plan = rich_plan()
    cart = plan.carts[0]
    solutions = tuple(replace(one, open=1, hold=2) for one in cart.reference_only)
    view = PickListView(Lookup(plan), replace(cart, reference_only=solutions), printing_of(plan))
    assert {(row.quantity, row.note) for row in view.reference_only} == {("3", "1 open and 2 hold")}


def test_that_the_bulk_sheet_goes_area_by_area_though_the_walk_goes_to_and_fro() -> None:
    plan = rich_plan()
    picked = {pick.place for cart in plan.carts for line in cart.goods for pick in line.picks}
    ways = {place: Place(id=place, order=n, area="Near" if n % 2 else "Far") for n, place in enumerate(sorted(picked))}
    view = BulkView(Lookup(replace(plan, places=tuple(ways.values()))))
    assert [group.title for group in view.groups] == ["Far", "Near"]
    for group in view.groups:
        orders = [ways[row.place].order or 0 for row in group.rows if row.place in ways]
        assert orders == sorted(orders)
        assert {ways[row.place].area for row in group.rows if row.place in ways} == {group.title}


def test_that_a_stopped_list_says_why_and_where() -> None:
    view = view_of("C-1050")
    assert view.side == "SIDE NOT STATED"
    assert view.stopped[0].where == "schedule.xlsx, sheet Schedule, cell H14, column side"
    assert view.stopped[1].fix == "Did you mean Knee arthroscopy?"


def test_that_every_side_is_said_in_capitals_and_a_blank_one_is_not_passed_over() -> None:
    assert [wording.SIDE_WORDS[side] for side in (*Side, None)] == [
        "LEFT", "RIGHT", "BOTH SIDES", "SIDE NOT APPLICABLE", "SIDE NOT STATED",
    ]  # fmt: skip
    assert wording.side_says(None) == "blank on the schedule: ask"
    assert {wording.side_says(side) for side in Side} == {""}


def test_that_the_bulk_sheet_adds_up_to_the_carts() -> None:
    plan = rich_plan()
    picked = sum(pick.open + pick.hold for cart in plan.carts for line in cart.goods for pick in line.picks)
    rows = [row for group in BulkView(Lookup(plan)).groups for row in group.rows]
    assert sum(int(row.total) for row in rows) == picked
    for row in rows:
        assert sum(int(cart.partition(" × ")[2] or 1) for cart in row.carts) == int(row.total)


def test_that_a_last_resort_on_another_day_than_its_latest_start_names_that_day() -> None:
    """Under "Wed 25 Nov 23:50" stood "00:40", and under "Tue 24 Nov 19:25" a "19:25" of the day after."""
    late = Deadline(act="start wash", station="Washer", latest=local("23:50", -1), last_resort=local("00:40"))
    plan = rich_plan()
    found = Lookup(replace(plan, reuses=(replace(plan.reuses[0], deadlines=(late, *plan.reuses[0].deadlines[-1:])),)))
    first, last = DepartmentView(found).reuses[0].steps
    assert (first.day, first.latest, first.resort_day, first.last_resort) == (
        *("Wed 25 Nov", "23:50", "Thu 26 Nov", "00:40"),
    )
    assert last.resort_day == ""


def test_that_the_department_works_in_order_of_deadline() -> None:
    view = DepartmentView(Lookup(rich_plan()))
    assert [block.set_id for block in view.reuses] == ["HIPA-02", "GRAFT-01", "SAW-01", "HIPF-01"]
    washer = next(group for group in view.stations if group.title == "Washer")
    assert [row.latest for row in washer.rows] == ["03:22", "09:22", "09:22", "10:22"]


def test_that_a_deadline_that_has_passed_is_marked() -> None:
    plan = rich_plan()
    late = replace(plan, now=plan.reuses[0].deadlines[2].latest)
    washer = next(group for group in DepartmentView(Lookup(late)).stations if group.title == "Washer")
    assert [row.past for row in washer.rows] == [True, True, True, False]


@pytest.mark.parametrize(
    ("share", "text"), [(0.0, "0 %"), (0.001, "under 1 %"), (0.314, "31 %"), (0.999, "over 99 %"), (1.0, "100 %")]
)
def test_that_a_share_is_not_rounded_to_never_or_always(share: float, text: str) -> None:
    assert wording.per_cent(share) == text


def test_that_an_expiry_reads_the_same_in_every_country() -> None:
    assert wording.expiry(date(2028, 3, 4)) == "4 Mar 2028"


def test_that_never_and_not_recorded_are_told_apart_in_words() -> None:
    assert [wording.expiry(one) for one in (Expires.NEVER, None)] == ["never", "not recorded"]
    assert [wording.check_expiry(one) for one in (Expires.NEVER, date(2028, 3, 4))] == ["", ""]
    assert wording.check_expiry(None) == "no expiry recorded: check the package"


def test_that_a_lot_without_a_recorded_expiry_is_flagged_on_list_bulk_sheet_and_workbook() -> None:
    plan = rich_plan()
    (cart,) = (one for one in plan.carts if one.case.number == "C-1041")
    line = cart.sundries[0]
    picks = tuple(replace(pick, expiry=None) for pick in line.picks)
    changed = replace(cart, sundries=(replace(line, picks=picks), *cart.sundries[1:]))
    plan = replace(plan, carts=tuple(changed if one is cart else one for one in plan.carts))
    rows = [row for group in view_of("C-1041", plan).sundries for row in group.rows if row.item == line.need.thing]
    assert {(row.expiry, row.note.split(";")[0]) for row in rows} == {("not recorded", wording.check_expiry(None))}
    sheet = BulkView(Lookup(plan))
    (row,) = (
        row for group in sheet.groups for row in group.rows if (row.item, row.lot) == (picks[0].item, picks[0].lot)
    )
    assert (row.expiry, row.note) == ("not recorded", wording.check_expiry(None))
    table = bulk_table(sheet)
    remarks = [one[table.heads.index("Remark")] for one in table.rows]
    assert remarks.count(wording.check_expiry(None)) == len(picks)


def test_that_areas_head_the_walk_only_when_it_does_not_go_to_and_fro() -> None:
    assert [group.title for group in view_of("C-1041").sundries] == ["Aisle A", "Aisle B", "Aisle C"]
    to_and_fro = tuple(replace(place, order=n % 7) for n, place in enumerate(rich_plan().places))
    groups = view_of("C-1041", rich_plan(places=to_and_fro)).sundries
    assert [group.title for group in groups] == [""]
    assert len(groups[0].rows) == sum(len(group.rows) for group in view_of("C-1041").sundries)


def test_that_the_chance_of_a_set_on_hold_reads_as_one_if_it_is_opened() -> None:
    plan = rich_plan()
    saw = next(one for one in plan.reuses if one.set_id == "SAW-01")
    share = ReuseChance(
        set_id="SAW-01",
        giver=saw.giver,
        waiter=saw.waiter,
        fails=0.5,
        expected_late=9,
        late_p90=0,
        blame="",
        fails_hurried=0.5,
    )
    assert plan.chance is not None
    drawn = replace(plan, chance=replace(plan.chance, reuses=(share,)))
    assert "late in 50 % of simulated days at usual pace if it is opened" in ReuseBlock(Lookup(drawn), saw).facts


def test_that_the_list_of_a_running_case_says_that_nothing_is_to_be_picked() -> None:
    plan = rich_plan()
    (cart,) = [cart for cart in plan.carts if cart.case.number == "C-1060"]
    assert view_of("C-1060").started == ""
    running = replace(cart, case=replace(cart.case, status=CaseStatus.RUNNING))
    view = PickListView(Lookup(replace(plan, carts=(running,))), running, printing_of(plan))
    assert "pick nothing" in view.started
    assert view.started in pick_list_html(view)


def test_that_of_a_built_cart_only_what_is_to_be_added_is_fetched() -> None:
    """Its lots and sets are on no shelf any more; what is only started is still fetched."""
    plan = rich_plan()
    cart = plan.cart("C-1060")
    assert cart is not None
    content = cart_content(cart, {})
    [tray] = [one for one in content if one.set_id]
    lot = min((one for one in content if not one.set_id), key=lambda one: one.order)
    change = compare_plans(plan, replace(plan, revision=plan.revision + 1))

    def fetched(**facts: Any) -> tuple[dict[str, int], list[str], str]:
        carts = tuple(replace(one, **facts) if one.case == "C-1060" else one for one in change.carts)
        view = BulkView(Lookup(plan), replace(change, carts=carts))
        mine = [(row.lot, to) for group in view.groups for row in group.rows for to in row.carts if "C-1060" in to]
        lots = {lot: int(to.partition(" × ")[2] or 1) for lot, to in mine}
        sets = [row.set_id for group in view.sets for row in group.rows if row.cart.startswith("C-1060")]
        return lots, sets, view.counts.rpartition(" for ")[2]

    started, whole = fetched(started=True), sum(many for one, many in content.items() if not one.set_id)
    assert (sum(started[0].values()), started[1], started[2]) == (whole, [tray.set_id], "4 carts")
    assert fetched(built=True) == ({}, [], "3 carts")
    assert fetched(built=True, waits=(tray.set_id,)) == ({}, [tray.set_id], "4 carts")
    more = PieceLine(piece=lot, quantity=2)
    assert fetched(built=True, kind=CartChangeKind.CHANGED, add=(more,)) == ({lot.lot: 2}, [], "4 carts")


def test_that_the_place_of_a_set_that_another_case_uses_first_is_no_place_to_take_it_from() -> None:
    """HIP-01 read "now T-2-8" on the list of C-4120, though C-4117 has it first; the record of HIP-02 ends."""
    plan = sample_day()

    def first_fact(number: str, set_id: str) -> tuple[str, str, bool]:
        return next(row.facts[0] for row in view_of(number, plan).trays if row.set_id == set_id)

    assert first_fact("C-4120", "HIP-01") == ("first with", "C-4117 in OR 4", True)
    assert first_fact("C-4118", "HIP-02") == ("reprocess first, now", "T-2-8", True)
    assert first_fact("C-4117", "HIP-01") == ("on the shelf", "T-2-8", True)


def test_that_the_crews_workbook_goes_in_the_order_of_the_evenings_page() -> None:
    """At 07:00 it went OR 1, OR 10, OR 2, and the page OR 1, OR 2, OR 10: people ticked the wrong row."""
    plan = sample_day()
    rows = load_workbook(BytesIO(cart_workbook(plan)))["Carts"].iter_rows(values_only=True)
    numbers = [str(word) for row in rows for word in row if word and str(word).startswith("C-")]
    page = EveningView(Lookup(plan), lambda _: printing_of(plan))
    assert numbers == [row.case for row in page.carts]


def test_that_the_bulk_sheet_counts_the_carts_that_the_evening_sheet_counts() -> None:
    """One case runs: "3 carts to build" on the cover, and a sheet to fetch for 4."""
    plan = rich_plan()
    index = next(n for n, one in enumerate(plan.carts) if one.case.number == "C-1060")
    case = replace(plan.carts[index].case, status=CaseStatus.RUNNING)
    running = replace(plan.carts[index], case=case, trays=(), packs=(), sundries=(), peel_packs=(), people=())
    carts = (*plan.carts[:index], running, *plan.carts[index + 1 :])
    found = Lookup(replace(plan, carts=carts))
    own = printing_of(found.plan)
    to_build = EveningView(found, lambda _: own).counts.split(" to build")[0]
    assert to_build == "3 carts"
    assert BulkView(found).counts.endswith(f"to fetch for {to_build}")


def test_that_carts_of_which_some_are_built_from_an_older_list_are_to_finish_and_not_to_build() -> None:
    found = Lookup(rich_plan())
    reported = {"C-1060": CartReport(state="built by mk; built from list 1", finished=False)}
    own = printing_of(found.plan)
    assert EveningView(found, lambda _: own, reported).counts.startswith("4 carts to finish · 1 on hold")
    assert EveningView(found, lambda _: own).counts.startswith("4 carts to build · 1 on hold")
