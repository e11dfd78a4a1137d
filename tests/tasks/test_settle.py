"""A case counts once, ever: in whatever order forms come in, however often it is settled, and after every kill."""

from __future__ import annotations

import csv
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from picklist.documents.plan_json import plan_from_json
from picklist.evening.crew_workbook import cart_workbook
from picklist.evening.revise import plan_kept
from picklist.store.state import open_state, state_path
from picklist.tasks.build import Wanted, build_day
from picklist.tasks.crew import tell_by_workbook
from picklist.tasks.day_after import settle_day, tell_used
from picklist.tasks.errors import WrongUse
from picklist.tasks.read_folder import load_folder
from tests.patience import THOROUGH, tries
from tests.tasks.small_folder import tell_by_scans, write_folder
from tests.tasks.test_built_carts import lay_lists

DAY = date(2026, 11, 26)
EVENING = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 - site wall time
AFTER = datetime(2026, 11, 26, 19, 0)  # noqa: DTZ001 - site wall time
CASES = {"M1": "WR-01", "M2": "WR-02", "M3": "WR-03"}
SCHEDULE = tuple(f"M{n},2026-11-26,OR {n},08:00,60,S{n},P1,none,planned" for n in (1, 2, 3))
TABLES = {
    "Sets": "set,tray,side,state,step,step since,in case,place\n"
    + "".join(f"{one},T-WR,,on shelf,,,,A-1-1\n" for one in CASES.values()),
    "Cards": "procedure,surgeon,change,kind,thing,open,hold,approved\n"
    "P1,,add,tray,T-WR,1,0,yes\nP1,,add,item,100001,3,1,yes\n",
}
OPEN, HOLD, FULL = 3, 1, 100


def lay(folder: Path) -> Path:
    """Three carts built as planned, each with a wrist tray and four drapes, one of them on hold."""
    lots = f"item,lot,quantity,expiry,place\n100001,L1,{FULL},2030-01-31,B-1-1\n"
    write_folder(folder, *SCHEDULE, Lots=lots, **TABLES)
    lay_lists(folder, EVENING, DAY)
    for case, set_id in CASES.items():
        report(folder, case, set_id, 0)
    return folder


def report(folder: Path, case: str, set_id: str, missing: int) -> None:
    gone = [f"MISSING 100001 {missing}"] if missing else []
    told = tell_by_scans(folder, [f"CART {case}", "BY ab", set_id, *gone, "DONE"], EVENING + timedelta(hours=1), DAY)
    assert told.kept


