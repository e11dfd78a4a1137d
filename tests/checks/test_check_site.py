"""Checks of meaning, each on the sound small site with one thing changed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest

from picklist.checks import CARD_CHECKS, OTHER_CHECKS, SCHEDULE_CHECKS, check_site
from picklist.problems import Problem, Severity
from picklist.sets.start_slots import HORIZON_DAYS
from tests.inputs.folders import DAY, NOW, Rows, read_changed


def checked(tmp_path: Path, change: Callable[[Rows], None] | None = None) -> list[Problem]:
    site, problems = read_changed(tmp_path, change)
    assert problems == [], "the change must pass the reader"
    assert site is not None
    return list(check_site(site, NOW))


def places(problems: list[Problem]) -> list[tuple[str, str, int | None, str]]:
    return [(one.kind, one.where.sheet, one.where.row, one.where.column) for one in problems]


def test_that_the_sound_site_has_nothing_to_mend(tmp_path: Path) -> None:
    assert checked(tmp_path) == []
    checks = (*SCHEDULE_CHECKS, *CARD_CHECKS, *OTHER_CHECKS)
    assert len(checks) == len(set(checks)) >= 15


def test_that_two_cases_cannot_share_a_room(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Schedule"][1]["room"] = "OR 1"  # 08:00 to 09:00, within 07:30 to 09:00

    problems = checked(tmp_path, change)
    assert places(problems) == [("cases overlap in a room", "Schedule", 3, "start")]
    assert problems[0].related[0].row == 2


def test_that_cases_that_touch_do_not_overlap(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Schedule"][1] |= {"room": "OR 1", "start": time(9, 0)}

    assert checked(tmp_path, change) == []


def test_that_a_short_case_inside_a_long_one_and_one_after_it_are_both_told(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Schedule"][0]["minutes"] = 240  # 07:30 to 11:30
        rows["Schedule"][1] |= {"room": "OR 1", "minutes": 30}  # 08:00 to 08:30
        rows["Schedule"].append(rows["Schedule"][1] | {"case": "C-3", "start": time(10, 0)})

    assert [one.where.row for one in checked(tmp_path, change)] == [3, 4]


def test_that_a_surgeon_cannot_stand_in_two_rooms(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Schedule"][1]["surgeon"] = "S01"

    assert ("surgeon in two rooms", "Schedule", 3, "surgeon") in places(checked(tmp_path, change))


def test_that_a_cancelled_case_overlaps_with_nothing(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Schedule"][1] |= {"room": "OR 1", "surgeon": "S01", "status": "cancelled"}

    assert checked(tmp_path, change) == []


@pytest.mark.parametrize(
    ("day", "status", "kind", "severity"),
    [
        (date(2026, 11, 24), "planned", "planned in the past", Severity.NOTICE),
        (DAY, "running", "running before its start", Severity.TO_FIX),
        (DAY, "done", "done before its start", Severity.TO_FIX),
    ],
)
def test_that_status_and_time_go_together(
    tmp_path: Path, day: date, status: str, kind: str, severity: Severity
) -> None:
    def change(rows: Rows) -> None:
        rows["Schedule"][1] |= {"day": day, "status": status}

    found = [(one.kind, one.severity) for one in checked(tmp_path, change)]
    assert (kind, severity) in found


def test_that_cases_that_nobody_wrote_off_are_one_notice(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Schedule"] += [
            rows["Schedule"][0] | {"case": f"C-{number}", "day": date(2026, 11, 24), "start": time(number)}
            for number in range(7, 12)
        ]

    site, _ = read_changed(tmp_path, change)
    assert site is not None
    (found,) = (one for one in check_site(site, NOW) if one.kind == "planned in the past")
    assert found.where.row == 4
    assert found.message.startswith("5 cases are still planned, but would be over by now (C-7, C-8, C-9 and 2 more)")


def test_that_a_glove_without_a_size_and_a_room_that_closes_before_it_opens_are_told(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Items"].append(
            {"item": "100007", "name": "Glove", "class": "under glove", "place": "A-02", "latex": False}
        )
        rows["Rooms"][0] |= {"opens": time(7), "closes": time(5)}

    site, _ = read_changed(tmp_path, change)
    assert site is not None
    found = [(one.kind, one.where.sheet, one.where.row, one.where.column) for one in check_site(site, NOW)]
    assert ("size not stated", "Items", 8, "size") in found
    assert ("room closes before it opens", "Rooms", 2, "closes") in found


def test_that_a_set_of_a_size_that_nothing_knows_is_told(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Sets"][0]["size"] = "n/a"
        rows["Sets"][1]["size"] = "infant"

    site, _ = read_changed(tmp_path, change)
    assert site is not None
    found = [(one.kind, one.severity, one.where.row) for one in check_site(site, NOW) if one.where.column == "size"]
    assert found == [("unknown word", Severity.NOTICE, 2)]


def test_that_a_schedule_of_another_year_is_told(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        for row in rows["Schedule"]:
            row["day"] = date(2028, 11, 26)

    site, _ = read_changed(tmp_path, change)
    assert site is not None
    found = [(one.kind, one.severity) for one in check_site(site, NOW)]
    assert ("far away", Severity.NOTICE) in found


def test_that_a_sided_tray_on_a_case_without_a_side_stops_that_case(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Trays"][0]["sided"] = True
        rows["Sets"][0]["side"] = "left"
        del rows["Schedule"][0]["side"]

    (problem,) = checked(tmp_path, change)
    assert (problem.severity, problem.cases, problem.where.column) == (Severity.STOPS_CASE, ("C-1",), "side")


def test_that_a_line_that_removes_nothing_is_found_on_a_card_that_no_case_uses(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Cards"].append(
            {"procedure": "HERNIA", "surgeon": "S01", "change": "remove", "kind": "item", "thing": "100001"}
        )

    (problem,) = checked(tmp_path, change)
    assert places([problem]) == [("removes nothing", "Cards", 7, "")]
    assert (problem.severity, problem.cases) == (Severity.TO_FIX, ())


def test_that_it_stops_a_case_that_uses_the_card(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Cards"].append(
            {"procedure": "HERNIA", "surgeon": "S02", "change": "remove", "kind": "item", "thing": "100001"}
        )

    (problem,) = checked(tmp_path, change)
    assert (problem.kind, problem.severity, problem.cases) == ("removes nothing", Severity.STOPS_CASE, ("C-2",))


def test_that_a_removal_under_a_condition_is_tried_where_the_condition_holds(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Cards"] += [
            {
                "procedure": "HERNIA",
                "change": "remove",
                "kind": "item",
                "thing": "100001",
                "only if": "alert shellfish; not side left",
            },
            {"procedure": "HERNIA", "change": "remove", "kind": "item", "thing": "100002", "until": date(2020, 1, 1)},
        ]

    assert places(checked(tmp_path, change)) == [("removes nothing", "Cards", 7, "")]


def test_that_a_retired_item_must_not_be_asked_for(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Items"][1] |= {"retired": True, "stand-ins": ("100001",)}

    problems = [one for one in checked(tmp_path, change) if one.kind == "retired thing"]
    assert places(problems) == [("retired thing", "Cards", 6, "thing")]
    assert problems[0].nearest == ("100001",)


def test_that_a_latex_free_twin_must_be_free_of_latex(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Items"][0] |= {"latex": True, "latex-free twin": "100002"}
        rows["Items"][1]["latex"] = True

    assert ("twin cannot serve", "Items", 2, "latex-free twin") in places(checked(tmp_path, change))


def test_that_items_of_which_latex_is_not_stated_are_counted_once(tmp_path: Path) -> None:
    def some(rows: Rows) -> None:
        rows["Items"][1]["latex"] = rows["Items"][3]["latex"] = ""

    (notice,) = checked(tmp_path, some)
    assert (notice.kind, notice.severity, notice.where.row, notice.where.column) == (
        "latex not stated",
        Severity.NOTICE,
        3,
        "latex",
    )
    assert "2 of 6 items" in notice.message


def test_that_trays_of_which_latex_is_not_stated_are_counted_once(tmp_path: Path) -> None:
    def some(rows: Rows) -> None:
        rows["Trays"][1]["latex"] = ""

    (notice,) = checked(tmp_path, some)
    assert (notice.kind, notice.severity) == ("latex not stated", Severity.NOTICE)
    assert (notice.where.sheet, notice.where.row, notice.where.column) == ("Trays", 3, "latex")
    assert "1 of 2 trays" in notice.message


def test_that_a_missing_latex_column_is_said_once_for_the_whole_sheet(tmp_path: Path) -> None:
    def no_column(rows: Rows) -> None:
        for row in rows["Items"]:
            del row["latex"]

    (notice,) = checked(tmp_path, no_column)
    assert (notice.kind, notice.where.sheet, notice.where.row) == ("latex not stated", "Items", None)
    assert "6 of 6 items" in notice.message


def test_that_a_twin_that_is_not_stated_to_be_free_cannot_serve(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Items"][0] |= {"latex": True, "latex-free twin": "100002"}
        rows["Items"][1]["latex"] = ""

    assert ("twin cannot serve", "Items", 2, "latex-free twin") in places(checked(tmp_path, change))


def test_that_lots_without_a_recorded_expiry_are_counted_once_and_never_is_an_answer(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        lots = [("L1", ""), ("L2", "never"), ("L3", "2027-06"), ("L4", None)]
        place: dict[str, object] = {"item": "100001", "quantity": 1, "place": "A-01"}
        rows["Lots"] = [place | {"lot": lot, "expiry": expiry} for lot, expiry in lots]
        rows["Lots"].append(place | {"lot": "L5", "quantity": 0})

    (notice,) = checked(tmp_path, change)
    assert (notice.kind, notice.severity, notice.where.row, notice.where.column) == (
        "expiry not recorded",
        Severity.NOTICE,
        2,
        "expiry",
    )
    assert "2 of 4 lots" in notice.message


RUN = {"run": "van out", "weekday": "daily"}


def test_that_a_run_close_to_another_and_a_run_that_nothing_waits_for_are_told(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Departures"] = [
            *(RUN | {"time": time(hour)} for hour in (8, 12)),
            RUN | {"run": "vna out", "weekday": "Mon-Fri", "time": time(16)},
            RUN | {"run": "bike", "time": time(9)},
        ]
        rows["Routes"][0]["run"] = "van out"

    found = [one for one in checked(tmp_path, change) if one.where.sheet == "Departures"]
    assert [(one.kind, one.where.row, one.severity, one.nearest) for one in found] == [
        ("near word", 4, Severity.TO_FIX, ("van out",)),
        ("run without a use", 5, Severity.NOTICE, ()),
    ]


def test_that_runs_told_apart_by_a_number_are_two(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Departures"] = [RUN | {"run": f"van {n}", "time": time(8 + n)} for n in (1, 2)]
        rows["Routes"][0]["run"], rows["Routes"][1]["run"] = "van 1", "van 2"

    assert not [one for one in checked(tmp_path, change) if one.where.sheet == "Departures"]


def test_that_cycles_services_and_buildings_have_one_spelling(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Routes"][1]["cycle"], rows["Routes"][2]["cycle"] = "pre-vacuum", "prevacuum"
        rows["Procedures"][1]["service"] = "Orthopdics"
        rows["Places"][0]["building"] = rows["Places"][1]["building"] = "Main House"
        rows["Places"].append({"place": "A-03", "building": "Main Huose"})
        rows["Procedures"][0]["service"] = "Orthopedics"

    found = [one for one in checked(tmp_path, change) if one.kind == "near word"]
    assert [(one.where.sheet, one.where.row, one.where.column, one.nearest) for one in found] == [
        ("Routes", 4, "cycle", ("pre-vacuum",)),
        ("Procedures", 3, "service", ("Orthopedics",)),
        ("Places", 4, "building", ("Main House",)),
    ]


def test_that_a_set_for_a_misspelled_size_is_told(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Sets"][0]["size"] = "chld"
        rows["Schedule"][0]["patient size"] = rows["Schedule"][1]["patient size"] = "adult"

    (problem,) = [one for one in checked(tmp_path, change) if one.kind == "near word"]
    assert (problem.where.sheet, problem.where.row, problem.where.column) == ("Sets", 2, "size")
    assert problem.nearest == ("child",)


def test_that_lots_long_past_are_typing_mistakes_and_others_only_past(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Lots"] = [
            {"item": "100001", "lot": "L1", "quantity": 1, "expiry": date(2026, 11, 24), "place": "A-01"},
            {"item": "100001", "lot": "L2", "quantity": 1, "expiry": date(2016, 11, 24), "place": "A-01"},
            {"item": "100001", "lot": "L3", "quantity": 1, "expiry": date(2062, 11, 24), "place": "A-01"},
        ]

    found = [(one.kind, one.severity) for one in checked(tmp_path, change)]
    assert found == [
        ("expired lot", Severity.NOTICE),
        ("unlikely expiry", Severity.TO_FIX),
        ("unlikely expiry", Severity.TO_FIX),
    ]


def test_that_a_heavy_container_is_noticed_above_25_lb(tmp_path: Path) -> None:
    # ANSI/AAMI ST77 4.3.5, quoted second hand: a container with contents is not over 25 lb
    def change(rows: Rows) -> None:
        rows["Trays"][0] |= {"weight lb": 25, "container": True}
        rows["Trays"][1] |= {"weight lb": 25.1, "container": True}

    assert places(checked(tmp_path, change)) == [("heavy tray", "Trays", 3, "weight lb")]


def test_that_a_tray_without_a_count_sheet_is_noticed_where_its_instruments_are_listed(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Trays"][0] |= {"count sheet": False}
        rows["Trays"][1] |= {"count sheet": False}
        rows["Tray contents"] = [{"tray": rows["Trays"][1]["tray"], "instrument": "Needle holder", "quantity": 2}]

    assert places(checked(tmp_path, change)) == [("count sheet", "Trays", 3, "count sheet")]


def test_that_a_line_said_twice_is_told_though_another_fault_stops_its_case(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Schedule"][1]["surgeon"] = "SO2"  # an unknown surgeon stops C-2
        rows["Cards"].append(dict(rows["Cards"][3]))  # the tray of the hernia card once more, in row 7

    site, problems = read_changed(tmp_path, change)
    assert site is not None
    assert [(one.kind, one.cases) for one in problems] == [("unknown id", ("C-2",))]
    assert [(one.kind, one.where.row, [w.row for w in one.related]) for one in check_site(site, NOW)] == [
        ("double line", 5, [7])
    ]


def test_that_a_tray_without_a_set_is_noticed(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        del rows["Sets"][0]

    assert places(checked(tmp_path, change)) == [("tray without sets", "Trays", 2, "")]


def test_that_a_station_that_closes_too_soon_for_a_step_never_ends_it(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Hours"][0] |= {"from": time(8, 0), "to": time(8, 30)}  # the wash takes 60 minutes

    assert ("route never ends", "Routes", 2, "station") in places(checked(tmp_path, change))


def test_that_a_run_that_never_leaves_never_ends_its_route(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Departures"] = [{"run": "van", "weekday": "Mon", "time": time(13, 0)}]
        days = (DAY + timedelta(days=n) for n in range(-7, HORIZON_DAYS + 14))
        rows["Holidays"] = [{"day": day, "station": "van"} for day in days if day.weekday() == 0]
        rows["Routes"][0] |= {"run": "van", "station": ""}

    kinds = {one.kind for one in checked(tmp_path, change)}
    assert "route never ends" in kinds


def test_that_a_set_that_is_late_for_the_clock_is_told(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Sets"][1]["step since"] = datetime(2026, 11, 27, 7, 0)  # noqa: DTZ001 (a wall time)

    assert ("time to come", "Sets", 3, "step since") in places(checked(tmp_path, change))
