"""Python's search for what nothing leads to any more, left out where all stays: it takes a fifth of the time there."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Lock


@dataclass(slots=True)
class _LeftOut:
    """How many, in any threads, want the search left out now, and whether it is to go on after the last of them."""

    lock: Lock = field(default_factory=Lock)
    count: int = 0
    goes_on: bool = True


_LEFT_OUT = _LeftOut()


@contextmanager
def no_search_for_garbage() -> Iterator[None]:
    """All that is made meanwhile stays: looking through it again and again takes long and finds nothing."""
    with _LEFT_OUT.lock:
        if not _LEFT_OUT.count:
            _LEFT_OUT.goes_on = gc.isenabled()
            gc.disable()
        _LEFT_OUT.count += 1
    try:
        yield
    finally:
        with _LEFT_OUT.lock:
            _LEFT_OUT.count -= 1
            if not _LEFT_OUT.count and _LEFT_OUT.goes_on:
                gc.enable()
