"""Routes: the network of steps that makes a used set usable again, and when stations work."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, time
from enum import StrEnum

from picklist.problems import NOWHERE, Where


class StepOnlyFor(StrEnum):
    """Which sets take a step."""

    ALL = ""
    IMPLANTS = "implants"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A step of a route. ``after`` names steps that must end before it begins.

    ``usual_minutes`` include normal waiting, ``least_minutes`` are what the process needs.
    ``station`` is the equipment or crew that does it (empty: needs none, as cooling);
    ``run`` is a departure to wait for, after which the step takes its minutes.
    ``in_room``: starts in the room, so the transport to decontamination is not added.
    ``cycle`` tells programs that may not share a load; ``temperature_c``, ``exposure_min``
    and ``drying_min`` document a sterilizer cycle for the check against published minima.
    """

    name: str
    after: tuple[str, ...] = ()
    usual_minutes: int
    least_minutes: int
    station: str = ""
    run: str = ""
    only_for: StepOnlyFor = StepOnlyFor.ALL
    in_room: bool = False
    cycle: str = ""
    temperature_c: float | None = None
    exposure_min: int | None = None
    drying_min: int | None = None
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """Steps in an order in which each is after those that it waits for."""

    id: str
    steps: tuple[Step, ...]
    where: Where = field(default=NOWHERE, compare=False, repr=False)

    @property
    def waits_for_implants(self) -> bool:
        """Whether it has a step that only sets with implants take."""
        return any(step.only_for is StepOnlyFor.IMPLANTS for step in self.steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A kind of equipment or crew.

    ``start_every``: minutes between fixed starts counted from midnight wall time
    (0: any time), ``start_times``: fixed wall times instead. ``past_closing``: a cycle
    started before closing may end after it and waits unloaded until opening.
    ``longest_wait``: minutes it may wait for a fuller load.
    """

    id: str
    machines: int = 1
    per_load: int = 1
    start_every: int = 0
    start_times: tuple[time, ...] = ()
    past_closing: bool = False
    longest_wait: int = 0
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkPeriod:
    """When a station works on a weekday (0 = Monday); ``closes`` at or before ``opens`` runs past midnight."""

    station: str
    weekday: int
    opens: time
    closes: time
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure:
    """A transport run's departure on a weekday (0 = Monday)."""

    run: str
    weekday: int
    leaves: time
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Holiday:
    """A day on which a station (empty: every station and run) does not work."""

    day: date
    station: str = ""
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Transfer:
    """How a set or its cart gets from one building to another: minutes, after a run if one is named."""

    from_building: str
    to_building: str
    minutes: int
    run: str = ""
    where: Where = field(default=NOWHERE, compare=False, repr=False)
