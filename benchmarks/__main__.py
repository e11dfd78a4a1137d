"""Run the measurements: ``python -m benchmarks [--small] [NAME ...]``, such as ``reading`` or ``remedies``.

With ``--small`` each runs on a small case, to see that it runs; its figures then say nothing.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

from benchmarks import (
    bench_allocate,
    bench_calibrate,
    bench_chance,
    bench_department,
    bench_documents,
    bench_messages,
    bench_reading,
    bench_remedies,
)

ALL = {
    "allocate": bench_allocate.main,
    "calibrate": bench_calibrate.main,
    "chance": bench_chance.main,
    "department": bench_department.main,
    "documents": bench_documents.main,
    "messages": bench_messages.main,
    "reading": bench_reading.main,
    "remedies": bench_remedies.main,
}


def main(words: Sequence[str]) -> None:
    """Run the named measurements, or all."""
    names = [word for word in words if word != "--small"] or list(ALL)
    if unknown := [name for name in names if name not in ALL]:
        sys.exit(f"no measurement is called {', '.join(unknown)}; there are {', '.join(ALL)}")
    for name in names:
        print(f"== {name}")
        ALL[name](small="--small" in words)


if __name__ == "__main__":
    main(sys.argv[1:])
