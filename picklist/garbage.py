"""Python's search for what nothing leads to any more, left out where all that is made stays."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def no_search_for_garbage() -> Iterator[None]:
    """All that is made meanwhile stays: looking through it again and again takes long and finds nothing."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()
