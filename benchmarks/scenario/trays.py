"""Trays, what lies in them, and the sets with their states on the evening."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from random import Random

from benchmarks.scenario.lists import Listed, Row, read_list, split
from benchmarks.scenario.sizes import NOW, Size
from picklist.model.sets import NO_END

SHELVES_IN_BAY = 8
OUT_OF_SERVICE = frozenset({"incomplete", "unknown", "away", "on loan"})
DIRTY_SHARE = 0.1


@dataclass(frozen=True, slots=True)
class Kept:
    """Sets of one tray and side that may be promised: how many, and how many are kept ready."""

    sets: int
    keep_ready: int


def make_trays() -> list[Row]:
    """The rows of Trays."""
    return [
        {
            "tray": one["tray"],
            "name": one["name"],
            "route": one["route"],
            "weight lb": float(one["weight"]),
            "container": one["container"] == "yes",
            "sided": one["sided"] == "yes",
            "implants": one["implants"] == "yes",
            "latex": False,
            "kept ready": int(one["kept ready"]),
            "stand-ins": split(one["stand-ins"]),
            "count sheet": True,
            "retired": False,
        }
        for one in read_list("trays")
    ]


def make_contents() -> list[Row]:
    """The rows of Tray contents: the kits of each tray added up, then what only it holds."""
    kits = {one["kit"]: one["instruments"] for one in read_list("kits")}
    rows: list[Row] = []
    for tray in read_list("trays"):
        counted: dict[str, int] = {}
        for text in (*(kits[kit] for kit in split(tray["kits"])), tray["extras"]):
            for part in split(text):
                instrument, _, quantity = part.rpartition("*")
                counted[instrument] = counted.get(instrument, 0) + int(quantity)
        rows += [{"tray": tray["tray"], "instrument": i, "quantity": q} for i, q in counted.items()]
    return rows


def make_sets(size: Size, rng: Random, running: dict[str, str]) -> list[Row]:
    """The rows of Sets; ``running`` gives the case that runs in a room."""
    states = {one["set"]: one for one in read_list("set_states")} if size.scenes else {}
    rows: list[Row] = []
    for position, tray in enumerate(read_list("trays")):
        for set_id, side in _set_ids(tray, size.sets):
            row: Row = {"set": set_id, "tray": tray["tray"], "side": side}
            if set_id in states:
                row |= _told(states[set_id], running)
            elif not size.scenes and rng.random() < DIRTY_SHARE:
                row |= {"state": "dirty", "step since": NOW - timedelta(minutes=rng.randrange(5, 90))}
            if row.setdefault("state", "on shelf") == "on shelf":
                row["place"] = tray_place(position)
                row |= _recorded(rng, row)
            rows.append(row)
    return rows


def tray_place(position: int) -> str:
    """The shelf of the tray at that position of the list."""
    return f"T-{position // SHELVES_IN_BAY + 1}-{position % SHELVES_IN_BAY + 1}"


def count_kept(sets: list[Row]) -> dict[tuple[str, str], Kept]:
    """By tray and side, the sets that a booking may count on."""
    keep = {one["tray"]: int(one["kept ready"]) for one in read_list("trays")}
    counted: dict[tuple[str, str], int] = {}
    for row in sets:
        if row["state"] not in OUT_OF_SERVICE:
            key = (str(row["tray"]), str(row["side"]))
            counted[key] = counted.get(key, 0) + 1
    return {key: Kept(number, keep[key[0]]) for key, number in counted.items()}


def _set_ids(tray: Listed, times: int) -> list[tuple[str, str]]:
    stem = tray["tray"].removeprefix("T-")
    count = int(tray["sets"]) * times
    if tray["sided"] == "no":
        return [(f"{stem}-{n:02d}", "") for n in range(1, count + 1)]
    return [(f"{stem}-{'LR'[n % 2]}{n // 2 + 1}", ("left", "right")[n % 2]) for n in range(count)]


def _told(state: Listed, running: dict[str, str]) -> Row:
    return {
        "state": state["state"],
        "step": state["step"],
        "step since": datetime.combine(NOW.date(), time.fromisoformat(state["since"])) if state["since"] else None,
        "in case": running.get(state["case"], ""),
        "back at": _moment(state["back"]),
        "return by": _moment(state["return by"]),
        "missing": state["missing"],
        "recorded sterile until": evening(int(state["until"])) if state["until"] else None,
    }


def evening(days: int) -> date:
    """The date so many days after the evening."""
    return NOW.date() + timedelta(days=days)


def _moment(text: str) -> datetime | None:
    if not text:
        return None
    days, _, wall = text.partition(" ")
    return datetime.combine(evening(int(days)), time.fromisoformat(wall))


def _recorded(rng: Random, row: Row) -> Row:
    at = NOW - timedelta(days=int(rng.triangular(0, 40, 2)), minutes=rng.randrange(60, 600))
    until = row.get("recorded sterile until")
    if until is None:
        dated = rng.random() < 0.15
        until = at.date() + timedelta(days=rng.choice((90, 180, 365))) if dated else NO_END
    return {"recorded sterile at": at, "recorded sterile until": until}
