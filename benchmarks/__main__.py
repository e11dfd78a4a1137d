"""Run the measurements: ``python -m benchmarks [--small|--large] [NAME ...]``, such as ``reading`` or ``remedies``.

One table says what each work costs against its floor; a run of all is also added to ``history.md``. With ``--small``
each runs on a small case, to see that it runs; its figures then say nothing and are not kept. With ``--large`` some
take a region, or more days.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from time import perf_counter

from benchmarks import (
    bench_allocate,
    bench_calibrate,
    bench_chance,
    bench_commands,
    bench_department,
    bench_documents,
    bench_messages,
    bench_reading,
    bench_remedies,
)
from benchmarks.measured import Measured, keep, table

ALL = {
    "allocate": bench_allocate.main,
    "calibrate": bench_calibrate.main,
    "chance": bench_chance.main,
    "commands": bench_commands.main,
    "department": bench_department.main,
    "documents": bench_documents.main,
    "messages": bench_messages.main,
    "reading": bench_reading.main,
    "remedies": bench_remedies.main,
}


SIZES = ("--small", "--large")
WITH_LARGE: dict[str, Callable[[], list[Measured]]] = {
    "department": partial(bench_department.main, large=True),
}


def main(words: Sequence[str]) -> None:
    """Run the named measurements, or all."""
    small, large = (size in words for size in SIZES)
    named = [word for word in words if word not in SIZES]
    names = named or list(ALL)
    if unknown := [name for name in names if name not in ALL]:
        sys.exit(f"no measurement is called {', '.join(unknown)}; there are {', '.join(ALL)}")
    rows: list[Measured] = []
    for name in names:
        print(f"== {name}", flush=True)
        began = perf_counter()
        rows += WITH_LARGE[name]() if large and name in WITH_LARGE else ALL[name](small=small)
        print(f"   {perf_counter() - began:.0f} s by the clock", flush=True)
    if rows:
        print(table(rows))
    if rows and not (small or named):
        keep(rows, datetime.now().astimezone())


if __name__ == "__main__":
    main(sys.argv[1:])