@pytest.fixture(scope="module")
def laid(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return lay(tmp_path_factory.mktemp("laid") / "site")


def copy_of(laid: Path, place: Path) -> Path:
    shutil.copytree(laid, place / "site")
    shutil.copyfile(state_path(laid), state_path(place / "site"))
    return place / "site"


@pytest.fixture
def site(laid: Path, tmp_path: Path) -> Path:
    return copy_of(laid, tmp_path)


def told(folder: Path, case: str, used: int, unopened: int | None = None, *, tray: int = 1) -> None:
    """A room's form: so many drapes used of the four, and whether its tray was opened."""
    form = folder.parent / "form.csv"
    back = "" if unopened is None else unopened
    form.write_text(
        "case,kind,thing,set,open,hold,used,unopened\n"
        f"{case},item,100001,,{OPEN},{HOLD},{used},{back}\n"
        f"{case},tray,T-WR,{CASES[case]},1,0,{tray},{1 - tray}\n"
    )
    assert tell_used(folder, form, DAY, AFTER).lines


def added_by_hand(folder: Path, case: str, quantity: int) -> Path:
    """The crew's workbook, in which so many drapes were added beyond the list."""
    with open_state(state_path(folder)) as state:
        plan = plan_kept(state, DAY, plan_from_json)
    assert plan is not None
    path = folder.parent / "carts.xlsx"
    path.write_bytes(cart_workbook(plan))
    book = openpyxl.load_workbook(path)
    filled: tuple[str | int, ...] = (case, "100001", "L1", quantity)
    for column, value in enumerate(filled, start=1):
        book["Added"].cell(4, column, value)
    book.save(path)
    return path


def settle(folder: Path, later: int = 0) -> tuple[str, ...]:
    """Settle the day into the tables; the cases of which nothing was new."""
    settled = settle_day(folder, DAY, AFTER + timedelta(hours=later), write=True)
    return settled.changes.counted_before


def rows(folder: Path, table: str) -> list[dict[str, str]]:
    with (folder / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def drapes(folder: Path) -> int:
    return int(rows(folder, "Lots")[0]["quantity"])


def states(folder: Path) -> dict[str, str]:
    return {row["set"]: row["state"] for row in rows(folder, "Sets")}


def write_rows(folder: Path, table: str, changed: list[dict[str, str]]) -> None:
    """What a person types into a table."""
    with (folder / f"{table}.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(changed[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(changed)


def shelve(folder: Path, set_id: str) -> None:
    """Somebody washed a set, put it on the shelf and recorded that."""
    changed = [row | ({"state": "on shelf", "step since": ""} if row["set"] == set_id else {})
               for row in rows(folder, "Sets")]  # fmt: skip
    write_rows(folder, "Sets", changed)


def deliver(folder: Path, many: int) -> None:
    changed = rows(folder, "Lots")
    changed[0]["quantity"] = str(int(changed[0]["quantity"]) + many)
    write_rows(folder, "Lots", changed)


def test_that_settling_twice_takes_nothing_off_twice_and_says_what_was_counted(site: Path) -> None:
    """Four drapes went, three were used and the one on hold came back: 97, and 97 again."""
    told(site, "M1", 3)
    assert settle(site) == ()
    assert (drapes(site), states(site)["WR-01"]) == (97, "dirty")
    before = {path.name: path.read_bytes() for path in site.glob("*.csv")}
    assert settle(site, later=2) == ("M1",)
    assert {path.name: path.read_bytes() for path in site.glob("*.csv")} == before


def test_that_a_late_form_counts_its_own_case_alone(site: Path) -> None:
    told(site, "M1", 3)
    settle(site)
    told(site, "M2", 4)
    assert settle(site) == ("M1",)
    assert drapes(site) == 100 - 3 - 4


def test_that_what_the_crew_added_counts_where_the_room_used_more_than_the_list_put_there(site: Path) -> None:
    """Two of the four were missing and three were added by hand: five stood there, four were used, one came back."""
    report(site, "M1", "WR-01", 2)
    assert tell_by_workbook(site, added_by_hand(site, "M1", 3), EVENING + timedelta(hours=2), DAY).kept
    told(site, "M1", 4)
    settle(site)
    assert drapes(site) == FULL - 4


def test_that_a_corrected_form_counts_the_difference(site: Path) -> None:
    told(site, "M1", 4)
    settle(site)
    told(site, "M1", 2, 2)
    settle(site)
    assert drapes(site) == 98


def test_that_what_people_wrote_in_between_stays(site: Path) -> None:
    told(site, "M1", 3)
    settle(site)
    deliver(site, 50)
    told(site, "M2", 3)
    settle(site)
    assert drapes(site) == 100 + 50 - 6


def test_that_a_set_which_was_washed_since_is_not_settled_dirty_again(site: Path) -> None:
    told(site, "M1", 3)
    settle(site)
    shelve(site, "WR-01")
    told(site, "M1", 2)
    settle(site)
    assert (drapes(site), states(site)["WR-01"]) == (97, "on shelf")


def test_that_a_set_reported_opened_by_mistake_is_on_the_shelf_again(site: Path) -> None:
    told(site, "M1", 3)
    settle(site)
    told(site, "M1", 3, tray=0)
    settle(site)
    assert states(site)["WR-01"] == "on shelf"


def test_that_a_lot_moved_to_another_place_since_is_not_counted_again(site: Path) -> None:
    told(site, "M1", 3)
    settle(site)
    changed = rows(site, "Lots")
    changed[0]["place"] = "C-9-9"
    write_rows(site, "Lots", changed)
    settle(site)
    assert drapes(site) == 97


def test_that_a_count_of_the_shelf_counts_once(site: Path) -> None:
    """The crew of M2 counted 60 before it took 4; later a delivery of 10 came, and M1 gave one back."""
    lines = ["CART M2", "BY ab", "WR-02", "COUNT 100001 60", "DONE"]
    assert tell_by_scans(site, lines, EVENING + timedelta(hours=2), DAY).kept
    told(site, "M2", 4)
    settle(site)
    assert drapes(site) == 56
    deliver(site, 10)
    told(site, "M1", 3)
    settle(site)
    settle(site)
    assert drapes(site) == 67


def test_that_a_day_which_an_earlier_version_settled_is_not_counted_again(site: Path) -> None:
    told(site, "M1", 3)
    with open_state(state_path(site)) as state, state.writing() as db:
        db.execute("INSERT INTO settled_before VALUES (?, ?)", (DAY.isoformat(), "2026-11-26T18:00:00+00:00"))
    with pytest.raises(WrongUse, match="earlier version"):
        settle(site)
    assert drapes(site) == 100


def test_that_a_build_for_the_next_day_does_not_take_settled_carts_off_the_shelves_again(
    site: Path, tmp_path: Path
) -> None:
    """Twelve drapes left, of which M1 to M3 used up twelve: what is written is what the next day may have."""
    schedule = "\n".join(("case,day,room,start,minutes,surgeon,procedures,side,status", *SCHEDULE)) + "\n"
    (site / "Schedule.csv").write_text(schedule + "N1,2026-11-27,OR 1,08:00,60,S1,P1,none,planned\n")
    for case in CASES:
        told(site, case, 4)
    settle(site)
    changed = rows(site, "Lots")
    changed[0]["quantity"] = "4"
    write_rows(site, "Lots", changed)
    out = tmp_path / "out"
    tomorrow = Wanted(folder=site, out=out, now=AFTER, day=date(2026, 11, 27), with_chance=False)
    built = build_day(tomorrow, lambda _: None)
    assert built.plan is not None
    (line,) = built.plan.carts[0].sundries
    assert (line.short_open, line.short_hold) == (0, 0)


class Killed(BaseException):
    """The run ends here, as if the machine had lost its power."""


@contextmanager
def death_at(step: int) -> Iterator[None]:
    """Kill the run at its nth step that touches the disk."""
    real_sync, real_replace, seen = os.fsync, Path.replace, [0]

    def step_on() -> None:
        seen[0] += 1
        if seen[0] == step:
            raise Killed

    def sync(handle: int) -> None:
        step_on()
        real_sync(handle)

    def replace(self: Path, target: Path) -> Path:
        step_on()
        return real_replace(self, target)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", sync)
        patch.setattr(Path, "replace", replace)
        yield


FORM = st.tuples(
    st.just("form"), st.sampled_from(sorted(CASES)), st.integers(0, 4), st.sampled_from([None, 0]), st.integers(0, 1)
)
EVENTS = st.one_of(
    FORM,
    FORM,
    st.just(("settle",)),
    st.tuples(st.just("kill"), st.integers(1, 12)),
    st.tuples(st.just("deliver"), st.integers(1, 9)),
    st.tuples(st.just("missing"), st.sampled_from(sorted(CASES)), st.integers(1, 2)),
    st.tuples(st.just("shelve"), st.sampled_from(sorted(CASES))),
)


class Shelves:
    """What must be on the shelves: recounted from all that happened, without any memory of what was counted."""

    def __init__(self) -> None:
        self.forms: dict[str, tuple[int, int | None, int]] = {}
        self.missing = dict.fromkeys(CASES, 0)
        self.delivered = 0
        self.washed: set[str] = set()

    def drapes(self) -> int:
        return FULL + self.delivered - sum(self._gone(case) for case in self.forms)

    def _gone(self, case: str) -> int:
        used, unopened, _ = self.forms[case]
        there = OPEN + HOLD - self.missing[case]
        opened = min(OPEN, there)
        back = min(unopened, there) if unopened is not None else max(0, there - max(opened, used))
        return there - back

    def states(self) -> dict[str, str]:
        dirty = {CASES[case] for case, (_, _, tray) in self.forms.items() if tray and CASES[case] not in self.washed}
        return {one: "dirty" if one in dirty else "on shelf" for one in CASES.values()}


@settings(max_examples=tries(40))
@given(st.lists(EVENTS, min_size=1, max_size=12))
def test_that_any_order_of_forms_runs_and_kills_ends_with_the_same_shelves(
    laid: Path, tmp_path_factory: pytest.TempPathFactory, events: list[tuple[object, ...]]
) -> None:
    folder, shelves = copy_of(laid, tmp_path_factory.mktemp("order")), Shelves()
    for event in events:
        match event:
            case ("form", str(case), int(used), unopened, int(tray)):
                assert unopened is None or isinstance(unopened, int)
                told(folder, case, used, unopened, tray=tray)
                shelves.forms[case] = (used, unopened, tray)
            case ("settle",):
                settle(folder)
            case ("kill", int(step)):
                try:
                    with death_at(step):
                        settle(folder)
                except Killed:
                    load_folder(folder, AFTER)
            case ("deliver", int(many)):
                deliver(folder, many)
                shelves.delivered += many
            case ("missing", str(case), int(many)):
                report(folder, case, CASES[case], many)
                shelves.missing[case] = many
            case ("shelve", str(case)):
                if states(folder)[CASES[case]] == "dirty":
                    shelve(folder, CASES[case])
                    shelves.washed.add(CASES[case])
    settle(folder)
    assert drapes(folder) == shelves.drapes()
    assert states(folder) == shelves.states()
    settle(folder)
    assert (drapes(folder), states(folder)) == (shelves.drapes(), shelves.states())


# Forks a run again and again; each is killed outright before a later line of the writing than the one
# before it, until one gets through. The next command of any kind then brings it to its end.
KILLER = """
import os, shutil, signal, sys
from pathlib import Path
from picklist.evening import keep_counted, write_tables
from picklist.store.state import state_path
from picklist.tables import files
from picklist.tasks.read_folder import load_folder
from tests.tasks.test_settle import AFTER, copy_of, drapes, settle, states
from tests.patience import THOROUGH, tries

laid, place = Path(sys.argv[1]), Path(sys.argv[2])
watched = {write_tables.__file__, keep_counted.__file__, files.__file__}

def die_before(line):
    seen = 0
    def trace(frame, event, arg):
        nonlocal seen
        if frame.f_code.co_filename not in watched:
            return None
        seen += event == "line"
        if seen >= line:
            os.kill(os.getpid(), signal.SIGKILL)
        return trace
    sys.settrace(trace)

for line in range(1, 10_000, int(sys.argv[3])):
    folder = copy_of(laid, place / str(line))
    child = os.fork()
    if child == 0:
        die_before(line)
        settle(folder)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    load_folder(folder, AFTER)
    print(os.WIFSIGNALED(status), drapes(folder), states(folder)["WR-01"], end=" ")
    settle(folder)
    print(drapes(folder), states(folder)["WR-01"], sep=" ")
    if not os.WIFSIGNALED(status):
        break
    shutil.rmtree(folder.parent)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="a process cannot be forked and killed outright there")
def test_that_after_a_kill_before_any_line_both_files_are_new_or_both_former(site: Path, tmp_path: Path) -> None:
    told(site, "M1", 3)
    (tmp_path / "runs").mkdir()
    run = subprocess.run(
        [sys.executable, "-c", KILLER, str(site), str(tmp_path / "runs"), "1" if THOROUGH else "17"],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])},
    )
    rounds = [line.split(maxsplit=3) for line in run.stdout.splitlines()]
    assert len(rounds) > 15
    ends = {line.partition(" ")[2] for line in run.stdout.splitlines()}
    assert ends == {"100 on shelf 97 dirty", "97 dirty 97 dirty"}
