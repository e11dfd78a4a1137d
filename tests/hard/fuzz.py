"""Spoiled inputs brought to their doors, any number of them: each is answered, or it is a fault with its seed."""

from __future__ import annotations

import resource
import signal
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from random import Random

from tests.hard.doors import DOORS, Answer, Door, faults, faults_of_pages, fill_in, run_door, understood_otherwise
from tests.hard.evening import Evening
from tests.hard.spoil import spoil

CPU = 60.0  # seconds of this process's own time after which one input counts as a hang; the slowest takes under 2
ROOM = 1 << 30  # bytes that one input may need beyond what the program takes anyway
PAGE = "page"


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A fault: the door, the number of the run, and what happened; the seed and both give the input again."""

    door: str
    number: int
    what: str

    def __str__(self) -> str:
        """One fault as it is told."""
        return f"{self.door}, number {self.number}: {self.what}"


class TooLongError(BaseException):
    """One input took too long; no ``except Exception`` of the program may take it for its own."""


@contextmanager
def bounded() -> Iterator[None]:
    """Bound the time and the memory of one input."""

    def stop(_signal: int, _frame: object) -> None:
        raise TooLongError

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, CPU)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def bound_memory() -> None:
    """Let nothing take more than ``ROOM`` beyond what this process has by now; for runs by hand."""
    pages = int(Path("/proc/self/statm").read_text().split()[0])
    most = pages * resource.getpagesize() + ROOM
    resource.setrlimit(resource.RLIMIT_AS, (most, most))


def input_of(door: Door, sound: bytes, rng: Random) -> tuple[bytes, bool]:
    """A spoiled input, and whether it only says the same in another way."""
    if door.dresses and rng.random() < 0.2:
        return rng.choice(door.dresses)(sound, rng), True
    return spoil(sound, rng, door.ways), False


def sound_answer(evening: Evening, name: str) -> Answer:
    """What a door understands of its sound input."""
    return run_door(DOORS[name], evening, (evening.place / DOORS[name].file).read_bytes())


def try_one(name: str, evening: Evening, rng: Random) -> tuple[bytes, str]:
    """Bring one spoiled input to a door; the input, and what is wrong, if anything."""
    door = DOORS[name]
    data, dressed = input_of(door, (evening.place / door.file).read_bytes(), rng)
    try:
        with bounded():
            answer = run_door(door, evening, data)
    except (Exception, TooLongError):
        return data, traceback.format_exc()
    wrong = list(faults(answer))
    if dressed and understood_otherwise(sound_answer(evening, name), answer):
        wrong.append("the same, written in another way, is understood otherwise, and nothing is said")
    return data, "; ".join(wrong)


def try_page(evening: Evening, rng: Random, forms: int, *, slow: bool = False) -> list[str]:
    """Fill in so many forms of one evening's page at random; what was a fault of the program."""
    found: list[str] = []
    with evening.copy(papers=True) as own, faults_of_pages() as told:
        desk = own.desk()
        for _ in range(forms):
            try:
                with bounded():
                    sent = fill_in(desk, rng, slow=slow)
            except (Exception, TooLongError):
                sent = traceback.format_exc()
                found.append(sent)
            found += [f"{sent}\n{one}" for one in told]
            told.clear()
        desk.clear()
    return found


def run(evening: Evening, doors: list[str], seed: int, numbers: range, keep: Path | None = None) -> Iterator[Found]:
    """So many inputs, one door after the other in turn; each fault, its input kept in ``keep``."""
    for number in numbers:
        name = doors[number % len(doors)]
        rng = Random(f"{seed} {name} {number}")
        if name == PAGE:
            yield from (Found(door=name, number=number, what=one) for one in try_page(evening, rng, 5, slow=bool(keep)))
            continue
        data, wrong = try_one(name, evening, rng)
        if wrong:
            if keep is not None:
                keep.mkdir(parents=True, exist_ok=True)
                (keep / f"{number} {Path(DOORS[name].file).name}").write_bytes(data)
            yield Found(door=name, number=number, what=wrong)
