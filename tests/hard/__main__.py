"""By hand: ``python -m tests.hard 1000 --seed 7 [--door PART]`` spoils so many inputs, each fault with its number.

``python -m tests.hard 3 --crash settle`` lets every third write of what has this in its name fail; ``1`` every one.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory, gettempdir

from picklist.documents import pages, typesetters
from tests.hard.acts import ACTS
from tests.hard.crash import Failure
from tests.hard.crashes import course_of, fail_at
from tests.hard.doors import DOORS
from tests.hard.evening import make_evening
from tests.hard.fuzz import PAGE, bound_memory, run


def cache_pages(typeset: Callable[..., bytes]) -> Callable[..., bytes]:
    """Draw each page once: the typesetter's threads do not come along into a child, which would wait for them."""
    drawn: dict[str, bytes] = {}

    def known(sheet: pages.Sheet, *, accessible_only: bool) -> bytes:
        key = repr((pages.sheet_digest(sheet), accessible_only))
        if key not in drawn:
            drawn[key] = typeset(sheet, accessible_only=accessible_only)
        return drawn[key]

    return known


def crash(part: str, step: int) -> int:
    """Let every so many-th write fail in each way; 1 if anything was wrong afterwards."""
    count = 0
    pages.typeset = cache_pages(pages.typeset)
    typesetters.WORTH_STARTING = sys.maxsize
    with TemporaryDirectory(prefix="hard-evening-") as place:
        evening = make_evening(Path(place) / "evening")
        for name, act in ACTS.items():
            if part not in name:
                continue
            with course_of(act, evening) as course:
                numbers = range(1, len(course.points) + 1, step)
                sys.stdout.write(f"{name}: {len(numbers)} of {len(course.points)} points\n")
                for one in fail_at(course, numbers, Failure):
                    count += 1
                    sys.stdout.write(f"  {one}\n")
                sys.stdout.flush()
    return int(count > 0)


def main() -> int:
    """Run, and print each fault; 1 if there was any."""
    parser = argparse.ArgumentParser(prog="python -m tests.hard", description=__doc__)
    parser.add_argument("inputs", type=int, help="how many")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="the number of the first, to see one fault again")
    parser.add_argument("--door", default="", help=f"only doors with this in their name: {', '.join((*DOORS, PAGE))}")
    parser.add_argument(
        "--keep", type=Path, default=Path(gettempdir()) / "hard", help="where inputs of faults are kept"
    )
    parser.add_argument("--crash", help=f"let writes fail instead, of: {', '.join(ACTS)}")
    said = parser.parse_args()
    if said.crash is not None:
        return crash(said.crash, said.inputs)
    doors = [name for name in (*DOORS, PAGE) if said.door in name]
    if not doors:
        parser.error(f"no door has {said.door} in its name")
    with TemporaryDirectory(prefix="hard-evening-") as place:
        evening = make_evening(Path(place) / "evening")
        bound_memory()
        count = 0
        for one in run(evening, doors, said.seed, range(said.first, said.first + said.inputs), said.keep):
            count += 1
            sys.stdout.write(f"{one}\n\n")
            sys.stdout.flush()
    sys.stdout.write(f"{said.inputs} inputs at {len(doors)} doors, seed {said.seed}: {count} faults\n")
    return int(count > 0)


if __name__ == "__main__":
    sys.exit(main())
