"""Cells as offices type them, and what the reader makes of them."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any

import pytest

from picklist.model.cards import Condition, ConditionKind
from picklist.settings import DateOrder
from picklist.tables.cells import CellFlaw, tidy
from picklist.tables.columns import CellType, Column
from picklist.tables.parse import ColumnParser
from picklist.tables.parse_dates import order_of
from picklist.tables.schema import BY_NAME


def column(kind: CellType, **more: Any) -> Column:
    return Column(name=more.pop("name", "column"), type=kind, help="a help", **more)


def read(kind: CellType, raw: Any, order: DateOrder | None = DateOrder.ANY, **more: Any) -> Any:
    """The value, or the kind of the fault with its nearest values."""
    value, fault = ColumnParser(column(kind, **more), order)(raw)
    return value if fault is None else (fault.kind, *fault.nearest)


def wall(*parts: int) -> datetime:
    return datetime(*parts)  # type: ignore[arg-type]  # noqa: DTZ001 (wall times)


@pytest.mark.parametrize(
    ("raw", "read_as"),
    [
        (" T-KNEE ", "T-KNEE"),
        ("T\u00a0KNEE", "T KNEE"),
        ("T-\u200bKNEE", "T-KNEE"),
        ("NA", "NA"),
        ("00123", "00123"),
        (123.0, "123"),
        (123, "123"),
        (7.5, "7.5"),
        (True, "TRUE"),
        ("1.23E+13", ("shortened number",)),
        (1.5e17, ("shortened number",)),
        (1.5e20, ("not a number",)),
        (date(2026, 3, 4), ("turned into date",)),
        (time(7, 30), ("turned into date",)),
        (CellFlaw("error value", "#N/A"), ("error value",)),
        (CellFlaw("no stored value"), ("no stored value",)),
        ("x" * 2001, ("too long",)),
    ],
)
def test_codes(raw: Any, read_as: Any) -> None:
    assert read(CellType.CODE, raw) == read_as


def test_that_a_number_among_ids_with_zeros_in_front_has_lost_its_own() -> None:
    parser = ColumnParser(column(CellType.CODE), digits=6)
    value, fault = parser(245.0)
    assert value is None
    assert fault is not None
    assert (fault.kind, fault.nearest) == ("lost zeros", ("000245",))
    assert parser(123456.0) == ("123456", None)


@pytest.mark.parametrize(
    ("raw", "read_as"),
    [
        ("A; B;C", ("A", "B", "C")),
        ("A,B", ("A", "B")),
        ("A\nB", ("A", "B")),
        ("A;;", ("A",)),
        (12.0, ("12",)),
        ("", ()),
        ("A; a", ("listed twice",)),
    ],
)
def test_several_codes(raw: Any, read_as: Any) -> None:
    assert read(CellType.CODES, raw) == read_as
    assert read(CellType.STAND_INS, raw) == read_as


@pytest.mark.parametrize(
    ("raw", "read_as"),
    [
        ("left", ("left",)),
        (" Right ;LEFT", ("right", "left")),
        ("right, none\nright", ("right", "none", "right")),
        ("right;", ("right",)),
        ("", ()),
        ("right; lefft", ("not a choice", "left")),
        ("; left", ("left out",)),
        ("right;;left", ("left out",)),
    ],
)
def test_several_choices_keep_their_order(raw: Any, read_as: Any) -> None:
    assert read(CellType.CHOICES, raw, choices=("left", "right", "both", "none")) == read_as


@pytest.mark.parametrize(
    ("raw", "read_as"),
    [
        (3, 3),
        (3.0, 3),
        ("3", 3),
        ("3.0", 3),
        (" 3 ", 3),
        ("", None),
        (3.5, ("not whole", "3", "4")),
        ("3.5", ("not whole", "3", "4")),
        (-1, ("below zero", "1", "0")),
        ("-1", ("below zero", "1", "0")),
        (-5000, ("below zero", "0")),
        (1000, ("too large",)),
        ("two", ("not a number", "2")),
        ("Two.", ("not a number", "2")),
        ("tow", ("not a number", "2")),
        ("none", ("not a number", "0")),
        ("stop", ("not a number",)),
        ("many", ("not a number",)),
        ("2-3", ("not a number", "2", "3")),
        ("2 \u2013 3", ("not a number", "2", "3")),
        ("2 or 3", ("not a number", "2", "3")),
        ("2 to 30000", ("unit in number",)),
        ("1/2", ("not a number", "1", "2")),
        ("x2", ("not a number", "2")),
        ("2?", ("not a number", "2")),
        ("1 ea", ("unit in number", "1")),
        ("1 ea.", ("unit in number", "1")),
        ("2 boxes", ("unit in number",)),  # how many are in a box is not known
        ("1,0", ("not a number", "1")),
        ("1,5", ("not a number", "1", "2")),
        ("1,000", ("not a number", "1")),  # 1000 is more than the column allows
        ("2-Jan", ("date for number", "1", "2")),
        ("Jan-02", ("date for number", "1", "2")),
        ("\u0663", ("not a number",)),  # an Arabic-Indic digit: a number to Python, not to the office
        (True, ("not a number",)),
        (date(2026, 3, 4), ("date for number", "3", "4")),
        (date(1900, 1, 2), ("date for number", "2")),  # a 2 in a cell that shows dates
        (wall(1900, 4, 9), ("date for number", "100")),
        (time(2, 3), ("time for number",)),  # 02:03 is not 123 of anything
        (timedelta(hours=25), ("time for number",)),
        ("1:30", ("time for number",)),
        (float("nan"), ("not a number",)),
        (float("inf"), ("not a number",)),
        ("nan", ("not a number",)),
        ("1e3", ("not a number",)),
    ],
)
def test_whole_numbers(raw: Any, read_as: Any) -> None:
    assert read(CellType.WHOLE, raw, least=0, most=999) == read_as


@pytest.mark.parametrize(
    ("name", "kind", "raw", "read_as"),
    [
        ("weight lb", CellType.NUMBER, "17.5", 17.5),
        ("weight lb", CellType.NUMBER, 17, 17.0),
        ("weight lb", CellType.NUMBER, "17,5", ("not a number", "17.5")),
        ("weight lb", CellType.NUMBER, "8 kg", ("unit in number", "17.6")),
        ("weight lb", CellType.NUMBER, "17.5 lb", ("unit in number", "17.5")),
        ("usual minutes", CellType.WHOLE, "2 h", ("unit in number", "120")),
        ("usual minutes", CellType.WHOLE, "90 min", ("unit in number", "90")),
        ("usual minutes", CellType.WHOLE, "1:30", ("time for number", "90")),
        ("usual minutes", CellType.WHOLE, time(1, 30), ("time for number", "90")),
        ("usual minutes", CellType.WHOLE, timedelta(hours=25), ("time for number", "1500")),
        ("usual minutes", CellType.WHOLE, "1,200", ("not a number", "1200")),
    ],
)
def test_units_mixed_up(name: str, kind: CellType, raw: Any, read_as: Any) -> None:
    assert read(kind, raw, name=name, least=0) == read_as


DAY = date(2026, 11, 26)


@pytest.mark.parametrize(
    ("raw", "read_as"),
    [
        (DAY, DAY),
        (wall(2026, 11, 26), DAY),
        (wall(2026, 11, 26, 7, 30), DAY),
        (46352, DAY),  # a spreadsheet's day number
        (46352.0, DAY),
        ("46352", DAY),
        (20261126, DAY),
        ("2026-11-26", DAY),
        ("2026/11/26", DAY),
        ("2026-11-26 00:00:00", DAY),
        ("26 Nov 2026", DAY),
        ("26-Nov-26", DAY),
        ("Thu 26 November 2026", DAY),
        ("Nov 26, 2026", DAY),
        ("26.11.2026", DAY),
        ("11/11/2026", date(2026, 11, 11)),
        ("03/04/2026", ("ambiguous date", "2026-04-03", "2026-03-04")),
        ("2026-02-30", ("no such day", "2026-02-28")),
        ("31.04.2026", ("no such day", "2026-04-30")),
        ("tomorrow", ("not a date",)),
        ("26 Foo 2026", ("not a date",)),
        (7, ("not a date",)),
        (0.5, ("not a date",)),
        (time(7, 30), ("not a date",)),
        (True, ("not a date",)),
        ("1926-11-26", ("date out of range",)),
        (date(1900, 1, 1), ("date out of range",)),
    ],
)
def test_days(raw: Any, read_as: Any) -> None:
    assert read(CellType.DATE, raw) == read_as


@pytest.mark.parametrize(
    ("order", "read_as"),
    [
        (DateOrder.DAY_FIRST, date(2026, 4, 3)),
        (DateOrder.MONTH_FIRST, date(2026, 3, 4)),
        (None, ("two date orders", "2026-04-03", "2026-03-04")),
    ],
)
def test_that_the_order_of_a_column_decides(order: DateOrder | None, read_as: Any) -> None:
    assert read(CellType.DATE, "03/04/2026", order) == read_as
    assert read(CellType.DATE, "3-4-26", order) == read_as
    assert read(CellType.DATE, "2026-03-04", order) == date(2026, 3, 4), "ISO is never in doubt"


def test_that_a_column_proves_its_order() -> None:
    assert order_of(["03/04/2026", "26/11/2026", None, 3.0]) is DateOrder.DAY_FIRST
    assert order_of(["03/04/2026", "11/26/2026"]) is DateOrder.MONTH_FIRST
    assert order_of(["03/04/2026", "26.11.2026", "2026-11-26"]) is DateOrder.ANY
    assert order_of(["26/11/2026", "11/26/2026"]) is None


@pytest.mark.parametrize(
    ("raw", "read_as"),
    [
        ("2027-06", date(2027, 6, 30)),
        ("06/2027", date(2027, 6, 30)),
        ("Jun 2027", date(2027, 6, 30)),
        ("2028-02", date(2028, 2, 29)),
        ("2027-02", date(2027, 2, 28)),
        ("2027-06-15", date(2027, 6, 15)),
        (date(2027, 6, 15), date(2027, 6, 15)),
        (wall(2027, 6, 15), date(2027, 6, 15)),
        (wall(2027, 6, 15, 8, 0), ("not a date", "2027-06-14")),  # its day is not over when it expires
        (46553.0, date(2027, 6, 15)),
        (46553.25, ("not a date", "2027-06-14")),
        ("2027-06-15 08:00", ("not a date",)),
        ("", None),
        ("2027-13", ("not a date",)),
        ("none", ("not a date",)),
        ("Jun-27", ("not a date",)),  # the 27th of June, or June 2027?
    ],
)
def test_expiry_dates(raw: Any, read_as: Any) -> None:
    assert read(CellType.EXPIRY, raw) == read_as


@pytest.mark.parametrize(
    ("raw", "read_as"),
    [
        ("never", "never"),
        ("None", "never"),
        ("Never expires", "never"),
        ("no expiry", "never"),
        ("2027-06", date(2027, 6, 30)),
        ("", None),
        ("nevr", ("not a date", "never")),
        ("n/a", ("not a date",)),
        ("unknown", ("not a date",)),
    ],
)
def test_that_a_lot_may_say_that_it_never_expires(raw: str, read_as: Any) -> None:
    value, fault = ColumnParser(BY_NAME["Lots"].column("expiry"))(raw)
    assert (value if fault is None else (fault.kind, *fault.nearest)) == read_as


@pytest.mark.parametrize(
    ("raw", "read_as"),
    [
        (time(7, 30), time(7, 30)),
        (0.3125, time(7, 30)),
        (0.31249999, time(7, 30)),
        (0, ("not a time", "00:00")),
        (timedelta(hours=7, minutes=30), time(7, 30)),
        (wall(1899, 12, 30, 7, 30), time(7, 30)),
        ("07:30", time(7, 30)),
        ("7:30", time(7, 30)),
        ("7.30", time(7, 30)),
        ("07h30", time(7, 30)),
        ("0730", time(7, 30)),
        (730.0, time(7, 30)),
        ("07:30:00", time(7, 30)),
        ("7:30 am", time(7, 30)),
        ("7:30 PM", time(19, 30)),
        ("7:30 p.m.", time(19, 30)),
        ("7 pm", time(19, 0)),
        ("12:15 am", time(0, 15)),
        ("12:15 pm", time(12, 15)),
        ("noon", time(12, 0)),
        ("0.3125", time(7, 30)),
        ("24:00", ("past midnight", "00:00")),
        ("25:30", ("past midnight", "01:30")),
        (timedelta(hours=25, minutes=30), ("past midnight", "01:30")),
        (1.0625, ("past midnight", "01:30")),
        ("2530", ("past midnight", "01:30")),
        ("13:30 pm", ("not a time",)),
        ("7:60", ("not a time",)),
        ("7", ("not a time", "07:00")),
        (7.0, ("not a time", "07:00")),
        ("half seven", ("not a time",)),
        (timedelta(hours=-1), ("below zero",)),
        (wall(2026, 11, 26, 7, 30), ("date with time", "07:30")),
        (DAY, ("not a time",)),
        (True, ("not a time",)),
    ],
)
def test_times_of_day(raw: Any, read_as: Any) -> None:
    assert read(CellType.TIME, raw) == read_as


def test_that_closing_time_may_be_midnight() -> None:
    assert read(CellType.TIME, "24:00", closing=True) == time(0)
    assert read(CellType.TIME, 1.0, closing=True) == ("not a time", "01:00"), "a bare 1 is more likely one o'clock"
    assert read(CellType.TIME, timedelta(days=1), closing=True) == time(0)


def test_several_times() -> None:
    assert read(CellType.TIMES, "13:00; 07:30; 13:00") == (time(7, 30), time(13, 0))
    assert read(CellType.TIMES, time(7, 30)) == (time(7, 30),)
    assert read(CellType.TIMES, "07:30; 25:00") == ("past midnight", "01:00")
    assert read(CellType.TIMES, "") == ()


@pytest.mark.parametrize(
    ("raw", "read_as"),
    [
        (wall(2026, 11, 25, 16, 30), wall(2026, 11, 25, 16, 30)),
        (wall(2026, 11, 25, 16, 29, 59, 999_999), wall(2026, 11, 25, 16, 30)),
        (46351.6875, wall(2026, 11, 25, 16, 30)),
        ("2026-11-25 16:30", wall(2026, 11, 25, 16, 30)),
        ("2026-11-25T16:30", wall(2026, 11, 25, 16, 30)),
        ("2026-11-25 4:30 pm", wall(2026, 11, 25, 16, 30)),
        ("25 Nov 2026 16:30", wall(2026, 11, 25, 16, 30)),
        ("2026-11-25", ("no time",)),
        ("16:30", ("no day",)),
        (time(16, 30), ("no day",)),
        ("2026-11-25T16:30Z", ("not a stamp",)),
        ("2026-11-25 16:30+01:00", ("not a stamp",)),
        ("03/04/2026 16:30", ("ambiguous date", "2026-04-03 16:30", "2026-03-04 16:30")),
        ("2026-11-25 25:30", ("past midnight", "2026-11-25 01:30")),
        ("later", ("not a stamp",)),
        (5, ("not a stamp",)),
    ],
)
def test_days_with_times(raw: Any, read_as: Any) -> None:
    assert read(CellType.STAMP, raw) == read_as


@pytest.mark.parametrize(
    ("raw", "read_as"),
    [
        ("Yes", True),
        ("n", False),
        (True, True),
        (0.0, False),
        ("x", ("not yes or no", "yes")),
        ("maybe", ("not yes or no",)),
        ("yex", ("not yes or no", "yes")),
        ("nope", ("not yes or no", "no")),
    ],
)
def test_yes_and_no(raw: Any, read_as: Any) -> None:
    assert read(CellType.YES_NO, raw) == read_as


@pytest.mark.parametrize(
    ("raw", "read_as"),
    [
        ("on shelf", "on shelf"),
        ("On-Shelf", "on shelf"),
        ("AT  STEP", "at step"),
        ("s", "at step"),
        ("on shelff", ("not a choice", "on shelf")),
        ("on shelf?", ("not a choice", "on shelf")),
        ("s?", ("not a choice",)),
        ("gone", ("not a choice",)),
        (3.0, ("not a choice",)),
    ],
)
def test_choices(raw: Any, read_as: Any) -> None:
    assert read(CellType.CHOICE, raw, choices=("on shelf", "at step"), also=(("s", "at step"),)) == read_as


@pytest.mark.parametrize(
    ("raw", "read_as"),
    [
        ("Mon", (0,)),
        ("monday", (0,)),
        ("Mondays", (0,)),
        ("Tues", (1,)),
        ("Mon-Fri", (0, 1, 2, 3, 4)),
        ("Mon to Fri", (0, 1, 2, 3, 4)),
        ("Sat-Mon", (0, 5, 6)),
        ("Mon; Wed", (0, 2)),
        ("Mon, Wed", (0, 2)),
        ("daily", tuple(range(7))),
        ("weekends", (5, 6)),
        ("T", ("not a weekday",)),
        ("Wednsday", ("not a weekday", "Wed")),
        ("dailly", ("not a weekday", "daily")),
        ("Mon-Wed-Fri", ("not a weekday",)),
        (1.0, ("not a weekday",)),
        ("Mon\nTue", (0, 1)),
        ("Monday; Tuesday; Wednesday; Thursday; Friday; Saturday; Sunday", (0, 1, 2, 3, 4, 5, 6)),
    ],
)
def test_weekdays(raw: Any, read_as: Any) -> None:
    assert read(CellType.WEEKDAYS, raw) == read_as


def test_conditions() -> None:
    assert read(CellType.CONDITIONS, "alert Latex; not side left ;size child") == (
        Condition(kind=ConditionKind.ALERT, value="latex"),
        Condition(kind=ConditionKind.SIDE, value="left", negated=True),
        Condition(kind=ConditionKind.SIZE, value="child"),
    )
    assert read(CellType.CONDITIONS, "") == ()
    assert read(CellType.CONDITIONS, "alret latex") == ("not a condition", "alert latex")
    assert read(CellType.CONDITIONS, "not sied left") == ("not a condition", "not side left")
    assert read(CellType.CONDITIONS, "side lft") == ("not a condition", "left")
    assert read(CellType.CONDITIONS, "latex") == ("not a condition",)
    assert read(CellType.CONDITIONS, "not") == ("not a condition",)


def test_that_an_empty_cell_means_the_usual_value_or_is_missed() -> None:
    assert read(CellType.WHOLE, None, default="1") == 1
    assert read(CellType.YES_NO, "  ", default="yes") is True
    assert read(CellType.CODE, "\u200b", required=True) == ("empty cell",)
    assert read(CellType.CODE, "", every=True) is None
    assert read(CellType.CODE, "Every", every=True) is None
    assert read(CellType.CODE, "ALL", every=True) is None
    assert read(CellType.CODE, "every?", every=True) == "every?"


@pytest.mark.parametrize("mark", ["\u2066", "\u2069", "\u202a", "\u202e", "\u061c", "\u200f", "\ufe0f", "\ufeff"])
def test_that_marks_that_nobody_sees_do_not_make_two_ids_of_one(mark: str) -> None:
    assert tidy(f"{mark}T-KNEE{mark}") == tidy(f"T-{mark}KNEE") == "T-KNEE"
