"""What people decided about an evening's conflicts and shortages, and whom they told, in the state file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime

from picklist.model.conflicts import Conflict
from picklist.model.plan import Cart, Plan
from picklist.store.state import StateFile


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What was said last about a conflict or a shortage (``about`` is its key); nothing ``decided`` leaves it open."""

    about: str
    decided: str
    told: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortItem:
    """An item that no shelf can give a case: how many, open and hold, and what may stand in with how many there are."""

    about: str
    case: str
    item: str
    name: str
    open: int
    hold: int
    stand_ins: tuple[tuple[str, int], ...]


def conflict_key(conflict: Conflict) -> str:
    """A name for a conflict that the next plan gives it again while it stands."""
    return f"{conflict.kind.value}/{conflict.tray}/{conflict.waiter}"


def shortage_key(item: str, case: str) -> str:
    """A name for what a case lacks of an item, whatever the number."""
    return f"stock/{item}/{case}"


def conflicts_by_key(plan: Plan) -> dict[str, Conflict]:
    """Every conflict of a plan by its key."""
    return {conflict_key(one): one for one in plan.conflicts}


def short_items(plan: Plan) -> dict[str, ShortItem]:
    """What the shelves cannot give to the carts of a plan, by key, in the order of the carts."""
    return {one.about: one for cart in plan.carts if not cart.stopped for one in _short_on(cart)}


def _short_on(cart: Cart) -> Iterator[ShortItem]:
    short = [line for line in cart.goods if line.is_short]
    for item in dict.fromkeys(line.need.thing for line in short):
        lines = [line for line in short if line.need.thing == item]
        yield ShortItem(
            about=shortage_key(item, cart.case.number),
            case=cart.case.number,
            item=item,
            name=lines[0].need.name or item,
            open=sum(line.short_open for line in lines),
            hold=sum(line.short_hold for line in lines),
            stand_ins=tuple(dict.fromkeys(one for line in lines for one in line.stand_ins)),
        )


def record_decision(state: StateFile, day: date, said: Decision) -> None:
    """Keep what a person said; the last word about a thing counts, the earlier ones stay in the file."""
    with state.writing() as db:
        db.execute(
            "INSERT INTO decision (day, conflict, decided, told, decided_by, decided_at) VALUES (?, ?, ?, ?, ?, ?)",
            (day.isoformat(), said.about, said.decided, said.told, said.by, said.at.isoformat()),
        )


def decisions(state: StateFile, day: date) -> dict[str, Decision]:
    """The last word on each conflict and shortage of a day, by its key."""
    with state.reading() as db:
        rows = db.execute("SELECT * FROM decision WHERE day = ? ORDER BY decision_id", (day.isoformat(),)).fetchall()
    return {
        row["conflict"]: Decision(
            about=row["conflict"],
            decided=row["decided"],
            told=row["told"],
            by=row["decided_by"],
            at=datetime.fromisoformat(row["decided_at"]),
        )
        for row in rows
    }
