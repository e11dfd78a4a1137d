"""Figures of one run: work against an honest floor in the same run, as a table that is kept."""

from __future__ import annotations

import os
import platform
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import version
from pathlib import Path
from resource import RUSAGE_CHILDREN, RUSAGE_SELF, getrusage
from subprocess import DEVNULL, Popen

HISTORY = Path(__file__).with_name("history.md")
_LEAST = 1e-4  # seconds: less is not measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Work in processor seconds, against ``floor`` seconds of ``against`` (0: nothing to hold it against).

    ``megabytes``: the most memory of any one process of the program that did it, where it is a program of its own.
    """

    work: str
    seconds: float
    floor: float = 0.0
    against: str = ""
    megabytes: float = 0.0

    @property
    def ratio(self) -> float | None:
        """How many times the floor it takes; None without one."""
        return self.seconds / max(self.floor, _LEAST) if self.against else None

    def cells(self) -> tuple[str, ...]:
        """As a row of the table."""
        times = "" if self.ratio is None else f"{self.ratio:.2g}" if self.ratio < 100 else f"{self.ratio:.0f}"
        floor = f"{self.against}, {self.floor:.2g} s" if self.against else ""
        return self.work, f"{self.seconds:.2g} s", floor, times, f"{self.megabytes:.0f} MB" if self.megabytes else ""


def processor_seconds(task: Callable[[], object]) -> float:
    """Processor seconds of a task in this process, with all its threads and the processes that it waited for."""
    began = _used()
    task()
    return _used() - began


def _used() -> float:
    return sum(one.ru_utime + one.ru_stime for one in (getrusage(RUSAGE_SELF), getrusage(RUSAGE_CHILDREN)))


def run_program(words: Sequence[str]) -> tuple[float, float]:
    """Processor seconds and most megabytes of a program that is run; RuntimeError when it does not start or crashes.

    Exit code 1 is an answer: there are conflicts or problems. Modules are compiled once, as where it is installed.
    """
    installed = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    with Popen(words, stdout=DEVNULL, stderr=DEVNULL, env=installed) as running:
        _, status, used = os.wait4(running.pid, 0)
        running.returncode = os.waitstatus_to_exitcode(status)
    if running.returncode not in (0, 1):
        raise RuntimeError(f"{' '.join(words)} ended with {running.returncode}")
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def table(rows: Iterable[Measured]) -> str:
    """All figures as one table."""
    head = ("work", "processor", "floor in the same run", "times the floor", "memory")
    lines = [head, tuple("---" for _ in head), *(row.cells() for row in rows)]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def keep(rows: Sequence[Measured], moment: datetime, history: Path = HISTORY) -> None:
    """Add a table to those kept, with its date, the versions and the machine; the newest is the last."""
    packages = ", ".join(
        f"{name} {version(name)}" for name in ("picklist", "highspy", "numpy", "typst", "python-calamine")
    )
    machine = (
        f"{os.cpu_count()} processors, {platform.machine()}, {platform.system()}, Python {platform.python_version()}"
    )
    load = f"{os.getloadavg()[0]:.0f} programs at work"
    with history.open("a", encoding="utf-8") as file:
        file.write(f"\n## {moment:%Y-%m-%d %H:%M}\n\n{packages}; {machine}; {load}\n\n{table(rows)}\n")
