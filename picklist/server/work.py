"""Long work beside the pages: one piece of a kind at a time, each with its stage to look at."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from threading import Event, Lock, Thread
from typing import Any

from picklist.tasks.crash import report_crash
from picklist.tasks.errors import WrongUse, refusals
from picklist.wording.steps import WorkStep

KEPT = 40  # finished pieces that can still be looked at


class Lane(StrEnum):
    """Work of one lane is done one after the other; the lanes run side by side."""

    PLAN = "plan"
    CHECK = "check"


@dataclass(slots=True, kw_only=True, eq=False)
class LongTask:
    """A piece of long work; ``refused`` says why it came to nothing, ``next`` is the page to look at afterwards."""

    id: str
    title: str
    lane: Lane
    next: str
    stage: str = "Waiting"
    share: float | None = None  # how much of what it is at is done; None where that is not counted
    first: bool = False  # there is something to look at before the work is done
    result: object = None
    refused: str = ""
    done: Event = field(default_factory=Event)
    about: dict[str, Any] = field(default_factory=dict)  # what the page that follows is to know of it

    @property
    def forgotten(self) -> bool:
        """Whether it came to something that is no longer kept."""
        return not self.running and not self.refused and self.result is None

    @property
    def running(self) -> bool:
        """Whether it is still at it."""
        return not self.done.is_set()


Progress = Callable[[str], None]


class Workshop:
    """All work of one run of the page."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._lanes = {lane: Lock() for lane in Lane}
        self._works: dict[str, LongTask] = {}

    def start(
        self, title: str, lane: Lane, doing: Callable[[Progress], object], after: str, *, once: bool = False
    ) -> LongTask:
        """Begin a piece of work; with ``once``, one of the same title that still runs is given back instead.

        ``after`` is the page to look at then, with ``{}`` for the number of the work.
        """
        with self._lock:
            running = self.running_titled(title) if once else None
            if running:
                return running
            number = str(len(self._works) + 1)
            work = LongTask(id=number, title=title, lane=lane, next=after.format(number))
            self._works[work.id] = work
            self._forget_old()
        Thread(target=self._do, args=(work, doing), daemon=True, name=f"work {work.id}").start()
        return work

    def find(self, number: str) -> LongTask | None:
        """A piece of work by its number."""
        return self._works.get(number)

    def running(self, lane: Lane) -> LongTask | None:
        """What a lane is at, if anything."""
        return next((work for work in list(self._works.values()) if work.lane is lane and work.running), None)

    def running_titled(self, title: str) -> LongTask | None:
        """The piece of work of that title that still runs, if any."""
        return next((work for work in list(self._works.values()) if work.title == title and work.running), None)

    def _do(self, work: LongTask, doing: Callable[[Progress], object]) -> None:
        def tell(stage: str) -> None:
            work.stage, work.share = stage, stage.share if isinstance(stage, WorkStep) else None

        try:
            with self._lanes[work.lane], refusals():
                tell("Starting")
                work.result = doing(tell)
        except WrongUse as wrong:
            work.refused = str(wrong)
        except Exception as error:  # a fault of the program must not leave a page waiting for ever
            work.refused = report_crash(error)
        finally:
            work.done.set()

    def _forget_old(self) -> None:
        finished = [work for work in self._works.values() if not work.running]
        for work in finished[: max(0, len(finished) - KEPT)]:
            work.result = None
