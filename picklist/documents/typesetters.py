"""Many sheets set at once, in processes of their own: they use all processors, and their memory ends with them."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import asdict
from datetime import datetime
from functools import partial
from queue import SimpleQueue
from typing import TypeAlias

from picklist.documents.pages import Sheet, draw
from picklist.own_process import EndedError, OwnProcess, answer_all, processes, worth_having

WORTH_STARTING = 200_000  # characters of data: two seconds of setting; two processes start in a sixth of that
ENDED = (
    "a part of picklist that sets pages was ended from outside, which happens where memory is short; its pages were "
    "set in another way and are complete"
)
HEAVY = 40_000  # characters of the data of a sheet after which its process ends, for another with memory given back

Say = Callable[[str], None]
Free: TypeAlias = "SimpleQueue[_Typesetter | None]"  # the processes that are not setting a sheet; None for a lost one


def draw_all(
    sheets: Sequence[Sheet], progress: Say = lambda _: None, workers: int = 0, notice: Say = lambda _: None
) -> list[bytes]:
    """The PDFs of some sheets, drawn side by side; ``progress`` gets each file as it is done.

    ``workers`` 0 takes one for each processor. Much work is done in processes, little in threads. Neither changes
    a byte. A sheet whose process was ended from outside is drawn here, and ``notice`` says so once.
    """
    sizes = [len(json.dumps(sheet.data)) for sheet in sheets]
    workers = workers or worth_having()
    with (
        processes(workers if sum(sizes) >= WORTH_STARTING else 0, _Typesetter) as running,
        ThreadPoolExecutor(workers) as pool,
    ):
        set_one = partial(_set_by_one, _queue_of(running), notice) if running else draw
        longest_first = sorted(range(len(sheets)), key=lambda n: -sizes[n])
        setting = {pool.submit(set_one, sheets[n]): n for n in longest_first}
        drawn = [b""] * len(sheets)
        try:
            for done in as_completed(setting):
                drawn[setting[done]] = done.result()
                progress(sheets[setting[done]].file)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    return drawn


def _queue_of(running: list[_Typesetter]) -> Free:
    free: Free = SimpleQueue()
    for one in running:
        free.put(one)
    return free


def _set_by_one(free: Free, notice: Say, sheet: Sheet) -> bytes:
    """The pages of a sheet from the next process that is free; what cannot be had from it is drawn here."""
    typesetter = free.get()
    try:
        if typesetter:
            return typesetter.set(sheet)
    except (EndedError, OSError):
        typesetter = None
        notice(ENDED)
    finally:
        free.put(typesetter)
    return draw(sheet)


class _Typesetter(OwnProcess):
    """A process that sets one sheet after the other."""

    def __init__(self) -> None:
        super().__init__(__name__)

    def set(self, sheet: Sheet) -> bytes:
        """The pages of a sheet from the process. Raises EndedError, and OSError."""
        asked = json.dumps(asdict(sheet) | {"made": sheet.made.isoformat()}).encode()
        pdf = self.ask(asked)
        if len(asked) > HEAVY:
            self.start_again()
        return pdf


def serve() -> None:
    """Set the sheets that come in, until no more do."""
    answer_all(_set)


def _set(asked: bytes) -> bytes:
    words = json.loads(asked)
    return draw(Sheet(**words | {"made": datetime.fromisoformat(words["made"])}))
