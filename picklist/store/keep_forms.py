"""Which filled forms were taken in already, so that a build does not take one again over what was reported since."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from picklist.model.built import BuiltCart
from picklist.store.state import StateFile
from picklist.tables.files import digest_now, digest_of


def mark_taken(state: StateFile, form: str, digest: str, at: datetime, said: Iterable[BuiltCart] = ()) -> None:
    """Remember a form that was taken in, and what it ``said`` of each cart.

    ``digest`` is the mark of its contents from before they were read: somebody may have saved it since, and what was
    filled in then is still to be taken in.
    """
    with state.writing() as db:
        row = (digest, form, at.isoformat())
        db.execute("INSERT OR REPLACE INTO form_taken VALUES (?, ?, ?)", row)
        db.executemany(
            "INSERT OR REPLACE INTO form_said VALUES (?, ?, ?)",
            [(one.day.isoformat(), one.case, _mark(one)) for one in said],
        )


def was_taken(state: StateFile, form: Path) -> bool:
    """Whether a form with these very contents was taken in."""
    with state.reading() as db:
        return db.execute("SELECT 1 FROM form_taken WHERE digest = ?", (digest_now(form),)).fetchone() is not None


def not_said_before(state: StateFile, said: Iterable[BuiltCart]) -> tuple[BuiltCart, ...]:
    """What a form says that the last form did not say: its other rows may have been corrected elsewhere since."""
    with state.reading() as db:
        known = {(row["day"], row["number"], row["digest"]) for row in db.execute("SELECT * FROM form_said")}
    return tuple(one for one in said if (one.day.isoformat(), one.case, _mark(one)) not in known)


def _mark(one: BuiltCart) -> str:
    return digest_of(repr(replace(one, at=datetime.min.replace(tzinfo=UTC))).encode())
