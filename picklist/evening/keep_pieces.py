"""The pieces of a printed list, to and from the state file."""

from __future__ import annotations

import sqlite3
from collections import Counter

from picklist.evening.content import CartThing, Content, Handling
from picklist.model.cards import ThingKind
from picklist.model.expiry import expiry_from_text, expiry_text


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
                expiry_text(piece.expiry) or None,
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


def _piece(row: sqlite3.Row) -> CartThing:
    return CartThing(
        kind=ThingKind(row["kind"]),
        thing=row["thing"],
        wanted=row["wanted"],
        part=Handling(row["part"]),
        set_id=row["set_id"],
        copy=row["copy"],
        lot=row["lot"],
        place=row["place"],
        person=row["person"],
        name=row["name"],
        expiry=expiry_from_text(row["expiry"] or ""),
        home=row["home"],
    )
