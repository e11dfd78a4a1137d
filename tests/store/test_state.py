"""The state file: killed, full, shared, too new, foreign, damaged; and everything in it comes out again."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import zlib
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

import picklist
from picklist.evening import keep_plans
from picklist.evening.changes import CartChangeKind, PlanChange
from picklist.evening.compare import compare_plans
from picklist.evening.content import cart_content
from picklist.evening.keep_decisions import decisions, moves_of, record_decision
from picklist.evening.keep_facts import (
    built_carts,
    mark_put_back,
    record_built,
)
from picklist.evening.keep_plans import (
    latest_revision,
    lists_in_hand,
    load_plan,
    open_put_backs,
    put_backs,
    save_plan,
    site_mark,
    standing_questions,
    what_is_known,
)
from picklist.evening.match import match_cases
from picklist.evening.open_points import open_points
from picklist.evening.revise import finish_revision
from picklist.model.built import BuiltCart, CountFound, MissingThing, StoodIn, TakenItem, TakenSet
from picklist.model.conflicts import Conflict, ConflictKind, Edit, RemedyKind
from picklist.model.expiry import Expires, Expiry
from picklist.model.known import Decision, Move, Seen
from picklist.model.plan import Cart, Plan
from picklist.store import state as state_module
from picklist.store.export import SECRET, export_csv, export_tables
from picklist.store.lock import hold_tables
from picklist.store.state import MIGRATIONS, StateFile, open_state, state_path
from picklist.store.state_errors import (
    NewerStateError,
    NotStateError,
    RevisionTakenError,
    StateBusyError,
    StateFullError,
    StateReadOnlyError,
)
from tests.builders import DAY, at
from tests.evening.builders import EVENING, a_case, cart, pick, plan, sundry, tray_line
from tests.patience import PATIENCE, tries

ROOT = Path(__file__).parents[2]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return state_path(tmp_path / "north")


@pytest.fixture
def state(path: Path) -> Iterator[StateFile]:
    with open_state(path) as opened:
        yield opened


def knee(number: str = "C-1", laps: int = 2, start: str = "07:30", set_id: str = "KNEE-01") -> Cart:
    case = a_case(number, start, surgeon="S04", procedures=("KNEE",))
    return cart(case, (tray_line("knee", set_id),), (sundry("laps", pick("laps", "L1", laps, 1)),))


def keep(state: StateFile, new: Plan, old: Plan | None = None, answers: dict[str, str] | None = None) -> PlanChange:
    """What ``build`` does with the state: match, compare with what is in hand, keep."""
    match = match_cases(
        [c.case for c in old.carts] if old else [],
        [c.case for c in new.carts],
        answers,
        standing_questions(state, DAY),
    )
    change = compare_plans(old, new, match=match, built=built_carts(state, DAY), in_hand=lists_in_hand(state, DAY))
    finish_revision(state, new, json.dumps({"revision": new.revision}).encode(), change)
    return change


def run_writer(folder: Path, kills: int, *more: str) -> dict[str, object]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.store.kill_writer", str(folder), str(kills), "7", *more],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(Path(picklist.__file__).parents[1])},
        capture_output=True,
        text=True,
        check=True,
        timeout=PATIENCE,
    )
    found: dict[str, object] = json.loads(done.stdout)
    return found


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="a writer is forked from a warm process")
def test_that_nothing_told_as_stored_is_lost_however_often_writers_are_killed(tmp_path: Path) -> None:
    kills = tries(300, 100)
    found = run_writer(tmp_path, kills)
    assert found["faults"] == []
    assert found["kills"] == kills
    assert int(str(found["stored"])) >= kills // 6, "the writers must get something done between kills"
    assert int(str(found["inside"])) >= kills // 10, "some kills must fall inside a transaction"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="a writer is forked from a warm process")
def test_that_the_look_after_each_kill_does_find_half_written_plans(tmp_path: Path) -> None:
    assert run_writer(tmp_path, 6, "careless")["faults"]


def test_that_two_writers_at_once_each_store_all_or_are_told(tmp_path: Path) -> None:
    """Two builds race for each revision: one is kept, the other told that it was overtaken."""
    program = """
import sys
from pathlib import Path
from tests.evening.builders import plan
from tests.store.test_state import knee
from picklist.evening.compare import compare_plans
from picklist.evening.keep_plans import latest_revision, save_plan
from picklist.store.state import open_state
from picklist.store.state_errors import RevisionTakenError
from tests.builders import DAY
kept = overtaken = 0
while kept < 25:
    with open_state(Path(sys.argv[1]), patience=600) as state:
        new = plan(knee(), revision=(latest_revision(state, DAY) or 0) + 1)
        try:
            save_plan(state, new, b"{}", compare_plans(None, new), by=sys.argv[2])
            kept += 1
        except RevisionTakenError:
            overtaken += 1
