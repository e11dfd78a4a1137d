"""What a sheet does not state is no safe answer: it takes the careful way and is said once, with the count."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pytest

from picklist.inputs import read_site
from picklist.model.schedule import Side
from picklist.model.sets import SetState
from picklist.model.site import Site
from picklist.problems import Problem, Severity
from picklist.sets.walk import steps_for
from tests.inputs.folders import NOW, Rows, besides_left_out, write_site


def read(folder: Path, change: object) -> tuple[Site, dict[tuple[str, str], Problem]]:
    """The changed site, and its problems and notices by kind and place."""
    site, problems = read_site(write_site(folder, change), now=NOW)  # type: ignore[arg-type]
    assert site is not None
    told = besides_left_out(problems)
    places = {(one.kind, f"{one.where.sheet} {one.where.row} {one.where.column}"): one for one in told}
    assert len(places) == len(told), "each fault once"
    return site, places


def left_and_right(rows: Rows, sided: bool | None) -> None:
    """Two sets of T-KNEE, one left, one right; the tray says of itself what is given."""
    rows["Trays"][0]["sided"] = sided
    rows["Sets"][0]["side"] = "left"
    rows["Sets"].append({"set": "KNEE-02", "tray": "T-KNEE", "side": "right", "state": "on shelf", "place": "A-01"})


def test_a_set_that_names_a_side_makes_its_tray_sided_where_the_tray_does_not_say(tmp_path: Path) -> None:
    site, problems = read(tmp_path, lambda rows: left_and_right(rows, None))
    assert site.trays["T-KNEE"].sided is True
    (found,) = problems.values()
    assert (found.kind, found.where.sheet, found.where.row, found.where.column) == ("not stated", "Trays", 2, "sided")
    assert "sided is not stated for 1 of 2 trays" in found.message


def test_a_tray_that_is_said_to_have_no_sides_but_has_left_sets_contradicts_itself(tmp_path: Path) -> None:
    site, problems = read(tmp_path, lambda rows: left_and_right(rows, False))
    assert site.trays["T-KNEE"].sided is True
    (found,) = problems.values()
    assert (found.kind, found.where.sheet, found.where.row) == ("sided contradicts", "Trays", 2)
    assert [(one.sheet, one.row) for one in found.related] == [("Sets", 2), ("Sets", 4)]


def test_a_misspelled_side_still_names_one(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        left_and_right(rows, None)
        rows["Sets"][0]["side"] = "leftt"
        del rows["Sets"][2]["side"]

    site, problems = read(tmp_path, change)
    assert site.trays["T-KNEE"].sided is True
    assert {kind for kind, _ in problems} == {"not a choice", "not stated", "set without side"}


def test_a_tray_of_which_nothing_names_a_side_is_reported_as_not_stated(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        del rows["Trays"][0]["sided"]

    site, problems = read(tmp_path, change)
    assert site.trays["T-KNEE"].sided is None
    (found,) = problems.values()
    assert (found.kind, found.where.row, found.where.column) == ("not stated", 2, "sided")


def test_sets_of_a_sided_tray_without_a_side_are_said_once_and_stay_known(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        left_and_right(rows, True)
        for number in (3, 4):
            rows["Sets"].append(
                {"set": f"KNEE-0{number}", "tray": "T-KNEE", "state": "on shelf", "place": "A-01"},
            )

    site, problems = read(tmp_path, change)
    assert site.sets["KNEE-03"].side is None
    assert site.sets["KNEE-01"].side is Side.LEFT
    (found,) = problems.values()
    assert (found.kind, found.where.sheet, found.where.row) == ("set without side", "Sets", 5)
    assert "2 of 4 sets of sided trays" in found.message


def test_a_set_without_a_state_is_of_unknown_state(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        del rows["Sets"][0]["state"]

    site, problems = read(tmp_path, change)
    assert site.sets["KNEE-01"].state is SetState.UNKNOWN
    (found,) = problems.values()
    assert (found.kind, found.where.row, found.where.column) == ("not stated", 2, "state")
    assert "state is not stated for 1 of 2 sets (KNEE-01)" in found.message


def test_a_site_without_the_column_state_knows_no_set_on_a_shelf(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Sets"] = [{"set": "KNEE-01", "tray": "T-KNEE", "place": "A-01"}]

    write_site(tmp_path, change)
    book = tmp_path / "trays.xlsx"
    assert book.exists()
    site, problems = read_site(drop_column(tmp_path, "Sets", "state"), now=NOW)
    assert site is not None
    assert site.sets["KNEE-01"].state is SetState.UNKNOWN
    assert [one.where.column for one in problems if one.kind in ("not stated", "missing column")] == ["state"]


def drop_column(folder: Path, table: str, column: str) -> Path:
    from openpyxl import load_workbook

    for path in folder.glob("*.xlsx"):
        book = load_workbook(path)
        if table in book.sheetnames:
            headers = [cell.value for cell in book[table][1]]
            book[table].delete_cols(headers.index(column) + 1)
            book.save(path)
    return folder


def test_a_set_on_a_shelf_without_a_place_is_said(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        del rows["Sets"][0]["place"]

    site, problems = read(tmp_path, change)
    assert site.sets["KNEE-01"].state is SetState.ON_SHELF
    (found,) = problems.values()
    assert (found.kind, found.where.row, found.where.column) == ("not stated", 2, "place")


def on_loan(rows: Rows, **cells: object) -> None:
    rows["Sets"].append({"set": "KNEE-09", "tray": "T-KNEE", "state": "on loan", **cells})


@pytest.mark.parametrize(
    ("state", "column"),
    [("away", "back at"), ("on loan", "back at"), ("at step", "step since"), ("dirty", "step since")],
)
def test_a_day_without_its_time_is_not_midnight(tmp_path: Path, state: str, column: str) -> None:
    """A set that comes back on the day of the case would be there for the first case of the morning."""

    def change(rows: Rows) -> None:
        step = {"step": "steam"} if state == "at step" else {}
        rows["Sets"].append({"set": "KNEE-09", "tray": "T-KNEE", "state": state, column: date(2026, 11, 26), **step})

    site, problems = read(tmp_path, change)
    assert "KNEE-09" not in site.sets
    assert set(problems) == {("no time", f"Sets 4 {column}")}


def test_a_loan_that_does_not_say_when_it_arrives_is_not_here(tmp_path: Path) -> None:
    site, problems = read(tmp_path, lambda rows: on_loan(rows, **{"return by": datetime(2026, 11, 28, 8, 0)}))  # noqa: DTZ001
    assert "KNEE-09" not in site.sets
    assert set(problems) == {("state incomplete", "Sets 4 back at")}


def test_a_loan_that_does_not_say_when_it_goes_back_is_said(tmp_path: Path) -> None:
    site, problems = read(tmp_path, lambda rows: on_loan(rows, **{"back at": datetime(2026, 11, 26, 5, 0)}))  # noqa: DTZ001
    assert "KNEE-09" in site.sets
    (found,) = problems.values()
    assert (found.kind, found.where.row, found.where.column) == ("not stated", 4, "return by")


def only_for_implants(rows: Rows) -> None:
    rows["Routes"].append(
        {
            "route": "STEAM",
            "step": "indicator",
            "after": ("steam",),
            "usual minutes": 180,
            "least minutes": 180,
            "only for": "implants",
        }
    )


def test_a_tray_that_does_not_say_whether_it_holds_implants_goes_the_longer_way(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        only_for_implants(rows)
        del rows["Trays"][0]["implants"]

    site, problems = read(tmp_path, change)
    assert site.trays["T-KNEE"].implants is None
    assert [step.name for step in steps_for(site, site.trays["T-KNEE"])] == ["wash", "steam", "cool", "indicator"]
    assert [step.name for step in steps_for(site, site.trays["T-BASIC"])] == ["wash", "steam", "cool"]
    (found,) = problems.values()
    assert (found.kind, found.where.row, found.where.column) == ("not stated", 2, "implants")
    assert "implants is not stated for 1 of 2 trays" in found.message


def test_where_no_step_is_only_for_implants_a_blank_changes_nothing_and_is_not_said(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        del rows["Trays"][0]["implants"]

    _, problems = read(tmp_path, change)
    assert problems == {}


def on_shelf(rows: Rows, *ends: object) -> None:
    """Sets of T-KNEE on the shelf, each with an end of its record; the first is KNEE-01."""
    rows["Sets"][0]["recorded sterile until"] = ends[0]
    for number, end in enumerate(ends[1:], start=2):
        row = {"set": f"KNEE-0{number}", "tray": "T-KNEE", "state": "on shelf", "place": "A-01"}
        rows["Sets"].append(row | {"recorded sterile until": end})


def test_sets_without_an_end_of_their_record_are_counted_once_where_others_have_one(tmp_path: Path) -> None:
    """Three on the shelf: one until 1 March, one that only an event ends, one that says nothing."""
    site, problems = read(tmp_path, lambda rows: on_shelf(rows, date(2027, 3, 1), "no end", None))
    assert {one.id: one.end_recorded for one in site.sets.values() if one.tray == "T-KNEE"} == {
        "KNEE-01": True,
        "KNEE-02": True,
        "KNEE-03": False,
    }
    (found,) = problems.values()
    assert (found.kind, found.severity) == ("not stated", Severity.NOTICE)
    assert (found.where.sheet, found.where.row, found.where.column) == ("Sets", 5, "recorded sterile until")
    assert "1 of 3 sets on a shelf (KNEE-03)" in found.message


@pytest.mark.parametrize("word", ["no end", "None", "never", "event-related", "no expiry", date(9999, 12, 31)])
def test_that_sterility_has_no_last_day_can_be_said(tmp_path: Path, word: object) -> None:
    site, problems = read(tmp_path, lambda rows: on_shelf(rows, word))
    assert (site.sets["KNEE-01"].end_recorded, site.sets["KNEE-01"].recorded_until) == (True, None)
    assert problems == {}


def test_where_no_set_has_an_end_the_column_is_said_once(tmp_path: Path) -> None:
    path = write_site(tmp_path, lambda rows: on_shelf(rows, None, None, None))
    site, problems = read_site(path, now=NOW)
    assert site is not None
    assert not any(one.end_recorded for one in site.sets.values())
    told = [one for one in problems if "recorded sterile until" in one.sentence()]
    assert [one.severity for one in told] == [Severity.NOTICE]


def test_a_card_line_that_does_not_say_whether_it_is_approved_counts_and_is_known_as_such(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        for number, word in enumerate(("yes", "", "no", "yes", "")):
            rows["Cards"][number]["approved"] = word

    site, problems = read(tmp_path, change)
    assert [(one.approved, one.approval_stated) for one in site.card_lines] == [
        (True, True),
        (True, False),
        (False, True),
        (True, True),
        (True, False),
    ]
    assert problems == {}  # the blank cells are counted in the notice of what a sheet leaves out


@pytest.mark.parametrize("column", ["sided", "implants", "latex"])
def test_a_tray_with_a_vital_word_that_nobody_can_read_is_not_planned_with(tmp_path: Path, column: str) -> None:
    def change(rows: Rows) -> None:
        rows["Trays"][0][column] = "perhaps"

    site, problems = read(tmp_path, change)
    assert "T-KNEE" not in site.trays
    assert ("not yes or no", f"Trays 2 {column}") in problems


def test_cases_without_a_side_are_counted(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        del rows["Schedule"][1]["side"]

    site, problems = read_site(write_site(tmp_path, change), now=NOW)
    assert site is not None
    assert [case.side for case in site.cases] == [Side.LEFT, None]
    (found,) = (one for one in problems if (one.where.sheet, one.where.column) == ("Schedule", "side"))
    assert (found.kind, found.severity) == ("blank cells", Severity.NOTICE)
    assert found.message.startswith("'side' is not stated for 1 of 2 cases (row 3); their lists say so")


@pytest.mark.parametrize("column", ["procedure", "surgeon"])
def test_a_card_line_that_does_not_say_for_whom_it_is_counts_for_every_one_and_says_so(
    tmp_path: Path, column: str
) -> None:
    def change(rows: Rows) -> None:
        for number, row in enumerate(rows["Cards"]):
            row[column] = "every" if number < 3 else row.get(column) or "every"
        rows["Cards"][3][column] = ""

    site, _ = read(tmp_path, change)
    assert [line.thing for line in site.card_lines if getattr(line, column) is None][:4] == [
        "T-KNEE",
        "100001",
        "100001",
        "T-BASIC",
    ]
    _, problems = read_site(write_site(tmp_path, change), now=NOW)
    (found,) = (one for one in problems if one.where.sheet == "Cards" and one.where.column == column)
    assert found.message == (
        f"'{column}' is not stated for 1 of 5 card lines (row 5); "
        f"such a line counts for every {column} (write 'every' where that is meant)"
    )
