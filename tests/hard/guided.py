"""By hand: ``python -m tests.hard.guided 300 [--reader scans]`` lets coverage lead the inputs of each reader.

So many seconds for each reader, in a process of its own. atheris is no dependency: install it in an environment of
your own. Half of the inputs are spoiled by ``spoil.py``, as a workbook altered byte by byte is hardly ever one; the
other half byte by byte. Whatever reaches a new line of the program is altered further.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

SLOWEST = 60  # seconds for one input, on the clock; to follow coverage makes the program five times as slow
ROOM = 2048  # MB for the whole process; the program alone takes 300
LONGEST = 1 << 17  # bytes of an input


def lead(name: str, seconds: int, keep: Path) -> None:
    """Read inputs until the time is over or one is a fault; libFuzzer ends this process."""
    atheris: Any = import_module("atheris")
    with atheris.instrument_imports(include=["picklist"], enable_loader_override=False):
        readers = import_module("tests.hard.readers")
        evenings = import_module("tests.hard.evening")
    spoil = import_module("tests.hard.spoil")
    with TemporaryDirectory(prefix="hard-guided-") as place:
        evening = evenings.make_evening(Path(place) / "evening")
        with readers.at_desk(evening) as desk:
            reader = readers.READERS[name]
            sound = readers.sound_input(desk, reader)
            corpus = Path(place) / "corpus"
            corpus.mkdir()
            (corpus / "sound").write_bytes(sound)
            readers.read_one(desk, name, sound)

            def other(data: bytes, most: int, seed: int) -> bytes:
                rng = Random(seed)
                made = bytes(atheris.Mutate(data, most)) if rng.random() < 0.5 else spoil.spoil(data, rng, reader.ways)
                return made[:most]

            words = [
                *(sys.argv[0], f"-max_total_time={seconds}", f"-timeout={SLOWEST}", f"-rss_limit_mb={ROOM}"),
                *(f"-max_len={LONGEST}", "-print_final_stats=1", "-seed=17", f"-artifact_prefix={keep}/{name}-"),
            ]
            atheris.Setup([*words, str(corpus)], lambda data: readers.read_one(desk, name, data), custom_mutator=other)
            atheris.Fuzz()


def main() -> int:
    """Run, and print of each reader how many inputs it read; 1 if any was a fault."""
    parser = argparse.ArgumentParser(prog="python -m tests.hard.guided", description=__doc__)
    parser.add_argument("seconds", type=int, help="for each reader")
    parser.add_argument("--reader", default="", help="only readers with this in their name")
    parser.add_argument("--keep", type=Path, default=Path("guided"), help="where inputs of faults are kept")
    parser.add_argument("--alone", action="store_true", help=argparse.SUPPRESS)
    said = parser.parse_args()
    said.keep.mkdir(parents=True, exist_ok=True)
    if said.alone:
        lead(said.reader, said.seconds, said.keep)
    faulty = 0
    for name in (one for one in import_module("tests.hard.readers").READERS if said.reader in one):
        words = ["-m", "tests.hard.guided", str(said.seconds), "--reader", name, "--keep", str(said.keep), "--alone"]
        done = subprocess.run([sys.executable, *words], capture_output=True, text=True, check=False)
        count = re.search(r"number_of_executed_units: (\d+)", done.stderr)
        faulty += done.returncode != 0
        sys.stdout.write(f"{name}: {count[1] if count else 'no'} inputs{', A FAULT' if done.returncode else ''}\n")
        sys.stdout.write(done.stderr[-4000:] if done.returncode else "")
        sys.stdout.flush()
    return int(faulty > 0)


if __name__ == "__main__":
    sys.exit(main())