print(kept, overtaken)
"""
    target = tmp_path / "site.picklist.sqlite"
    env = os.environ | {"PYTHONPATH": os.pathsep.join([str(ROOT), str(Path(picklist.__file__).parents[1])])}
    running = [
        subprocess.Popen(
            [sys.executable, "-c", program, str(target), who], env=env, stdout=subprocess.PIPE, text=True, cwd=ROOT
        )
        for who in ("ab", "cd")
    ]
    said = [one.communicate(timeout=PATIENCE)[0].split() for one in running]
    assert [one.returncode for one in running] == [0, 0]
    assert [words[0] for words in said] == ["25", "25"]
    with sqlite3.connect(target) as db:
        rows = db.execute("SELECT revision, replaces, made_by FROM plan ORDER BY revision").fetchall()
    db.close()
    assert [(r, p) for r, p, _ in rows] == [(n, n - 1 or None) for n in range(1, 51)]
    assert sorted(by for *_, by in rows) == ["ab"] * 25 + ["cd"] * 25


def test_that_a_writer_who_waits_too_long_is_told_and_stores_nothing(path: Path, state: StateFile) -> None:
    with open_state(path, patience=0.1) as other, state.writing(), pytest.raises(StateBusyError) as told:
        keep(other, plan(knee()))
    assert "somebody else" in told.value.problem.message
    with state.reading() as db:
        assert db.execute("SELECT count(*) FROM plan").fetchone()[0] == 0
    keep(state, plan(knee()))


def test_that_a_full_disk_is_told_and_leaves_what_was_there(state: StateFile) -> None:
    first = plan(knee())
    keep(state, first)
    pages = state.connection.execute("PRAGMA page_count").fetchone()[0]
    state.connection.execute(f"PRAGMA max_page_count = {pages}")
    many = plan(*(knee(f"D-{n}", laps=n + 1, start="12:00") for n in range(80)), revision=2)
    with pytest.raises(StateFullError) as told:
        keep(state, many, first)
    assert told.value.problem.kind == "disk full"
    assert latest_revision(state, DAY) == 1
    assert state.connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    state.connection.execute("PRAGMA max_page_count = 100000")
    keep(state, many, first)
    assert latest_revision(state, DAY) == 2


def fill(target: Path) -> int:
    """Store plans until the disk is full; the last revision that was stored."""
    kept, old = 0, None
    with open_state(target) as state:
        while kept < 200:
            new = plan(*(knee(f"D-{n}", laps=kept + n + 1) for n in range(8)), revision=kept + 1)
            try:
                keep(state, new, old)
            except StateFullError:
                return kept
            kept, old = kept + 1, new
    raise AssertionError("the disk never was full")


@pytest.mark.skipif(not (hasattr(os, "geteuid") and os.geteuid() == 0), reason="mounting needs root")
def test_that_a_disk_which_is_really_full_loses_nothing(tmp_path: Path) -> None:
    mount = tmp_path / "small"
    mount.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=400k", "none", str(mount)], check=False).returncode:
        pytest.skip("no tmpfs may be mounted here")
    try:
        target = mount / "site.picklist.sqlite"
        kept = fill(target)
        assert kept > 1
        with open_state(target) as state:
            assert latest_revision(state, DAY) == kept
            assert state.connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    finally:
        subprocess.run(["umount", str(mount)], check=True)


def test_that_a_file_of_a_newer_program_is_not_touched(path: Path) -> None:
    with open_state(path) as state:
        state.connection.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 3}")
    before = path.read_bytes()
    with pytest.raises(NewerStateError) as told, open_state(path):
        pass
    assert "newer picklist" in told.value.problem.message
    assert path.read_bytes() == before


def keep_as_before_there_was_a_mark(db: sqlite3.Connection, plan: Plan, plan_json: bytes, by: str) -> None:
    """How a plan's row was written before sites had a mark of their own."""
    db.execute(
        "INSERT INTO plan (day, revision, replaces, made_at, made_by, digest, json) VALUES (?, ?, ?, ?, ?, ?, ?)",
        (
            plan.day.isoformat(),
            plan.revision,
            plan.replaces,
            plan.now.isoformat(),
            by,
            hashlib.sha256(plan_json).hexdigest(),
            zlib.compress(plan_json),
        ),
    )


