"""Built carts and put-backs in the state file."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any

from picklist.evening.add_reports import only_new, said_since, with_reporters
from picklist.evening.content import PieceLine
from picklist.model.built import (
    BuiltCart,
    CountFound,
    MissingThing,
    StoodIn,
    TakenItem,
    TakenSet,
    TrayToCome,
)
from picklist.model.known import PutBack
from picklist.problems import Problem, notice, to_fix
from picklist.store.state import StateFile
from picklist.store.typed_records import Rows

SCANS = "scans"
CARRIED = "carried over"  # where a report comes from that was made to hold for a newer list
Join = Callable[[BuiltCart | None, BuiltCart], BuiltCart]

_LINE = {"by": "line_by", "reported_at": "line_at", "where": ""}
_LINES: dict[str, Rows[Any]] = {
    "sets": Rows("built_set", TakenSet, **_LINE),
    "missing": Rows("built_missing", MissingThing, **_LINE),
    "stood_in": Rows("built_stood_in", StoodIn, **_LINE),
    "counts": Rows("built_count", CountFound, **_LINE),
    "scanned": Rows("built_item", TakenItem, **_LINE),
    "added": Rows("built_item", TakenItem, **_LINE),
    "to_come": Rows("built_to_come", TrayToCome, **_LINE),
}
_BY_HAND = {"scanned": {"by_hand": 0}, "added": {"by_hand": 1}}
_CARTS = Rows(
    "built_cart",
    BuiltCart,
    case="number",
    at="built_at",
    by="built_by",
    **dict.fromkeys(("not_done", "where", *_LINES), ""),
)


def record_built(
    state: StateFile, facts: Sequence[BuiltCart], told_at: datetime, told_from: str = "", join: Join | None = None
) -> tuple[Problem, ...]:
    """Keep what the crew reported, all or nothing: ``join`` makes the report out of the last one and the new one.

    Without it the new report takes the place of the last one, which stays in the state. A report that says
    the same as the last one is not kept twice. A report on a list that was never printed is a problem and
    is not kept; one on an older list is kept with a notice.
    """
    problems: list[Problem] = []
    with state.writing() as db:
        for one in facts:
            found = _cart_of(db, one)
            if found is None:
                problems.append(_unknown_list(one))
                continue
            cart_id, newest = found
            if one.revision < newest:
                problems.append(_older_list(one, newest))
            last = _last_report(db, cart_id)
            before = None if last is None else _load(db, last)
            told = db.execute(_LAST_TOLD, (cart_id, CARRIED)).fetchone()[0] if one.revision < newest else None
            if told not in (None, last):  # a form filled in further says again what was carried over to the newer list
                one = only_new(one, _load(db, told))
            report = with_reporters(join(before, one) if join else one, before, one.by, one.at)
            if before is None or replace(before, at=report.at) != report:
                _insert(db, report, cart_id=cart_id, told_at=told_at, told_from=told_from)
    return tuple(problems)


_LAST_TOLD = "SELECT max(built_id) FROM built_cart WHERE cart_id = ? AND told_from <> ?"


def carry_report(db: sqlite3.Connection, cart_id: int, report: BuiltCart, at: datetime) -> None:
    """Keep the last report on a cart as it holds for the list that is being kept, inside ``writing``."""
    last = _last_report(db, cart_id)
    if last is not None and _load(db, last) != report:
        _insert(db, report, cart_id=cart_id, told_at=at, told_from=CARRIED)


class ReportedMeanwhileError(Exception):
    """Somebody else reported on the cart since the report that this one was made from."""


def record_scans(
    state: StateFile,
    facts: BuiltCart,
    over: BuiltCart | None,
    told_at: datetime,
    *,
    by: str,
    own: int | None,
    going_on: bool,
) -> tuple[int | None, BuiltCart]:
    """Keep where a scanner stands with a cart; the row it stands in, and the report as it is kept.

    ``over`` is the last report, from which this one was made, ``own`` the scanner's own row, if any.
    ``going_on``: more scans of this cart are to come, so that the row is written over by the next one.
    Scans of one sitting at a cart share a row. A report that says what was reported before it is not kept.
    Raises ReportedMeanwhileError, also for a cart whose list is not there now.
    """
    with state.writing() as db:
        found = _cart_of(db, facts)
        last = _last_report(db, found[0]) if found else None
        if found is None or (_load(db, last) if last else None) != over:
            raise ReportedMeanwhileError
        own = own if own == last and own is not None and _goes_on(db, own) else None
        earlier = _last_report(db, found[0], before=own)
        if own is not None:
            _delete(db, own)
        base = _load(db, earlier) if earlier else None
        if base is not None and base == facts:
            return None, base
        kept = with_reporters(facts, base, by, told_at)
        row = _insert(db, kept, cart_id=found[0], told_at=told_at, told_from=SCANS, going_on=going_on, built_id=own)
        return row, kept


def forget_scans(state: StateFile, own: int) -> None:
    """Take away the row of a sitting that was undone whole."""
    with state.writing() as db:
        if _goes_on(db, own):
            _delete(db, own)


def withdraw_report(state: StateFile, report: BuiltCart) -> bool:
    """Take away the last report on a cart, so that the one before it counts; False when another came since."""
    with state.writing() as db:
        found = _cart_of(db, report)
        last = _last_report(db, found[0]) if found else None
        if last is None or _load(db, last) != report:
            return False
        _delete(db, last)
    return True


def when_scanned(state: StateFile, day: date, digest: str) -> datetime | None:
    """When a file of scans for a day was read, found by its digest; None when it was not."""
    with state.reading() as db:
        row = db.execute(
            "SELECT read_at FROM scanned_file WHERE day = ? AND digest = ?", (day.isoformat(), digest)
        ).fetchone()
    return datetime.fromisoformat(row["read_at"]) if row else None


def mark_scanned(state: StateFile, day: date, digest: str, at: datetime) -> None:
    """Keep that a file of scans was read."""
    with state.writing() as db:
        db.execute("INSERT OR IGNORE INTO scanned_file VALUES (?, ?, ?)", (day.isoformat(), digest, at.isoformat()))


def _goes_on(db: sqlite3.Connection, built_id: int) -> bool:
    row = db.execute("SELECT going_on FROM built_cart WHERE built_id = ?", (built_id,)).fetchone()
    return row is not None and bool(row["going_on"])


def _delete(db: sqlite3.Connection, built_id: int) -> None:
    for table in (*(lines.table for lines in _LINES.values()), _CARTS.table):
        db.execute(f"DELETE FROM {table} WHERE built_id = ?", (built_id,))


def _cart_of(db: sqlite3.Connection, facts: BuiltCart) -> tuple[int, int] | None:
    """The cart that a list of that number and revision was for, and the cart's newest list."""
    row = db.execute(
        """
        SELECT cart_id FROM cart_list JOIN cart USING (cart_id)
        WHERE cart.day = ? AND cart_list.number = ? AND revision <= ? ORDER BY revision DESC LIMIT 1
        """,
        (facts.day.isoformat(), facts.case, facts.revision),
    ).fetchone()
    if row is None:
        return None
    newest = db.execute("SELECT max(revision) FROM cart_list WHERE cart_id = ?", (row[0],)).fetchone()[0]
    return row[0], newest


