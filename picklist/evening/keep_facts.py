"""Built carts and put-backs in the state file."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from picklist.evening.state import State
from picklist.model.built import BuiltCart, CountFound, MissingThing, StoodIn, TakenItem, TakenSet
from picklist.problems import Problem, Severity


def record_built(
    state: State, facts: Sequence[BuiltCart], told_at: datetime, told_from: str = ""
) -> tuple[Problem, ...]:
    """Keep what the crew told, all or nothing; a later report on a cart takes the place of an earlier one.

    A report that says the same as the last one is not kept twice. A report on a list that
    was never printed is a problem and is not kept; one on an older list is kept with a notice.
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
            if last is None or replace(_load(db, last), at=one.at) != one:
                _insert(db, cart_id, one, told_at, told_from)
    return tuple(problems)


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
        severity=Severity.TO_MEND,
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


def _last_report(db: sqlite3.Connection, cart_id: int) -> int | None:
    found: int | None = db.execute("SELECT max(built_id) FROM built_cart WHERE cart_id = ?", (cart_id,)).fetchone()[0]
    return found


def _insert(db: sqlite3.Connection, cart_id: int, one: BuiltCart, told_at: datetime, told_from: str) -> None:
    made = db.execute(
        """
        INSERT INTO built_cart
            (cart_id, day, number, revision, built_at, told_at, told_from, done, built_by, remark)
        VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
        """,
        (
            cart_id,
            one.day.isoformat(),
            one.case,
            one.revision,
            one.at.isoformat(),
            told_at.isoformat(),
            told_from,
            int(one.done),
            one.by,
            one.remark,
        ),
    )
    key = made.lastrowid
    db.executemany("INSERT INTO built_set VALUES (?, ?, ?, ?)", [(key, s.tray, s.copy, s.set_id) for s in one.sets])
    db.executemany(
        "INSERT INTO built_missing VALUES (?, ?, ?, ?, ?)",
        [(key, m.thing, m.copy, m.person, m.quantity) for m in one.missing],
    )
    db.executemany(
        "INSERT INTO built_stood_in VALUES (?, ?, ?, ?, ?)",
        [(key, s.thing, s.stood_in, s.person, s.quantity) for s in one.stood_in],
    )
    db.executemany(
        "INSERT INTO built_count VALUES (?, ?, ?, ?, ?)",
        [(key, c.item, c.lot, c.place, c.quantity) for c in one.counts],
    )
    db.executemany(
        "INSERT INTO built_item VALUES (?, ?, ?, ?, ?, ?)",
        [
            (key, i.item, i.lot, i.expiry.isoformat() if i.expiry else None, i.quantity, by_hand)
            for by_hand, items in ((0, one.scanned), (1, one.added))
            for i in items
        ],
    )


def _load(db: sqlite3.Connection, built_id: int) -> BuiltCart:
    row = db.execute("SELECT * FROM built_cart WHERE built_id = ?", (built_id,)).fetchone()

    def parts(table: str) -> list[sqlite3.Row]:
        return db.execute(f"SELECT * FROM {table} WHERE built_id = ? ORDER BY rowid", (built_id,)).fetchall()

    items = parts("built_item")
    return BuiltCart(
        day=date.fromisoformat(row["day"]),
        case=row["number"],
        revision=row["revision"],
        at=datetime.fromisoformat(row["built_at"]),
        done=bool(row["done"]),
        by=row["built_by"],
        remark=row["remark"],
        sets=tuple(TakenSet(tray=r["tray"], copy=r["copy"], set_id=r["set_id"]) for r in parts("built_set")),
        missing=tuple(
            MissingThing(thing=r["thing"], copy=r["copy"], person=r["person"], quantity=r["quantity"])
            for r in parts("built_missing")
        ),
        stood_in=tuple(
            StoodIn(thing=r["thing"], stood_in=r["stood_in"], person=r["person"], quantity=r["quantity"])
            for r in parts("built_stood_in")
        ),
        counts=tuple(
            CountFound(item=r["item"], lot=r["lot"], place=r["place"], quantity=r["quantity"])
            for r in parts("built_count")
        ),
        scanned=_taken(r for r in items if not r["by_hand"]),
        added=_taken(r for r in items if r["by_hand"]),
    )


def _taken(rows: Iterable[sqlite3.Row]) -> tuple[TakenItem, ...]:
    return tuple(
        TakenItem(
            item=r["item"],
            lot=r["lot"],
            expiry=date.fromisoformat(r["expiry"]) if r["expiry"] else None,
            quantity=r["quantity"],
        )
        for r in rows
    )


def built_carts(state: State, day: date) -> dict[str, BuiltCart]:
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


def told_so_far(state: State) -> int:
    """A number that grows with every report of the crew that is kept; also inside a transaction."""
    found: int | None = state.connection.execute("SELECT max(built_id) FROM built_cart").fetchone()[0]
    return found or 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PutBack:
    """Something to put back on its shelf, or onto another cart; ``done_at`` None until somebody tells it done."""

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


def put_backs(state: State, day: date) -> tuple[PutBack, ...]:
    """All that was to be put back on a day, done or not, in the order in which it was asked.

    Only from carts told begun or built from an earlier list, be it after the change: of a cart that
    nobody began, or that was begun from the new list, everything is where it should be.
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


def open_put_backs(state: State, day: date) -> tuple[PutBack, ...]:
    """What is still to be put back, in the order in which it was asked."""
    return tuple(one for one in put_backs(state, day) if one.done_at is None)


def mark_put_back(state: State, ids: Iterable[int], at: datetime, by: str) -> int:
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


def reopen_put_back(state: State, ids: Iterable[int]) -> int:
    """Take back that put-backs are done; how many were."""
    with state.writing() as db:
        opened = [
            db.execute(
                "UPDATE put_back SET done_at = NULL, done_by = '' WHERE put_back_id = ? AND done_at IS NOT NULL", (one,)
            ).rowcount
            for one in ids
        ]
    return sum(opened)