def test_that_a_file_of_an_older_program_is_brought_up_to_date_with_all_that_is_in_it(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its folders of papers stay its own: they hold a mark that was made of the digest and time of its first plan."""
    for known in range(1, len(MIGRATIONS)):
        path.unlink(missing_ok=True)
        monkeypatch.setattr(state_module, "MIGRATIONS", MIGRATIONS[:known])
        monkeypatch.setattr(keep_plans, "_insert_plan", keep_as_before_there_was_a_mark)
        first = plan(knee())
        with open_state(path) as state:
            save_plan(state, first, b'{"kept": 1}', compare_plans(None, first))
        monkeypatch.undo()
        with open_state(path) as state:
            stored = load_plan(state, DAY)
            assert stored == b'{"kept": 1}'
            of_first = f"{hashlib.sha256(stored).hexdigest()} {first.now.isoformat()}"
            assert site_mark(state) == hashlib.sha256(of_first.encode()).hexdigest()[:16]
            record_built(state, [BuiltCart(day=DAY, case="C-1", revision=1, at=EVENING, done=True)], EVENING)
            assert list(built_carts(state, DAY)) == ["C-1"]


def test_that_put_backs_of_before_are_from_the_cart_that_had_the_last_list_of_their_number(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(state_module, "MIGRATIONS", MIGRATIONS[:14])
    first = plan(knee())
    with open_state(path) as state:
        save_plan(state, first, b"{}", compare_plans(None, first))
        record_built(state, [BuiltCart(day=DAY, case="C-1", revision=1, at=EVENING, done=True)], EVENING)
        with state.writing() as db:
            db.execute(
                "INSERT INTO put_back (day, revision, number, kind, thing, set_id, lot, quantity, home, to_cart) "
                "VALUES (?, 2, 'C-1', 'tray', '', 'KNEE-01', '', 1, '', '')",
                (DAY.isoformat(),),
            )
    monkeypatch.undo()
    with open_state(path) as state:
        assert [one.set_id for one in open_put_backs(state, DAY)] == ["KNEE-01"]


def test_that_a_migration_which_fails_leaves_the_file_as_it_was(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open_state(path):
        pass
    before = path.read_bytes()
    later = path.with_name("99-later.sql")
    later.write_text("CREATE TABLE later (x);\nINSERT INTO nowhere VALUES (1);\n", encoding="utf-8")
    monkeypatch.setattr(state_module, "MIGRATIONS", (*MIGRATIONS, later))
    with pytest.raises(sqlite3.OperationalError), open_state(path):
        pass
    monkeypatch.undo()
    assert path.read_bytes() == before
    with open_state(path) as state:
        assert latest_revision(state, DAY) is None


@pytest.mark.parametrize(
    "content", [b"this is no database, it is a shopping list\n" * 40, b"SQLite format 3\0" + b"x" * 4000]
)
def test_that_something_else_under_that_name_is_refused_and_not_touched(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    with pytest.raises(NotStateError), open_state(path):
        pass
    assert path.read_bytes() == content


def test_that_another_programs_database_is_refused_and_not_touched(path: Path) -> None:
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE recipes (name TEXT)")
    db.close()
    before = path.read_bytes()
    with pytest.raises(NotStateError) as told, open_state(path):
        pass
    assert "another program" in told.value.problem.message
    assert path.read_bytes() == before


def test_that_a_damaged_page_is_told_in_plain_words(path: Path) -> None:
    with open_state(path) as state:
        keep(state, plan(*(knee(f"D-{n}") for n in range(60))))
    data = bytearray(path.read_bytes())
    for offset in range(4096, len(data), 4096):
        data[offset : offset + 200] = b"\xff" * 200
    path.write_bytes(bytes(data))
    with pytest.raises(NotStateError), open_state(path) as state:
        lists_in_hand(state, DAY)


@pytest.mark.parametrize("record", ['{"file": ', '["no fields"]'])
def test_that_a_damaged_record_is_told_where_all_is_exported(state: StateFile, record: str) -> None:
    with state.writing() as db:
        db.execute("INSERT INTO cell_fix VALUES (1, ?)", (record,))
    with pytest.raises(NotStateError):
        export_tables(state)


def test_that_a_folder_which_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(StateReadOnlyError), open_state(tmp_path / "none" / "site.picklist.sqlite"):
        pass


def test_that_no_lock_is_made_beside_a_folder_which_is_not_there(tmp_path: Path) -> None:
    """As when a drive is not connected, or a name is mistyped."""
    with pytest.raises(FileNotFoundError), hold_tables(tmp_path / "nroth"):
        pass
    assert not list(tmp_path.iterdir())


def test_that_the_state_of_a_site_lies_beside_its_folder(tmp_path: Path) -> None:
    assert state_path(tmp_path / "north") == (tmp_path / "north.picklist.sqlite").resolve()
    assert state_path(tmp_path / "north" / ".").name == "north.picklist.sqlite"


def test_that_a_plan_comes_back_byte_for_byte(state: StateFile) -> None:
    first = plan(knee())
    save_plan(state, first, b'{"a": "\xc3\xa9"}', compare_plans(None, first))
    assert load_plan(state, DAY) == load_plan(state, DAY, 1) == b'{"a": "\xc3\xa9"}'
    assert load_plan(state, DAY + timedelta(days=1)) is None
    assert load_plan(state, DAY, 7) is None


def test_that_a_build_which_was_overtaken_is_told_and_stores_nothing(state: StateFile) -> None:
    keep(state, plan(knee()))
    late = plan(knee(laps=5))
    with pytest.raises(RevisionTakenError):
        save_plan(state, late, b"{}", compare_plans(None, late))
    held = lists_in_hand(state, DAY)
    assert held["C-1"].content == cart_content(knee(), {})


def test_that_the_list_in_hand_is_the_last_one_printed(state: StateFile) -> None:
    first, second, third = plan(knee()), plan(knee(), revision=2), plan(knee(laps=3), revision=3)
    keep(state, first)
    keep(state, second, first)
    assert lists_in_hand(state, DAY)["C-1"].revision == 1
    change = keep(state, third, second)
    (one,) = change.carts
    assert (one.kind, one.replaces, one.revision) == (CartChangeKind.CHANGED, 1, 3)
    assert lists_in_hand(state, DAY)["C-1"].revision == 3


@pytest.mark.parametrize("expiry", [DAY, Expires.NEVER, None])
def test_that_a_printed_piece_comes_back_with_its_expiry(state: StateFile, expiry: Expiry) -> None:
    keep(state, plan(cart(a_case("C-1"), sundries=(sundry("laps", pick("laps", "L1", 2, expiry=expiry)),))))
    (held,) = lists_in_hand(state, DAY).values()
    assert [piece.expiry for piece in held.content] == [expiry]


def test_that_put_backs_stay_open_until_they_are_told_done(state: StateFile) -> None:
    first = plan(knee(), knee("C-2", start="12:00", set_id="KNEE-02"))
    keep(state, first)
    record_built(state, [BuiltCart(day=DAY, case="C-1", revision=1, at=EVENING, done=True)], EVENING)
    keep(state, plan(knee("C-2", start="12:00", set_id="KNEE-02"), revision=2), first)
    waiting = open_put_backs(state, DAY)
    assert [(p.case, p.set_id or p.thing, p.quantity) for p in waiting] == [
        ("C-1", "KNEE-01", 1),
        ("C-1", "laps", 1),
        ("C-1", "laps", 2),
    ]
    assert mark_put_back(state, [waiting[0].id, waiting[0].id], EVENING, "mk") == 1
    assert len(open_put_backs(state, DAY)) == 2
    assert [(one.done_by, one.done_at) for one in put_backs(state, DAY)] == [("mk", EVENING), ("", None), ("", None)]
    assert mark_put_back(state, [waiting[0].id, waiting[1].id], None) == 1
    assert put_backs(state, DAY) == waiting
    assert list(lists_in_hand(state, DAY)) == ["C-2"]


@pytest.mark.parametrize("done", [True, False])
@pytest.mark.parametrize("when", ["before", "after", "from the new list", "never"])
def test_that_only_what_stands_on_a_cart_is_to_be_put_back(state: StateFile, when: str, done: bool) -> None:
    def tell(case: str, revision: int) -> None:
        record_built(state, [BuiltCart(day=DAY, case=case, revision=revision, at=EVENING, done=done)], EVENING)

    first = plan(knee(), knee("C-2", start="12:00", set_id="KNEE-02"))
    keep(state, first)
    if when == "before":
        tell("C-1", 1)
        tell("C-2", 1)
    keep(state, plan(knee("C-2", start="12:00", set_id="KNEE-03"), revision=2), first)
    if when == "after":  # the carts had been begun from the old lists, and nobody had told it yet
        tell("C-1", 1)
        tell("C-2", 1)
    if when == "from the new list":
        tell("C-2", 2)
    waiting = [(p.case, p.set_id or p.thing) for p in open_put_backs(state, DAY)]
    expected = [("C-2", "KNEE-02"), ("C-1", "KNEE-01"), ("C-1", "laps"), ("C-1", "laps")]
    assert waiting == (expected if when in ("before", "after") else [])


def test_that_facts_of_a_built_cart_come_back_as_they_were_told(state: StateFile) -> None:
    keep(state, plan(knee()))
    facts = BuiltCart(
        day=DAY,
        case="C-1",
        revision=1,
        at=EVENING,
        done=True,
        by="mk",
        sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-02"),),
        missing=(MissingThing(thing="laps", quantity=1), MissingThing(thing="gown", quantity=1, person="S04")),
        stood_in=(StoodIn(thing="laps", stood_in="laps-x", quantity=1),),
        counts=(CountFound(item="laps", quantity=14, lot="L1", place="A-02-10"),),
        scanned=(TakenItem(item="laps", quantity=2, lot="L1", expiry=DAY),),
        added=(TakenItem(item="drain", quantity=1),),
        remark="bag torn",
    )
    assert record_built(state, [facts], EVENING, "workbook") == ()
    assert built_carts(state, DAY) == {"C-1": facts}


def test_that_a_later_report_replaces_an_earlier_one_and_the_same_one_is_kept_once(state: StateFile) -> None:
    keep(state, plan(knee()))
    begun = BuiltCart(day=DAY, case="C-1", revision=1, at=EVENING)
    done = BuiltCart(day=DAY, case="C-1", revision=1, at=EVENING + timedelta(minutes=9), done=True)
    record_built(state, [begun], EVENING)
    record_built(state, [done], EVENING)
    record_built(state, [done], EVENING)
    assert built_carts(state, DAY)["C-1"].done
    with state.reading() as db:
        assert db.execute("SELECT count(*) FROM built_cart").fetchone()[0] == 2


def test_that_a_report_on_a_list_never_printed_is_a_problem_and_the_others_are_kept(state: StateFile) -> None:
    keep(state, plan(knee()))
    problems = record_built(
        state,
        [
            BuiltCart(day=DAY, case="C-9", revision=1, at=EVENING, done=True),
            BuiltCart(day=DAY, case="C-1", revision=1, at=EVENING, done=True),
        ],
        EVENING,
    )
    assert [(p.kind, p.cases) for p in problems] == [("no such list", ("C-9",))]
    assert list(built_carts(state, DAY)) == ["C-1"]


def test_that_a_report_on_an_older_list_is_kept_with_a_notice(state: StateFile) -> None:
    first = plan(knee())
    keep(state, first)
    keep(state, plan(knee(laps=5), revision=2), first)
    problems = record_built(state, [BuiltCart(day=DAY, case="C-1", revision=1, at=EVENING, done=True)], EVENING)
    assert [p.kind for p in problems] == ["older list"]
    assert built_carts(state, DAY)["C-1"].revision == 1


def test_that_facts_follow_a_cart_whose_case_is_renumbered(state: StateFile) -> None:
    first = plan(knee("C-1"))
    keep(state, first)
    record_built(state, [BuiltCart(day=DAY, case="C-1", revision=1, at=EVENING, done=True)], EVENING)
    keep(state, plan(knee("K-77"), revision=2), first)
    assert list(built_carts(state, DAY)) == ["K-77"]
    assert list(lists_in_hand(state, DAY)) == ["K-77"]


def test_that_two_carts_may_swap_their_numbers(state: StateFile) -> None:
    def hip(number: str) -> Cart:
        return cart(
            a_case(number, "12:00", room="OR 7", surgeon="S09", procedures=("HIP",)), (tray_line("hip", "H-1"),)
        )

    first = plan(knee("C-1"), hip("C-2"))
    keep(state, first)
    keep(state, plan(knee("C-2"), hip("C-1"), revision=2), first)
    held = lists_in_hand(state, DAY)
    assert {p.wanted for p in held["C-2"].content} == {"knee", "laps"}
    assert {p.wanted for p in held["C-1"].content} == {"hip"}


def test_that_a_question_stands_over_the_next_plan_and_its_cart_is_not_lost(state: StateFile) -> None:
    """20:15: C-1 is gone, C-8 looks like it. 21:00: nobody has answered. 22:00: it is the same case."""
    first, second = plan(knee("C-1")), plan(knee("C-8", start="13:00"), revision=2)
    keep(state, first)
    record_built(
        state,
        [
            BuiltCart(
                day=DAY,
                case="C-1",
                revision=1,
                at=EVENING,
                done=True,
                sets=(TakenSet(tray="knee", copy=1, set_id="KNEE-02"),),
            )
        ],
        EVENING,
    )
    asked = keep(state, second, first)
    assert [q.new_case for q in asked.questions] == ["C-8"]
    third = plan(knee("C-8", start="13:00"), revision=3)
    still = keep(state, third, second)
    assert [q.new_case for q in still.questions] == ["C-8"]
    assert open_put_backs(state, DAY) == ()
    fourth = plan(knee("C-8", start="13:00", set_id="KNEE-02"), revision=4)
    told = keep(state, fourth, third, {"C-8": "C-1"})
    (one,) = told.carts
    assert (one.case, one.old_case, one.add, one.take_off, one.built) == ("C-8", "C-1", (), (), True)
    assert standing_questions(state, DAY) == ()
    assert list(built_carts(state, DAY)) == ["C-8"]


def test_that_none_of_them_puts_the_doubtful_cart_back(state: StateFile) -> None:
    first, second = plan(knee("C-1")), plan(knee("C-8", start="13:00"), revision=2)
    keep(state, first)
    record_built(state, [BuiltCart(day=DAY, case="C-1", revision=1, at=EVENING, done=True)], EVENING)
    keep(state, second, first)
    told = keep(state, plan(knee("C-8", start="13:00"), revision=3), second, {"C-8": ""})
    assert [(c.case, c.kind) for c in told.carts] == [
        ("C-8", CartChangeKind.UNCHANGED),
        ("C-1", CartChangeKind.CANCELLED),
    ]
    assert {p.case for p in open_put_backs(state, DAY)} == {"C-1"}
    assert standing_questions(state, DAY) == ()


def test_that_a_doubtful_cart_keeps_apart_from_the_new_one_of_its_number(state: StateFile) -> None:
    first = plan(knee("C-1"))
    other = cart(a_case("C-1", "07:30", surgeon="S09", procedures=("HIP",)), (tray_line("hip", "H-1"),))
    second = plan(other, revision=2)
    keep(state, first)
    keep(state, second, first)
    assert list(lists_in_hand(state, DAY)) == ["C-1", "C-1 (list 1)"]
    told = keep(state, plan(other, revision=3), second, {"C-1": "C-1 (list 1)"})
    one = next(c for c in told.carts if c.old_case == "C-1 (list 1)")
    assert {p.piece.wanted for p in one.take_off} == {"knee", "laps"}
    assert [p.piece.wanted for p in one.add] == ["hip"]


def test_that_an_answer_may_name_a_doubtful_cart_by_the_number_on_its_paper(state: StateFile) -> None:
    first = plan(knee("C-1"))
    other = cart(a_case("C-1", "07:30", surgeon="S09", procedures=("HIP",)), (tray_line("hip", "H-1"),))
    keep(state, first)
    keep(state, plan(other, revision=2), first)
    told = keep(state, plan(other, revision=3), plan(other, revision=2), {"C-1": "C-1"})
    assert told.match.problems == ()
    assert "C-1 (list 1)" in {one.old_case for one in told.carts}


def test_that_the_last_decision_on_a_conflict_counts(state: StateFile) -> None:
    first = Decision(about="short/knee/C-1", decided="move C-1 to 13:20", told="", by="co", at=at("19:00"))
    last = replace(first, decided="borrow a set", told="Dr. Quill's office", at=at("19:30"))
    record_decision(state, DAY, first)
    kept = record_decision(state, DAY, last)
    assert kept == replace(last, case_day=DAY, told_at=at("19:30"))
    assert decisions(state, DAY) == {"short/knee/C-1": kept}
    assert decisions(state, DAY + timedelta(days=1)) == {}


MOVED = Decision(
    about="short/knee/C-1",
    decided="start C-1 at 13:20",
    told="Dr. Quill's office",
    by="co",
    at=at("19:00", -1),
    moves=(Move(case="C-1", room="OR 1", start=at("13:20")),),
)
SHORT = Conflict(
    id="short knee C-1", kind=ConflictKind.SHORT, tray="knee", waiter="C-1", givers=(), set_id="", minutes=40
)


def known_decision(state: StateFile) -> Decision:
    return decisions(state, DAY)[MOVED.about]


def test_that_the_plans_show_since_when_a_decision_is_in_the_schedule_and_that_it_was_not_kept(
    state: StateFile,
) -> None:
    before, moved = plan(knee(), conflicts=(SHORT,)), plan(knee(start="13:20"), revision=2)
    keep(state, before)
    record_decision(state, DAY, MOVED)
    assert (known_decision(state).is_settled, known_decision(state).to_enter) == (True, True)
    keep(state, moved, before)
    keep(state, again := replace(moved, revision=3, replaces=2), moved)
    assert known_decision(state).since == Seen(plan_day=DAY, revision=2, arrived=True)
    assert not known_decision(state).to_enter
    back = plan(knee(), revision=4, conflicts=(SHORT,))
    keep(state, back, again)
    assert known_decision(state).undone == Seen(plan_day=DAY, revision=4, arrived=False)
    assert not known_decision(state).is_settled
    [point] = open_points(back, what_is_known(state, DAY), EVENING).decisions
    assert point.said == known_decision(state)


def test_that_words_are_carried_out_when_their_conflict_is_gone_and_open_again_when_it_is_back(
    state: StateFile,
) -> None:
    with_it = plan(knee(), conflicts=(SHORT,))
    keep(state, with_it)
    record_decision(state, DAY, replace(MOVED, decided="the surgeon brings one", moves=()))
    assert not known_decision(state).to_enter
    keep(state, without := plan(knee(), revision=2), with_it)
    assert known_decision(state).since == Seen(plan_day=DAY, revision=2, arrived=True)
    keep(state, replace(with_it, revision=3, replaces=2), without)
    assert not known_decision(state).is_settled


def test_that_a_decision_said_twice_counts_once_and_one_on_a_later_day_is_known_on_that_day(state: StateFile) -> None:
    later = DAY + timedelta(days=1)
    first = record_decision(state, DAY, replace(MOVED, case_day=later))
    again = record_decision(state, later, replace(MOVED, case_day=later, by="mk", at=at("20:00", -1)))
    assert again == first
    assert decisions(state, later) == decisions(state, DAY) == {MOVED.about: first}
    assert decisions(state, later + timedelta(days=1)) == {}
    assert [len(table.rows) for table in export_tables(state) if table.name == "decision"] == [1]


WITHOUT_MOVES = replace(MOVED, decided="the surgeon brings one", moves=())


def about_knee(number: str, revision: int, *, start: str = "07:30", **of: object) -> Plan:
    """A plan with one case that needs a knee tray and goes short."""
    short = replace(SHORT, id=f"short knee {number}", waiter=number)
    case = a_case(number, start, **{"surgeon": "S04", "procedures": ("KNEE",)} | of)  # type: ignore[arg-type]
    return plan(cart(case, (tray_line("knee", "KNEE-01"),)), revision=revision, conflicts=(short,))


@pytest.mark.parametrize("answers", [None, {"C-9": "C-1"}])
def test_that_a_renumbered_case_keeps_its_decision(state: StateFile, answers: dict[str, str] | None) -> None:
    """C-1 has become C-9, by the program's own match or because somebody said so."""
    before = about_knee("C-1", 1)
    keep(state, before)
    record_decision(state, DAY, replace(MOVED, matter="SHORT, C-1 in OR 1: knee"))
    keep(state, renumbered := about_knee("C-9", 2), before, answers)
    said = decisions(state, DAY)
    assert set(said) == {"short/knee/C-9"}
    now = said["short/knee/C-9"]
    assert (now.decided, now.told, now.number_then) == ("start C-1 at 13:20", "Dr. Quill's office", "C-1")
    assert (now.to_enter, now.seen) == (True, ())
    points = open_points(renumbered, what_is_known(state, DAY), EVENING)
    assert (points.decisions, [one.key for one in points.to_enter]) == ((), ["short/knee/C-9"])
    keep(state, about_knee("C-9", 3, start="13:20"), renumbered)
    assert decisions(state, DAY)["short/knee/C-9"].since == Seen(plan_day=DAY, revision=3, arrived=True)


@pytest.mark.parametrize("what", [MOVED, WITHOUT_MOVES])
def test_that_a_decision_is_not_judged_while_nobody_knows_which_case_it_is_about(
    state: StateFile, what: Decision
) -> None:
    """By one surgeon at another hour with another procedure: is C-9 the former C-1?"""
    keep(state, first := about_knee("C-1", 1))
    record_decision(state, DAY, what)
    doubtful = about_knee("C-9", 2, start="09:00", procedures=("KNEE", "HIP"))
    change = keep(state, doubtful, first)
    assert change.match.asked_old == ("C-1",)
    assert decisions(state, DAY)["short/knee/C-1"].seen == ()
    keep(state, replace(doubtful, revision=3, replaces=2), doubtful, {"C-9": "C-1"})
    assert set(decisions(state, DAY)) == {"short/knee/C-9"}
    assert decisions(state, DAY)["short/knee/C-9"].seen == ()


def test_that_another_case_of_the_same_number_does_not_inherit_a_decision(state: StateFile) -> None:
    keep(state, first := about_knee("C-1", 1))
    record_decision(state, DAY, MOVED)
    keep(state, other := about_knee("C-1", 2, surgeon="S09", procedures=("HIP",), start="15:00", room="OR 4"), first)
    assert set(decisions(state, DAY)) == {"short/knee/C-1 (list 1)"}
    [point] = open_points(other, what_is_known(state, DAY), EVENING).decisions
    assert point.said is None


def test_that_two_cases_that_change_numbers_change_decisions_too(state: StateFile) -> None:
    one, two = a_case("C-1", surgeon="S04", procedures=("KNEE",)), a_case("C-2", surgeon="S05", procedures=("HIP",))
    keep(state, first := plan(cart(one), cart(replace(two, room="OR 2"))))
    record_decision(state, DAY, replace(MOVED, told="ward 1"))
    record_decision(state, DAY, replace(MOVED, about="short/knee/C-2", told="ward 2", moves=()))
    changed = plan(cart(replace(one, number="C-2")), cart(replace(two, number="C-1", room="OR 2")), revision=2)
    keep(state, changed, first)
    said = decisions(state, DAY)
    assert {key: one.told for key, one in said.items()} == {"short/knee/C-1": "ward 2", "short/knee/C-2": "ward 1"}
    assert [move.case for move in said["short/knee/C-2"].moves] == ["C-2"]


def test_that_a_swap_decided_on_says_where_every_case_of_the_room_goes() -> None:
    first, second = a_case("C-1", "07:30", minutes=60), a_case("C-2", "09:00", minutes=120)
    of = plan(cart(first), cart(second))
    swap = Edit(kind=RemedyKind.SWAP, case="C-1", other_case="C-2")
    assert moves_of(of, (swap,)) == (
        Move(case="C-2", room="OR 1", start=at("07:30")),
        Move(case="C-1", room="OR 1", start=at("10:00")),
    )
    assert moves_of(of, (Edit(kind=RemedyKind.CANCEL, case="C-2"),)) == (Move(case="C-2", room="OR 1", start=None),)
    assert moves_of(of, (Edit(kind=RemedyKind.FASTER, case="C-2", tray="knee", step="wash", minutes=5),)) == ()


def test_that_everything_in_the_state_comes_out_as_tables(state: StateFile, tmp_path: Path) -> None:
    first = plan(knee())
    keep(state, first)
    keep(state, plan(revision=2), first)
    record_decision(state, DAY, Decision(about="short/knee/C-1", decided="=1+1", told="", by="co", at=at("19:00")))
    record_built(state, [BuiltCart(day=DAY, case="C-1", revision=1, at=EVENING, done=True, remark="bag torn")], EVENING)
    with state.reading() as db:
        known = {r[0].replace("_", " ") for r in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        known -= {name.replace("_", " ") for name in SECRET}
        counts = {name: db.execute(f'SELECT count(*) FROM "{name.replace(" ", "_")}"').fetchone()[0] for name in known}
    tables = {table.name: table for table in export_tables(state)}
    assert set(tables) == known
    assert {name: len(table.rows) for name, table in tables.items()} == counts
    written = export_csv(state, tmp_path / "out")
    assert {p.name for p in written} == {f"{name}.csv" for name in known} | {
        "plan 2026-11-26 revision 1.json",
        "plan 2026-11-26 revision 2.json",
    }
    with (tmp_path / "out" / "put back.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(r["number"], r["set id"] or r["thing"], r["quantity"]) for r in rows] == [
        ("C-1", "KNEE-01", "1"),
        ("C-1", "laps", "1"),
        ("C-1", "laps", "2"),
    ]


def test_that_a_copy_of_the_file_is_a_whole_state(path: Path, tmp_path: Path) -> None:
    with open_state(path) as state:
        keep(state, plan(knee()))
    shutil.copy(path, tmp_path / "copy.picklist.sqlite")
    with open_state(tmp_path / "copy.picklist.sqlite") as state:
        assert latest_revision(state, DAY) == 1