def _unknown_list(facts: BuiltCart) -> Problem:
    return to_fix(
        "no such list",
        facts.where,
        f"no list of case {facts.case} with revision {facts.revision} or before was printed",
        value=f"{facts.case} {facts.revision}",
        expected="case and revision as printed on the list or the cart's label",
        cases=(facts.case,),
    )


def _older_list(facts: BuiltCart, newest: int) -> Problem:
    return notice(
        "older list",
        facts.where,
        f"cart {facts.case} was built from list {facts.revision}, and list {newest} has replaced it",
        value=str(facts.revision),
        expected=f"the changes of list {newest} carried out too",
        cases=(facts.case,),
    )


def _last_report(db: sqlite3.Connection, cart_id: int, before: int | None = None) -> int | None:
    """The last report on a cart; the last one before another, where one is named."""
    found: int | None = db.execute(
        "SELECT max(built_id) FROM built_cart WHERE cart_id = ? AND (? IS NULL OR built_id < ?)",
        (cart_id, before, before),
    ).fetchone()[0]
    return found


def _insert(
    db: sqlite3.Connection,
    facts: BuiltCart,
    *,
    cart_id: int,
    told_at: datetime,
    told_from: str,
    going_on: bool = False,
    built_id: int | None = None,
) -> int:
    """Write a report as a row, a new one without ``built_id``; its number."""
    more = {"built_id": built_id, "cart_id": cart_id, "told_from": told_from, "going_on": int(going_on)}
    key = _CARTS.keep(db, [facts], told_at=told_at.isoformat(), **more)
    for name, lines in _LINES.items():
        lines.keep(db, getattr(facts, name), built_id=key, **_BY_HAND.get(name, {}))
    return key


