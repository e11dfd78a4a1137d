"""A small clinic whose cards two surgeons and a service keep. Everything in it is invented."""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from picklist.inputs import read_site
from picklist.model.cards import ThingKind
from picklist.model.site import Site
from picklist.tables.write import write_tables
from picklist.upkeep.card_rows import CardRow, open_book, read_card
from picklist.upkeep.owners import Owner
from picklist.upkeep.proposals import Approval, ApprovedBy, CardChange
from picklist.upkeep.slots import RowKey, RowValue
from tests.inputs.folders import Rows, sound_rows

DAY = date(2026, 11, 26)
READ: dict[bytes, Site] = {}  # by the digest of all files
NOW = datetime(2026, 11, 26, 15, 0, tzinfo=UTC)  # 9:00 at the clinic
QUILL, TARN = Owner(surgeon="S01"), Owner(surgeon="S02")
KNEE_BASE = Owner(service="Orthopedics")
TRAY, PACK, ITEM = ThingKind.TRAY, ThingKind.PACK, ThingKind.ITEM

CARDS: list[dict[str, Any]] = [
    {"procedure": "KNEE", "kind": "tray", "thing": "T-KNEE", "open": 1},
    {"procedure": "KNEE", "kind": "item", "thing": "100001", "open": 2, "hold": 1},
    {"procedure": "KNEE", "kind": "item", "thing": "100002", "open": 1, "note": "count twice"},
    {"procedure": "KNEE", "surgeon": "S01", "change": "remove", "kind": "item", "thing": "100002"},
    {"procedure": "KNEE", "surgeon": "S01", "kind": "item", "thing": "100007", "open": 1, "from": date(2025, 3, 1)},
    {"procedure": "KNEE", "surgeon": "S02", "change": "replace", "kind": "item", "thing": "100001", "open": 4},
    {"procedure": "HERNIA", "kind": "tray", "thing": "T-BASIC", "open": 1},
    {"procedure": "HERNIA", "surgeon": "S02", "kind": "item", "thing": "100002", "open": 3},
]
ITEMS: list[dict[str, Any]] = [
    {"item": "100007", "name": "Suture 3-0", "place": "A-01"},
    {"item": "100008", "name": "Drain 10 Fr", "place": "A-01"},
    {"item": "100009", "name": "Old drain", "place": "A-01", "retired": True},
]


def write_clinic(
    folder: Path, cards: list[dict[str, Any]] | None = None, tables: Rows | None = None, **how: Any
) -> Path:
    """Write the clinic's folder, with other ``tables`` if given; ``how`` goes to ``write_tables``."""
    rows = sound_rows() | (tables or {})
    rows["Cards"] = [dict(row) for row in (CARDS if cards is None else cards)]
    rows["Items"] += ITEMS
    rows["Trays"].append({"tray": "T-MINI", "name": "Mini set", "route": "STEAM"})
    rows["Sets"].append({"set": "MINI-01", "tray": "T-MINI", "state": "on shelf", "place": "A-01"})
    write_tables(folder, rows, **how)
    return folder


def read_clinic(folder: Path) -> Site:
    """The site of a folder; its cards must be sound. A test asks after each step, and the same files say the same."""
    files = [(path.name, path.read_bytes()) for path in sorted(folder.iterdir()) if path.is_file()]
    mark = hashlib.sha256(repr(files).encode()).digest()
    if mark not in READ:
        site, problems = read_site(folder, now=NOW)
        assert site is not None
        assert not [one for one in problems if one.where.sheet == "Cards" and one.severity != "notice"], problems
        READ[mark] = site
    return READ[mark]


def card_of(folder: Path, owner: Owner, procedure: str | None = "KNEE", day: date = DAY) -> dict[str, CardRow]:
    """The rows of a card by the thing that each slot speaks of."""
    rows = read_card(open_book(read_clinic(folder)), owner, procedure, day)
    return {row.slot.thing: row for row in rows if row.mine}


def wanted(folder: Path, owner: Owner, procedure: str | None = "KNEE", day: date = DAY) -> dict[str, tuple[int, int]]:
    """Open and hold by what is wanted on a card."""
    rows = card_of(folder, owner, procedure, day).values()
    return {row.want.thing: (row.want.open, row.want.hold) for row in rows if row.want}


def item(thing: str, opened: int, held: int = 0, note: str = "") -> RowValue:
    """A want of an item."""
    return RowValue(kind=ITEM, thing=thing, open=opened, hold=held, note=note)


def change(folder: Path, owner: Owner, thing: str, after: RowValue | None, procedure: str = "KNEE") -> CardChange:
    """A change of one slot from what the card says now."""
    row = card_of(folder, owner, procedure).get(thing)
    slot = row.slot if row else RowKey(kind=after.kind if after else ITEM, thing=thing)
    before = row.want if row else None
    beneath = row.beneath if row else None
    return CardChange(number=1, procedure=procedure, slot=slot, before=before, after=after, beneath=beneath)


def vane(effective: date = DAY, *, reason: str = "asked", numbers: tuple[int, ...] | None = None) -> ApprovedBy:
    """R. Vane approves or undoes."""
    return ApprovedBy(name="R. Vane", reason=reason, effective=effective, numbers=numbers)


def approval(owner: Owner, *changes: CardChange, effective: date = DAY) -> Approval:
    """An approval by the coordinator."""
    return Approval(owner=owner, changes=changes, approved=vane(effective, reason="asked for"))
