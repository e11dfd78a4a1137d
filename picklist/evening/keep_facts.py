"""Built carts and put-backs in the state file."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from picklist.evening.add_reports import with_reporters
from picklist.model.built import (
    BuiltCart,
    CountFound,
    MissingThing,
    ReportedFact,
    StoodIn,
    TakenItem,
    TakenSet,
    TrayToCome,
)
from picklist.problems import Problem, Severity
from picklist.store.state import StateFile

LINES = ("built_set", "built_missing", "built_stood_in", "built_count", "built_item", "built_to_come")
SCANS = "scans"
Join = Callable[[BuiltCart | None, BuiltCart], BuiltCart]


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
            report = with_reporters(join(before, one) if join else one, before, one.by, one.at)
            if before is None or replace(before, at=report.at) != report:
                _insert(db, _CartReport(cart_id=cart_id, facts=report, told_at=told_at, told_from=told_from))
    return tuple(problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanReport:
    """A report as a scanner leaves it: ``over`` is the last one it was made from, ``own`` its own row, if any.

    ``going_on``: more scans of this cart are to come, so that the row is written over by the next one.
    """

    facts: BuiltCart
    over: BuiltCart | None
    by: str
    own: int | None
    going_on: bool


class ReportedMeanwhileError(Exception):
    """Somebody else reported on the cart since the report that this one was made from."""


def record_scans(state: StateFile, report: ScanReport, told_at: datetime) -> tuple[int | None, BuiltCart]:
    """Keep where a scanner stands with a cart; the row it stands in, and the report as it is kept.

    Scans of one sitting at a cart share a row. A report that says what was reported before it is not kept.
    Raises ReportedMeanwhileError, also for a cart whose list is not there any more.
    """
    facts = report.facts
    with state.writing() as db:
        found = _cart_of(db, facts)
        last = _last_report(db, found[0]) if found else None
        if found is None or (_load(db, last) if last else None) != report.over:
            raise ReportedMeanwhileError
        own = report.own if report.own == last and report.own is not None and _goes_on(db, report.own) else None
        earlier = _last_report(db, found[0], before=own)
        if own is not None:
            _delete(db, own)
        base = _load(db, earlier) if earlier else None
        if base is not None and base == facts:
            return None, base
        kept = with_reporters(facts, base, report.by, told_at)
        row = _CartReport(
            cart_id=found[0], facts=kept, told_at=told_at, told_from=SCANS, going_on=report.going_on, built_id=own
        )
        return _insert(db, row), kept


def forget_scans(state: StateFile, own: int) -> None:
    """Take away the row of a sitting that was undone whole."""
    with state.writing() as db:
        if _goes_on(db, own):
            _delete(db, own)


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
    for table in (*LINES, "built_cart"):
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
    return Problem(
        kind="no such list",
        severity=Severity.TO_FIX,
        where=facts.where,
        message=f"no list of case {facts.case} with revision {facts.revision} or before was printed",
        value=f"{facts.case} {facts.revision}",
        expected="case and revision as printed on the list or the cart's label",
        cases=(facts.case,),
    )


def _older_list(facts: BuiltCart, newest: int) -> Problem:
    return Problem(
        kind="older list",
        severity=Severity.NOTICE,
        where=facts.where,
        message=f"cart {facts.case} was built from list {facts.revision}, and list {newest} has replaced it",
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _CartReport:
    """One report as a row; ``built_id`` None for a new one."""

    cart_id: int
    facts: BuiltCart
    told_at: datetime
    told_from: str
    going_on: bool = False
    built_id: int | None = None


def _insert(db: sqlite3.Connection, row: _CartReport) -> int:
    one = row.facts
    key = db.execute(
        """
        INSERT INTO built_cart
            (built_id, cart_id, day, number, revision, built_at, told_at, told_from, done, built_by, remark, going_on)
        VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
        """,
        (
            row.built_id,
            row.cart_id,
            one.day.isoformat(),
            one.case,
            one.revision,
            one.at.isoformat(),
            row.told_at.isoformat(),
            row.told_from,
            int(one.done),
            one.by,
            one.remark,
            int(row.going_on),
        ),
    ).lastrowid
    assert key is not None
    _insert_lines(db, "built_set", "tray, copy, set_id", [(s, key, s.tray, s.copy, s.set_id) for s in one.sets])
    _insert_lines(
        db,
        "built_missing",
        "thing, copy, person, quantity",
        [(m, key, m.thing, m.copy, m.person, m.quantity) for m in one.missing],
    )
    _insert_lines(
        db,
        "built_stood_in",
        "thing, stood_in, person, quantity",
        [(s, key, s.thing, s.stood_in, s.person, s.quantity) for s in one.stood_in],
    )
    _insert_lines(
        db,
        "built_count",
        "item, lot, place, quantity",
        [(c, key, c.item, c.lot, c.place, c.quantity) for c in one.counts],
    )
    _insert_lines(
        db,
        "built_item",
        "item, lot, expiry, serial, quantity, by_hand",
        [
            (i, key, i.item, i.lot, i.expiry.isoformat() if i.expiry else None, i.serial, i.quantity, by_hand)
            for by_hand, items in ((0, one.scanned), (1, one.added))
            for i in items
        ],
    )
    _insert_lines(
        db,
        "built_to_come",
        "tray, copy, set_id, expected",
        [(t, key, t.tray, t.copy, t.set_id, t.expected.isoformat()) for t in one.to_come],
    )
    return key


def _insert_lines(
    db: sqlite3.Connection, table: str, columns: str, lines: Sequence[tuple[ReportedFact, *tuple[object, ...]]]
) -> None:
    """Lines of a report into their table, each with who reported it and when."""
    marks = ", ".join("?" * (columns.count(",") + 4))
    db.executemany(
        f"INSERT INTO {table} (built_id, {columns}, line_by, line_at) VALUES ({marks})",
        [(*values, one.by, one.reported_at.isoformat() if one.reported_at else None) for one, *values in lines],
    )


def _load(db: sqlite3.Connection, built_id: int) -> BuiltCart:
    row = db.execute("SELECT * FROM built_cart WHERE built_id = ?", (built_id,)).fetchone()

    def lines(table: str) -> Iterator[tuple[sqlite3.Row, str, datetime]]:
        """The lines of a table with who reported each and when; where none is kept, the report's own."""
        for one in db.execute(f"SELECT * FROM {table} WHERE built_id = ? ORDER BY rowid", (built_id,)).fetchall():
            by = row["built_by"] if one["line_by"] is None else one["line_by"]
            yield one, by, datetime.fromisoformat(one["line_at"] or row["built_at"])

    items = [(bool(r["by_hand"]), _taken(r, by, at)) for r, by, at in lines("built_item")]
    return BuiltCart(
        day=date.fromisoformat(row["day"]),
        case=row["number"],
        revision=row["revision"],
        at=datetime.fromisoformat(row["built_at"]),
        done=bool(row["done"]),
        by=row["built_by"],
        remark=row["remark"],
        sets=tuple(
            TakenSet(tray=r["tray"], copy=r["copy"], set_id=r["set_id"], by=by, reported_at=at)
            for r, by, at in lines("built_set")
        ),
        missing=tuple(
            MissingThing(
                thing=r["thing"], copy=r["copy"], person=r["person"], quantity=r["quantity"], by=by, reported_at=at
            )
            for r, by, at in lines("built_missing")
        ),
        stood_in=tuple(
            StoodIn(
                thing=r["thing"],
                stood_in=r["stood_in"],
                person=r["person"],
                quantity=r["quantity"],
                by=by,
                reported_at=at,
            )
            for r, by, at in lines("built_stood_in")
        ),
        counts=tuple(
            CountFound(item=r["item"], lot=r["lot"], place=r["place"], quantity=r["quantity"], by=by, reported_at=at)
            for r, by, at in lines("built_count")
        ),
        scanned=tuple(one for by_hand, one in items if not by_hand),
        added=tuple(one for by_hand, one in items if by_hand),
        to_come=tuple(
            TrayToCome(
                tray=r["tray"],
                copy=r["copy"],
                set_id=r["set_id"],
                expected=datetime.fromisoformat(r["expected"]),
                by=by,
                reported_at=at,
            )
            for r, by, at in lines("built_to_come")
        ),
    )


