"""The pieces of a printed list, to and from the state file."""

from __future__ import annotations

import sqlite3
from collections import Counter
from datetime import date

from picklist.evening.content import Content, Part, Piece
from picklist.model.cards import ThingKind


def store_content(db: sqlite3.Connection, cart_id: int, revision: int, content: Content) -> None:
    """Write what a list puts on a cart, in the list's order."""
    db.executemany(
        "INSERT INTO list_piece VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (
                cart_id,
                revision,
                piece.kind.value,
                piece.thing,
                piece.wanted,
                piece.part.value,
                piece.set_id,
                piece.copy,
                piece.lot,
                piece.place,
                piece.person,
                piece.name,
                piece.expiry.isoformat() if piece.expiry else None,
                piece.home,
                content[piece],
            )
            for piece in sorted(content, key=lambda p: p.order)
        ],
    )


def load_content(db: sqlite3.Connection, cart_id: int, revision: int) -> Content:
    """What a printed list put on a cart."""
    rows = db.execute("SELECT * FROM list_piece WHERE cart_id = ? AND revision = ?", (cart_id, revision))
    return Counter({_piece(row): row["quantity"] for row in rows})


def _piece(row: sqlite3.Row) -> Piece:
    return Piece(
        kind=ThingKind(row["kind"]),
        thing=row["thing"],
        wanted=row["wanted"],
        part=Part(row["part"]),
        set_id=row["set_id"],
        copy=row["copy"],
        lot=row["lot"],
        place=row["place"],
        person=row["person"],
        name=row["name"],
        expiry=date.fromisoformat(row["expiry"]) if row["expiry"] else None,
        home=row["home"],
    )
