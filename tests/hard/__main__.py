"""``python -m tests.hard 1000 --seed 7 [--door PART]``: so many spoiled inputs by hand, each fault with its number."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from tempfile import TemporaryDirectory, gettempdir

from tests.hard.doors import DOORS
from tests.hard.evening import make_evening
from tests.hard.fuzz import PAGE, bound_memory, run


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
    said = parser.parse_args()
    doors = [name for name in (*DOORS, PAGE) if said.door in name]
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