def _taken(row: sqlite3.Row, by: str, at: datetime) -> TakenItem:
    return TakenItem(
        item=row["item"],
        lot=row["lot"],
        expiry=date.fromisoformat(row["expiry"]) if row["expiry"] else None,
        serial=row["serial"],
        quantity=row["quantity"],
        by=by,
        reported_at=at,
    )


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


def told_so_far(state: StateFile) -> int:
    """A number that grows with every finished report of the crew; also inside a transaction.

    A cart that is just being scanned does not count: each scan would send a build back to its start.
    """
    found: int = state.connection.execute("SELECT count(*) FROM built_cart WHERE going_on = 0").fetchone()[0]
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class PutBack:
    """Something to put back on its shelf, or onto another cart; ``done_at`` None until somebody reports it done.

    ``id`` is 0 of what no build has asked for yet: its case is gone from the schedule since.
    """

    id: int
    revision: int
    case: str
    kind: str
    thing: str
    set_id: str
    lot: str
    quantity: int
    home: str
    to_cart: str
    done_at: datetime | None = None
    done_by: str = ""

    @property
    def is_to_come(self) -> bool:
        """Whether no build has asked for it yet."""
        return self.id == 0


def put_backs(state: StateFile, day: date) -> tuple[PutBack, ...]:
    """All that was to be put back on a day, done or not, in the order in which it was asked.

    Only from carts reported as started or built from an earlier list, even after the change: of a cart that
    nobody started, or that was started from the new list, everything is where it should be.
    """
    with state.reading() as db:
        rows = db.execute(
            """
            SELECT * FROM put_back WHERE day = ? AND EXISTS (
                SELECT * FROM built_cart
                WHERE built_cart.day = put_back.day
                AND built_cart.number = put_back.number AND built_cart.revision < put_back.revision
            ) ORDER BY put_back_id
            """,
            (day.isoformat(),),
        ).fetchall()
    return tuple(
        PutBack(
            id=r["put_back_id"],
            revision=r["revision"],
            case=r["number"],
            kind=r["kind"],
            thing=r["thing"],
            set_id=r["set_id"],
            lot=r["lot"],
            quantity=r["quantity"],
            home=r["home"],
            to_cart=r["to_cart"],
            done_at=datetime.fromisoformat(r["done_at"]) if r["done_at"] else None,
            done_by=r["done_by"],
        )
        for r in rows
    )


def open_put_backs(state: StateFile, day: date) -> tuple[PutBack, ...]:
    """What is still to be put back, in the order in which it was asked."""
    return tuple(one for one in put_backs(state, day) if one.done_at is None)


def mark_put_back(state: StateFile, ids: Iterable[int], at: datetime, by: str) -> int:
    """Tell put-backs done; how many were still open."""
    with state.writing() as db:
        done = [
            db.execute(
                "UPDATE put_back SET done_at = ?, done_by = ? WHERE put_back_id = ? AND done_at IS NULL",
                (at.isoformat(), by, one),
            ).rowcount
            for one in ids
        ]
    return sum(done)


def reopen_put_back(state: StateFile, ids: Iterable[int]) -> int:
    """Take back that put-backs are done; how many were."""
    with state.writing() as db:
        opened = [
            db.execute(
                "UPDATE put_back SET done_at = NULL, done_by = '' WHERE put_back_id = ? AND done_at IS NOT NULL", (one,)
            ).rowcount
            for one in ids
        ]
    return sum(opened)
