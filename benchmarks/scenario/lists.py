"""The hand-written lists that every invented site is made from."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

DATA = Path(__file__).parent / "data"

Listed = dict[str, str]
Row = dict[str, object]
Tables = dict[str, list[Row]]


@dataclass(frozen=True, slots=True)
class Asked:
    """A thing with its open and hold quantity; items by family and variant, as ``blade/10``."""

    thing: str
    open: int
    hold: int


@cache
def read_list(name: str) -> tuple[Listed, ...]:
    """The rows of one list; every cell is text."""
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


def split(text: str, mark: str = ";") -> tuple[str, ...]:
    """The parts of a cell that holds several."""
    return tuple(group.strip() for group in text.split(mark) if group.strip())


def split_asked(text: str) -> tuple[Asked, ...]:
    """``blade/10=1; drape/half=0+2`` as things with open and hold quantities."""
    asked = []
    for group in split(text):
        thing, _, amount = group.rpartition("=")
        opened, _, held = amount.partition("+")
        asked.append(Asked(thing, int(opened), int(held or 0)))
    return tuple(asked)
