"""Run as a program: writers are killed at random moments, and the state file is looked at after each.

Arguments: the folder to work in, the number of kills, the seed. A writer is forked from this
warmed-up process, so that a kill costs milliseconds. Each writer tells every plan that it
has stored, through a pipe, once the storing has returned. Prints one line of JSON.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import sys
import time
from datetime import timedelta
from pathlib import Path

from picklist.evening.compare import compare_plans
from picklist.evening.keep_facts import record_built
from picklist.evening.keep_plans import latest_revision, save_plan
from picklist.evening.state import open_state
from picklist.model.built import BuiltCart, MissingThing, TakenSet
from picklist.model.plan import Plan
from tests.builders import DAY
from tests.evening.builders import EVENING, a_case, cart, pick, plan, sundry, tray_line

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


def store(path: Path, told: int, old: dict[int, Plan]) -> None:
    """Store plans and built carts until killed, telling each revision once it is stored."""
    while True:
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
        os.write(told, f"{new.revision}\n".encode())


def faults(path: Path, told: int) -> list[str]:
    """What is wrong with the file after a kill, when ``told`` revisions were said to be stored."""
    found = []
    with sqlite3.connect(path, timeout=5) as db:
        if db.execute("PRAGMA integrity_check").fetchone()[0] != "ok":
            found.append("integrity")
        if db.execute("PRAGMA foreign_key_check").fetchall():
            found.append("foreign keys")
        if db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0:
            return [*found, *(["all lost"] if told else [])]
        newest, count = db.execute("SELECT max(revision), count(*) FROM plan").fetchone()
        if (newest or 0) != count or count < told:
            found.append(f"plans: newest {newest}, {count} kept, {told} told")
        lists = db.execute("SELECT revision, count(*) FROM cart_list GROUP BY revision").fetchall()
        if any(n != CARTS for _, n in lists) or len(lists) != count:
            found.append(f"lists: {lists}")
        if db.execute("SELECT count(*) FROM list_piece").fetchone()[0] != count * CARTS * 9:
            found.append("half a list")
        reports = db.execute("SELECT revision, count(*) FROM built_cart GROUP BY revision").fetchall()
        if any(n != CARTS for _, n in reports) or len(reports) < told:
            found.append(f"reports: {reports}")
        if db.execute("SELECT count(*) FROM built_missing").fetchone()[0] != 2 * CARTS * len(reports):
            found.append("half a report")
    db.close()
    return found


def one_kill(path: Path, wait: float, plans: dict[int, Plan]) -> list[int]:
    """Start a writer, kill it after so many seconds; the revisions that it told."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        store(path, writing, plans)
    os.close(writing)
    time.sleep(wait)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with os.fdopen(reading) as pipe:
        return [int(line) for line in pipe if line.endswith("\n")]


def main(folder: Path, kills: int, seed: int) -> None:
    """Kill ``kills`` writers; a fresh file now and then, so that its making is killed too."""
    chance = random.Random(seed)
    plans = {n: a_plan(n) for n in range(1, 60)}
    found: list[str] = []
    told, stored, inside = 0, 0, 0
    path = folder / "site.picklist.sqlite"
    for kill in range(kills):
        if kill % 25 == 0:
            path, told = folder / f"site{kill}.picklist.sqlite", 0
        wait = chance.uniform(0, 0.012) if kill % 25 == 0 else chance.uniform(0, 0.06)
        revisions = one_kill(path, wait, plans)
        told = max([told, *revisions])
        stored += len(revisions)
        inside += path.with_name(path.name + "-journal").exists()
        if path.exists():
            found += [f"kill {kill}: {fault}" for fault in faults(path, told)]
    print(json.dumps({"kills": kills, "stored": stored, "inside": inside, "faults": found}))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
