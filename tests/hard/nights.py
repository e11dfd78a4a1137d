"""Whole evenings and several days of a small site at random, judged by books of where everything is.

By hand: ``python -m tests.hard.nights 500 --seed 7`` goes through so many; a fault is printed with the fewest acts
that lead to it.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

from picklist.documents import write_plan
from picklist.evening import crew_workbook, usage
from picklist.plan import make_plan
from picklist.store import state
from picklist.tasks import build
from picklist.tasks.errors import WrongUse, refusals
from tests.hard.books import JudgedWrongError
from tests.hard.shifts import ACTS, Shifts
from tests.kept import in_outline

Step = tuple[str, int, int, int]


def steps_of(seed: int, many: int) -> list[Step]:
    """Acts at random, the first of them a build; the numbers say of which case, cart or day, and how."""
    random = Random(seed)
    names = ["build", *random.choices(list(ACTS), list(ACTS.values()), k=many)]
    return [(name, *(random.randrange(60) for _ in range(3))) for name in names]  # type: ignore[misc]


def go(steps: Sequence[Step]) -> tuple[str, list[str]]:
    """What is wrong after one of the acts, empty when nothing is; and what was done, line by line."""
    memory = Path("/dev/shm")
    with TemporaryDirectory(prefix="nights-", dir=memory if memory.is_dir() else None) as place:
        shifts, course = Shifts(Path(place)), list[str]()
        for name, *how in steps:
            try:
                with refusals():
                    course += [f"{shifts.now:%a %H:%M} {said}"] if (said := shifts.act(name, *how)) else []
            except WrongUse as refused:
                course.append(f"{shifts.now:%a %H:%M} {name} is refused: {refused}")
            except JudgedWrongError as wrong:
                return str(wrong), [*course, f"{shifts.now:%a %H:%M} {name}: {wrong}"]
            except Exception as bug:
                return f"{type(bug).__name__}: {bug}", [*course, traceback.format_exc()]
        return "", course


def fewest(steps: list[Step], fault: str, still: Callable[[list[Step]], str] = lambda some: go(some)[0]) -> list[Step]:
    """The acts without those that are not needed to go wrong by the same rule."""
    rule = fault.partition(":")[0]
    share = max(1, len(steps) // 2)
    while share:
        at = 0
        while at < len(steps):
            fewer = steps[:at] + steps[at + share :]
            if still(fewer).partition(":")[0] == rule:
                steps = fewer
            else:
                at += share
        share //= 2
    return steps


@contextmanager
def quickly() -> Iterator[None]:
    """Without sheets, workbooks, board and remedies, into which most of a build's time goes."""
    import pytest

    def plain(site: Any, problems: Any, order: Any, *rest: Any) -> Any:
        return make_plan(site, problems, replace(order, with_remedies=False), *rest)

    with pytest.MonkeyPatch.context() as patch, in_outline():
        patch.setattr(build, "make_plan", plain)
        for room, name in ((crew_workbook, "form_bytes"), (usage, "form_bytes"), (write_plan, "workbook_bytes")):
            patch.setattr(room, name, lambda *_: b"a workbook")
        patch.setattr(write_plan, "board_html", lambda *_: "a board")
        patch.setattr(os, "fsync", lambda _: None)
        patch.setattr(state, "ON_THE_DISK", "OFF")
        yield


def main() -> int:
    """Go through many nights; 1 if anything was wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.hard.nights", description=__doc__)
    parser.add_argument("nights", type=int, help="how many times from the start")
    parser.add_argument("--seed", type=int, default=1, help="of the first; the next has one more")
    parser.add_argument("--acts", type=int, default=35, help="how many acts each")
    parser.add_argument("--say", action="store_true", help="print what was done where nothing is wrong, too")
    said = parser.parse_args()
    rules: Counter[str] = Counter()
    begun = time.monotonic()
    with quickly():
        for seed in range(said.seed, said.seed + said.nights):
            steps = steps_of(seed, said.acts)
            fault, course = go(steps)
            if fault:
                rules[rule := fault.partition(":")[0]] += 1
                few = fewest(steps, fault) if rules[rule] <= 2 else steps
                fault, course = go(few)
                course = [*course, str(few)] if few != steps else []
            if fault or said.say:
                sys.stdout.write("\n  ".join([f"seed {seed}: {fault or 'nothing is wrong'}", *course]) + "\n\n")
                sys.stdout.flush()
    took = time.monotonic() - begun
    sys.stdout.write(f"{said.nights} nights of {said.acts} acts in {took:.0f} s: {dict(rules) or 'nothing wrong'}\n")
    return int(bool(rules))


if __name__ == "__main__":
    sys.exit(main())
