"""Run as a program: writers are killed at random points of their work, and the state file is looked at after each.

Arguments: the folder to work in, the number of kills, the seed, and ``careless`` to write
without transactions, so that the look at the file can be seen to find faults. A writer is forked from this
warmed-up process, so that a kill costs milliseconds. Through a pipe each writer tells every statement that it
begins, and every plan that it has stored, once the storing has returned. It is killed by what it has done and not
by the clock, so that a slow machine kills at the same points: one writer in two dies right before a statement,
the other is killed from outside once it has told so many, wherever it has come to by then. Prints one line of JSON.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

from picklist.evening.compare import compare_plans
from picklist.evening.keep_facts import record_built
from picklist.evening.keep_plans import latest_revision, save_plan
from picklist.model.built import BuiltCart, MissingThing, TakenSet
from picklist.model.plan import Plan
from picklist.store.state import StateFile, open_state
from tests.builders import DAY
from tests.evening.builders import EVENING, a_case, cart, pick, plan, sundry, tray_line
from tests.patience import PATIENCE

CARTS = 6


def a_plan(revision: int) -> Plan:
    """A plan whose lists all differ from those of the revision before."""
    carts = [
        cart(
            a_case(f"C-{n}", room=f"OR {n}"),
            (tray_line("knee", f"KNEE-{n:02d}"),),
            tuple(sundry(f"i{k}", pick(f"i{k}", "L1", revision + k + 1)) for k in range(8)),
        )
        for n in range(CARTS)
    ]
    return plan(*carts, revision=revision, now=EVENING + timedelta(minutes=revision))


def watch(point: Callable[[], None]) -> None:
    """Have ``point`` called before every statement of every connection that is made from now on."""
    connect = sqlite3.connect

    def watched(*words: Any, **more: Any) -> sqlite3.Connection:
        made: sqlite3.Connection = connect(*words, **more)
        made.set_trace_callback(lambda _statement: point())
        return made

    sqlite3.connect = watched  # type: ignore[assignment]


def store_one(path: Path, old: dict[int, Plan]) -> int:
    """Store the next plan and its built carts; its revision."""
    with open_state(path) as state:
        before = latest_revision(state, DAY)
        new = a_plan((before or 0) + 1)
        change = compare_plans(old.get(before or 0) or (a_plan(before) if before else None), new)
        save_plan(state, new, json.dumps({"revision": new.revision}).encode() * 50, change)
        facts = [
            BuiltCart(
                day=DAY,
                case=f"C-{n}",
                revision=new.revision,
                at=new.now,
                done=True,
                sets=(TakenSet(tray="knee", copy=1, set_id=f"KNEE-{n:02d}"),),
                missing=(MissingThing(thing="i1", quantity=1), MissingThing(thing="i2", quantity=1)),
            )
            for n in range(CARTS)
        ]
        record_built(state, facts, new.now)
    return new.revision


def store(path: Path, told: int, old: dict[int, Plan], dies_at: int | None) -> None:
    """Store plans and built carts, telling each point and each revision, until killed; ``dies_at`` its own hand."""
    points = 0

    def point() -> None:
        nonlocal points
        points += 1
        if points == dies_at:
            os.kill(os.getpid(), signal.SIGKILL)
        os.write(told, b"\n")

    watch(point)
    while True:
        os.write(told, f"{store_one(path, old)}\n".encode())


def faults(path: Path, told: set[int]) -> list[str]:
    """What is wrong with the file after a kill, when these revisions were said to be stored."""
    try:
        with closing(sqlite3.connect(path, timeout=PATIENCE)) as db:
            return list(look(db, told))
    except sqlite3.Error as error:
        return [str(error)]


def look(db: sqlite3.Connection, told: set[int]) -> Iterator[str]:
    """Each fault that is found in the tables."""
    if db.execute("PRAGMA integrity_check").fetchone()[0] != "ok":
        yield "integrity"
    if db.execute("PRAGMA foreign_key_check").fetchall():
        yield "foreign keys"
    if db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0:
        if told:
            yield "all lost"
        return
    plans = {row[0] for row in db.execute("SELECT revision FROM plan")}
    if plans != set(range(1, len(plans) + 1)) or told - plans:
        yield "plans"
    lists = dict(db.execute("SELECT revision, count(*) FROM cart_list GROUP BY revision").fetchall())
    if lists != dict.fromkeys(plans, CARTS):
        yield "lists"
    pieces = dict(db.execute("SELECT revision, count(*) FROM list_piece GROUP BY revision").fetchall())
    if pieces != dict.fromkeys(plans, CARTS * 9):
        yield "pieces of lists"
    reports = dict(db.execute("SELECT revision, count(*) FROM built_cart GROUP BY revision").fetchall())
    if reports != dict.fromkeys(reports, CARTS) or told - reports.keys():
        yield "reports"
    if db.execute("SELECT count(*) FROM built_missing").fetchone()[0] != 2 * CARTS * len(reports):
        yield "parts of reports"


def one_kill(path: Path, points: int, plans: dict[int, Plan], *, itself: bool) -> list[int]:
    """Start a writer that is killed at so many points, or once it has told them; the revisions that it stored."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            store(path, writing, plans, points if itself else None)
        finally:
            os._exit(1)
    os.close(writing)
    told = b""
    with os.fdopen(reading, "rb", buffering=0) as pipe:
        while (itself or told.count(b"\n") < points) and (more := pipe.read(4096)):
            told += more
        if not itself:
            os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        told += pipe.readall() or b""
    if not os.WIFSIGNALED(status):
        raise AssertionError("a writer ended before it was killed")
    return [int(line) for line in told.splitlines(keepends=True) if line.strip() and line.endswith(b"\n")]


def points_of(path: Path, plans: dict[int, Plan]) -> tuple[int, int]:
    """How many points a writer passes with a plan of a new file, and with the next one."""
    careful, points = sqlite3.connect, 0

    def point() -> None:
        nonlocal points
        points += 1

    watch(point)
    store_one(path, plans)
    first = points
    store_one(path, plans)
    sqlite3.connect = careful
    return first, points - first


def main(folder: Path, kills: int, seed: int) -> None:
    """Kill ``kills`` writers; a fresh file now and then, so that its making is killed too."""
    chance = random.Random(seed)
    plans = {n: a_plan(n) for n in range(1, 60)}
    found: list[str] = []
    told: set[int] = set()
    stored, inside = 0, 0
    first, next_one = points_of(folder / "points.picklist.sqlite", plans)
    path = folder
    for kill in range(kills):
        if kill % 25 == 0:
            path, told = folder / f"site{kill}.picklist.sqlite", set()
        points = chance.randint(1, first if kill % 25 == 0 else 2 * next_one)
        revisions = one_kill(path, points, plans, itself=kill % 2 == 0)
        told |= set(revisions)
        stored += len(revisions)
        inside += path.with_name(path.name + "-journal").exists()
        if path.exists():
            found += [f"kill {kill}: {fault}" for fault in faults(path, told)]
    sys.stdout.write(json.dumps({"kills": kills, "stored": stored, "inside": inside, "faults": found}))


careful_writing = StateFile.writing


@contextmanager
def careless_writing(self: StateFile) -> Iterator[sqlite3.Connection]:
    """Every statement for itself, as it must not be; only the making of the file is left whole."""
    if self.connection.execute("PRAGMA user_version").fetchone()[0] == 0:
        with careful_writing(self) as db:
            yield db
    else:
        yield self.connection


if __name__ == "__main__":
    if "careless" in sys.argv:
        StateFile.writing = careless_writing  # type: ignore[method-assign]
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
