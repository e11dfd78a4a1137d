"""The department as a whole: predicted runs of sets, loads, queues, and chances."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from picklist.clock import minutes_between
from picklist.model.uses import Pace, ReadyTime, Reuse, received_at


class WaitKind(StrEnum):
    """What a set waits for at a step."""

    RUN = "departure of a transport run"
    START = "fixed start of a station"
    OPENING = "opening of a station"
    MACHINE = "free machine"
    FULLER = "fuller load"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """Minutes for one thing: a run or a station by name, at a machine of it, or until a moment."""

    kind: WaitKind
    minutes: int
    name: str
    machine: int = 0
    until: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRun:
    """One step of one set in the forward run; ``waited`` minutes in all, and in ``waits`` what for, in order."""

    step: str
    station: str
    machine: int
    arrives: datetime
    begins: datetime
    ends: datetime
    waited: int
    waits: tuple[Wait, ...] = ()
    queued: int = 0  # of these, minutes that the station would not have cost a set alone
    load: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetRun:
    """A set on its way through the department. ``due`` is None when nothing waits for it in the horizon."""

    set_id: str
    tray: str
    from_case: str
    for_case: str
    released: datetime
    ready: datetime
    due: datetime | None
    late: int
    alone_ready: datetime
    steps: tuple[StepRun, ...]

    @property
    def received(self) -> datetime:
        """When the set is in decontamination."""
        return received_at(self.released, ((one.step, one.ends) for one in self.steps))


def headline(reuse: Reuse | None, run: SetRun | None) -> ReadyTime:
    """When a set is ready for its next use: at usual pace, or in today's queue where that is later.

    One that no use waits for has its run alone. Raises ValueError without either.
    """
    if run is not None and (reuse is None or run.ready > reuse.ready):
        return ReadyTime(at=run.ready, pace=Pace.QUEUE, slack=minutes_between(run.ready, run.due or run.ready))
    if reuse is None:
        raise ValueError("neither a reuse nor a run")
    return ReadyTime(at=reuse.ready, pace=Pace.USUAL, slack=reuse.slack)


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Sets that go together in one machine at one time."""

    id: str
    station: str
    machine: int
    cycle: str
    begins: datetime
    ends: datetime
    sets: tuple[str, ...]
    first_due: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StationHour:
    """A station over a quarter of an hour: machines busy and sets that wait at its start."""

    station: str
    begins: datetime
    busy: float
    waiting: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DepartmentRun:
    """The forward run of the whole department.

    ``held``: stations, and the minutes that each holds a load for a fuller one in this run.
    """

    rule: str
    held: tuple[tuple[str, int], ...] = ()
    runs: tuple[SetRun, ...] = ()
    loads: tuple[Load, ...] = ()
    hours: tuple[StationHour, ...] = ()
    greatest_lateness: int = 0

    def by_wait(self) -> dict[tuple[str, str], SetRun]:
        """The runs that a case waits for, by set and case."""
        return {(one.set_id, one.for_case): one for one in self.runs if one.for_case}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReuseChance:
    """How often a reuse fails over the draws; lateness in minutes among all draws.

    ``fails`` at the pace that the plan says for it, ``fails_hurried`` if this set were hurried all the way.
    """

    set_id: str
    giver: str
    waiter: str
    fails: float
    expected_late: float
    late_p90: float
    blame: str
    fails_hurried: float | None = None  # not drawn in a plan of an older version


@dataclass(frozen=True, slots=True, kw_only=True)
class Help:
    """What would help most: a purchase or change and the share of failing draws that it saves."""

    text: str
    draws_saved: int
    share_saved: float


class MinutesFrom(StrEnum):
    """What the spread of a case's minutes was taken from, the narrowest first."""

    SURGEON = "surgeon"
    PROCEDURE = "procedure"
    SITE = "site"
    PUBLISHED = "published"
    SETTING = "setting"


class LatenessFrom(StrEnum):
    """What a spread of late starts or arrivals was taken from."""

    PAST = "past cases"
    PUBLISHED = "published"
    ASSUMED = "assumed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lateness:
    """How often something is late, and by how much then: lognormal minutes, half of them below ``median``.

    ``sigma``: standard deviation of their logarithm; ``cases``: how many past cases it was fitted on.
    """

    share: float
    median: float
    sigma: float
    source: LatenessFrom
    cases: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnFrom:
    """What the draws were made from.

    ``minutes``: how many cases of the plan have their spread from where; ``variation``: standard deviation over
    mean of case minutes where too few are past; ``first`` and ``later``: starts of the first case of a room and
    of later ones; ``arrivals``: of sets that are away or on loan, None where the plan uses none.
    """

    minutes: tuple[tuple[MinutesFrom, int], ...]
    variation: float
    first: Lateness
    later: Lateness
    arrivals: Lateness | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceReport:
    """The draws' result, with the seed and what was drawn from (None in a plan of an older version)."""

    draws: int
    seed: int
    drawn_from: DrawnFrom | None = None
    reuses: tuple[ReuseChance, ...] = ()
    helps: tuple[Help, ...] = ()
