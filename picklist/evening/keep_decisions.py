"""What people decided about an evening's conflicts and shortages, and whom they informed, in the state file."""

from __future__ import annotations

import json
import sqlite3
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime

from picklist.model.conflicts import Edit, RemedyKind
from picklist.model.known import STOCK, Decision, Move, Seen, conflicts_by_key, short_items
from picklist.model.plan import Plan
from picklist.sets.remedies.planned_day import swapped_starts
from picklist.store.state import StateFile
from picklist.store.typed_records import Rows

_DECISIONS = Rows("decision", Decision, about="conflict", by="decided_by", at="decided_at", moves="", seen="")
_SEEN = Rows("decision_seen", Seen)


def moves_of(plan: Plan, edits: Iterable[Edit]) -> tuple[Move, ...]:
    """Where edits put the cases of a plan; nothing for edits of sets and steps, which no schedule shows."""
    cases = {case.number: case for case in plan.cases}
    moved: dict[str, Move] = {}
    for edit in edits:
        case = cases.get(edit.case)
        if case is None:
            continue
        if edit.kind in (RemedyKind.SHIFT, RemedyKind.ROOM):
            moved[case.number] = Move(case=case.number, room=edit.room or case.room, start=edit.start or case.start)
        elif edit.kind is RemedyKind.CANCEL:
            moved[case.number] = Move(case=case.number, room=case.room, start=None)
        elif edit.kind is RemedyKind.SWAP and edit.other_case in cases:
            same = [one for one in cases.values() if (one.room, one.day) == (case.room, case.day)]
            in_room = sorted(same, key=lambda one: (one.start, one.number))
            for number, start in swapped_starts(in_room, case.number, edit.other_case).items():
                if start != cases[number].start:
                    moved[number] = Move(case=number, room=case.room, start=start)
    return tuple(moved.values())


def record_decision(state: StateFile, day: date, said: Decision) -> Decision:
    """Keep what a person said; the last word about a thing counts, the earlier ones stay in the file.

    The same word said again counts once: the first one is given back. ``told_at`` is kept as it is stated; where it
    is not, somebody named before was informed when that was said, and somebody new when this is.
    """
    case_day = said.case_day or day
    with state.writing() as db:
        last = _last_words(db, "case_day = ? AND conflict = ?", case_day.isoformat(), said.about).get(said.about)
        told_at = said.told_at
        if told_at is None and said.told:
            told_at = last.told_at if last and last.told == said.told else said.at
        if last and (last.decided, last.told, last.told_at) == (said.decided, said.told, told_at):
            return last
        moves = json.dumps([(one.case, one.room, one.start and one.start.isoformat()) for one in said.moves])
        kept = replace(said, case_day=case_day, told_at=told_at)
        _DECISIONS.keep(db, [kept], day=day.isoformat(), moves=moves)
        return _last_words(db, "case_day = ? AND conflict = ?", case_day.isoformat(), said.about)[said.about]


def decisions(state: StateFile, day: date) -> dict[str, Decision]:
    """The last word on each conflict and shortage of the cases of a day and later, by its key.

    A conflict of a later day that an earlier evening decided stays decided on its own evening.
    """
    with state.reading() as db:
        return _last_words(db, "case_day >= ?", day.isoformat())


def follow_cases(state: StateFile, day: date, names: Mapping[str, str], later: Mapping[str, str]) -> None:
    """Give decisions the new numbers of their cases, by the old ones: of a day, and of ``later`` days; in ``writing``.

    What was said of two cases that are one now is kept apart by when it was said: the last word counts.
    """
    of_day = {**later, **names}
    changed = {old: new for old, new in of_day.items() if old != new}
    if not changed:
        return
    db = state.connection
    keys: dict[tuple[str, str], str] = {}
    for row in db.execute("SELECT * FROM decision WHERE case_day >= ?", (day.isoformat(),)).fetchall():
        moves = [(changed.get(case, case), room, start) for case, room, start in json.loads(row["moves"])]
        key = _under_new_number(row["conflict"], of_day if row["case_day"] == day.isoformat() else later)
        keys[row["case_day"], row["conflict"]] = key
        values = (key, json.dumps(moves), row["decision_id"])
        db.execute("UPDATE decision SET conflict = ?, moves = ? WHERE decision_id = ?", values)
    seen = db.execute("SELECT * FROM decision_seen WHERE case_day >= ? ORDER BY rowid", (day.isoformat(),)).fetchall()
    db.execute("DELETE FROM decision_seen WHERE case_day >= ?", (day.isoformat(),))
    for row in seen:
        _SEEN.keep(db, _SEEN.read([row]), case_day=row["case_day"], decided=row["decided"],
                   conflict=keys.get((row["case_day"], row["conflict"]), row["conflict"]))  # fmt: skip


def _under_new_number(about: str, names: Mapping[str, str]) -> str:
    """The key of a matter whose case has another number now."""
    old = max((one for one in names if about.endswith(f"/{one}")), key=len, default="")
    return about.removesuffix(old) + names[old] if old else about


def look_for_decisions(state: StateFile, plan: Plan, in_doubt: Collection[str] = ()) -> None:
    """Note which decisions a plan shows carried out for the first time, or no longer; inside ``writing``.

    Of cases ``in_doubt`` nobody knows yet which they are on the new schedule; what was decided of them is not judged.
    """
    db = state.connection
    standing = {*conflicts_by_key(plan), *short_items(plan)}
    places = {case.number: (case.room, case.start) for case in plan.cases}
    for said in _last_words(db, "case_day >= ?", plan.day.isoformat()).values():
        case_day = said.case_day or plan.day
        if not said.decided or (said.about.startswith(STOCK) and case_day != plan.day):
            continue
        if any(said.about.endswith(f"/{one}") or one in {move.case for move in said.moves} for one in in_doubt):
            continue
        by_moves = all(places.get(one.case) == one.place for one in said.moves)
        arrived = by_moves if said.moves else said.about not in standing
        if arrived != bool(said.since):
            db.execute(
                "INSERT OR REPLACE INTO decision_seen VALUES (?, ?, ?, ?, ?, ?)",
                (case_day.isoformat(), said.about, said.decided, plan.day.isoformat(), plan.revision, arrived),
            )


def _last_words(db: sqlite3.Connection, where: str, *values: str) -> dict[str, Decision]:
    rows = db.execute(f"SELECT * FROM decision WHERE {where} ORDER BY decision_id", values).fetchall()
    seen: dict[tuple[str, str, str], tuple[Seen, ...]] = defaultdict(tuple)
    for row in db.execute(f"SELECT * FROM decision_seen WHERE {where} ORDER BY rowid", values):
        seen[row["case_day"], row["conflict"], row["decided"]] += _SEEN.read([row])
    return {
        row["conflict"]: replace(
            said,
            moves=tuple(
                Move(case=case, room=room, start=datetime.fromisoformat(start) if start else None)
                for case, room, start in json.loads(row["moves"])
            ),
            seen=seen[row["case_day"], row["conflict"], row["decided"]],
        )
        for row, said in zip(rows, _DECISIONS.read(rows), strict=True)
    }