def _load(db: sqlite3.Connection, built_id: int) -> BuiltCart:
    """A report; lines without it were reported by whom the cart was, and when."""
    cart = db.execute("SELECT * FROM built_cart WHERE built_id = ?", (built_id,)).fetchone()
    found: dict[str, Any] = {}
    for name, lines in _LINES.items():
        rows = map(dict, db.execute(f"SELECT * FROM {lines.table} WHERE built_id = ? ORDER BY rowid", (built_id,)))
        known = _BY_HAND.get(name, {}).items()
        found[name] = lines.read(
            row
            | {"line_by": cart["built_by"] if row["line_by"] is None else row["line_by"]}
            | {"line_at": row["line_at"] or cart["built_at"]}
            for row in rows
            if known <= row.items()
        )
    [report] = _CARTS.read([cart])
    return replace(report, **found)


def built_carts(state: StateFile, day: date) -> dict[str, BuiltCart]:
    """The last report on every open cart of a day, by the key under which the cart is kept."""
    with state.reading() as db:
        rows = db.execute(
            """
            SELECT kept_as, max(built_id) AS built_id FROM built_cart JOIN cart USING (cart_id)
            WHERE cart.day = ? AND closed IS NULL GROUP BY cart_id ORDER BY kept_as
            """,
            (day.isoformat(),),
        ).fetchall()
        return {row["kept_as"]: _load(db, row["built_id"]) for row in rows}


def told_from_lists(db: sqlite3.Connection, cart_id: int) -> BuiltCart:
    """The last report on a cart as it holds for the list that it speaks of, whatever was carried over since."""
    rows = db.execute("SELECT built_id, told_from FROM built_cart WHERE cart_id = ? ORDER BY built_id", (cart_id,))
    reports = [(_load(db, row["built_id"]), row["told_from"] == CARRIED) for row in rows]
    told, over = reports[0][0], None  # the report, and what was carried over of it last
    for report, carried in reports[1:]:
        if not carried:
            told = said_since(told, over, report) if over and over.revision == report.revision else report
        over = report if carried or (over and over.revision == report.revision) else None
    return told


def told_so_far(state: StateFile) -> str:
    """A text that changes with every finished report of the crew and with one withdrawn; also inside a transaction.

    A cart that is just being scanned does not count: each scan would send a build back to its start. Nor does what a
    build itself carried over.
    """
    rows = state.connection.execute(
        "SELECT built_id, cart_id, told_at FROM built_cart WHERE going_on = 0 AND told_from <> ? ORDER BY built_id",
        (CARRIED,),
    )
    return hashlib.sha256(repr([tuple(row) for row in rows]).encode()).hexdigest()


PUT_BACKS = Rows("put_back", PutBack, id="put_back_id", case="number")


def put_back_of(line: PieceLine, case: str, revision: int) -> PutBack:
    """What comes off a case's cart by a list of that revision, to be put back."""
    piece = line.piece
    return PutBack(
        id=0,
        revision=revision,
        case=case,
        kind=piece.kind.value,
        thing=piece.thing,
        set_id=piece.set_id,
        lot=piece.lot,
        quantity=line.quantity,
        home=piece.home,
        to_cart=line.cart,
    )


def mark_put_back(state: StateFile, ids: Iterable[int], at: datetime | None, by: str = "") -> int:
    """Keep that things were put back, or, without a moment, that they are still to be; of how many that is new."""
    said = at and at.isoformat()
    new = "put_back_id = ? AND (done_at IS NULL) <> (? IS NULL)"
    with state.writing() as db:
        return sum(
            db.execute(f"UPDATE put_back SET done_at = ?, done_by = ? WHERE {new}", (said, by, one, said)).rowcount
            for one in ids
        )
