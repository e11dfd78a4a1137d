"""Uses of trays, the sets that serve them, and the deadlines of each reuse."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from picklist.model.schedule import Side


class Pace(StrEnum):
    """Which minutes of a route count: the usual ones, the least, or what the department's run makes of them."""

    USUAL = "usual"
    LEAST = "least"
    QUEUE = "queue"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyTime:
    """When a set is ready, at which pace, and the minutes that are then to spare (negative: late)."""

    at: datetime
    pace: Pace
    slack: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """One case needing one set of one tray.

    ``needed``: when the cart must be complete; ``starts``/``ends``: wheels-in and the moment the
    sets are freed; ``leaves_room``; ``received``: in decontamination. ``on_hold``: may stay
    unopened. ``copy`` numbers several sets of one tray for one case from 1. ``no_latex``: the case has
    a latex alert, so that no tray with latex may stand in.
    """

    case: str
    tray: str
    copy: int
    needed: datetime
    starts: datetime
    ends: datetime
    leaves_room: datetime
    received: datetime
    weight: int = 1
    on_hold: bool = False
    side: Side | None = None
    size: str = ""
    building: str = ""
    no_latex: bool = False

    @property
    def key(self) -> str:
        """A name for the use that is unique within a plan."""
        return f"{self.case}/{self.tray}/{self.copy}"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepTime:
    """When a step begins and ends in a walk."""

    step: str
    station: str
    begins: datetime
    ends: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """A route walked in time: forwards from ``released`` to ``ready``, or backwards."""

    released: datetime
    ready: datetime
    steps: tuple[StepTime, ...]


TRANSFER_BACK = "transfer back to "


def received_at(released: datetime, steps: Iterable[tuple[str, datetime]]) -> datetime:
    """When a set is in decontamination: once its way back from another building is over, else as it is released.

    ``steps`` are the names and ends of the steps that follow on its release.
    """
    return next((ends for step, ends in steps if step.startswith(TRANSFER_BACK)), released)


class Act(StrEnum):
    """The acts of a turnaround that are not steps of a route."""

    OUT_OF_ROOM = "out of the room"
    INTO_DECONTAMINATION = "into decontamination"
    ARRIVED = "here"  # of a set that is away or on loan
    OFF_CART = "off its cart"  # of a set that is on a cart which does not need it
    ON_CART = "on the cart"


def start_of(step: str, run: str = "") -> str:
    """How the start of a step is named among the acts; a step with a ``run`` leaves with it."""
    return f"{step} leaves on {run}" if run else f"start {step}"


def end_of(step: str) -> str:
    """How the end of a step is named among the acts."""
    return f"{step} done"


@dataclass(frozen=True, slots=True, kw_only=True)
class Deadline:
    """The latest moment of one act so that the set is still ready.

    ``act`` is what is done (``out of the room``, ``into decontamination``, ``start wash``,
    ``on the cart``); ``latest`` by usual minutes, ``last_resort`` by least minutes.
    """

    act: str
    station: str
    latest: datetime
    last_resort: datetime

    def is_start_of(self, step: str) -> bool:
        """Whether this is the start of a step, by itself or as it leaves with a run."""
        return self.act == start_of(step) or self.act.startswith(f"{step} leaves on ")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reuse:
    """A set that must be made usable for a use: after another case, or from its state now.

    ``giver`` is the case that gives it back (empty: from its state now); ``from_state`` says what
    that state is. ``released`` is receipt in decontamination (or now), or where a way back from another
    building begins: then the first step of the walk. ``slack`` and
    ``least_slack`` in minutes by usual and least minutes, negative when late.
    ``break_even`` minutes (and per cent of its planned minutes) the giver may overrun.
    """

    set_id: str
    tray: str
    giver: str
    waiter: str
    waiter_use: str
    from_state: str
    released: datetime
    ready: datetime
    least_ready: datetime
    needed: datetime
    slack: int
    least_slack: int
    deadlines: tuple[Deadline, ...]
    walk: Walk
    break_even: int | None = None
    break_even_percent: int | None = None
    if_unopened_ready: datetime | None = None  # giver holds it: ready after put-back
    if_unopened_slack: int | None = None
    if_unopened_by: datetime | None = None  # when it must then leave the room

    def deadline_of(self, act: str) -> Deadline | None:
        """The deadline of one act, if the set has that act on its way."""
        return next((one for one in self.deadlines if one.act == act), None)

    @property
    def received(self) -> datetime:
        """When the set is in decontamination."""
        return received_at(self.released, ((one.step, one.ends) for one in self.walk.steps))

    @property
    def hangs_on_opening(self) -> bool:
        """Whether only opening the set, which its giver has on hold, can make it late."""
        return self.if_unopened_slack is not None and self.if_unopened_slack >= 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """Which set serves a use; ``set_id`` empty when none can. ``stand_in`` when not the tray asked for.

    ``expected`` is when the set is there (None: it is on the shelf now); ``slack`` minutes to spare.
    """

    use: Use
    set_id: str
    tray_given: str
    stand_in: bool
    expected: datetime | None
    slack: int | None
    late: int = 0
