"""The terms of an allocation: jobs that want a set, copies that may serve, and the answer.

A *job* is a use reduced to whole minutes; a *kind* is a group of sets that may take each
other's place (same tray, side, size and return); a *pool* is a tray, whose kept-ready number
counts over all its kinds; a *place* is a building. Minutes count from any common origin.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum, StrEnum
from operator import itemgetter
from typing import NamedTuple


class Grade(IntEnum):
    """How a set makes it to a job, from best to worst."""

    CLEAN = 0  # by usual minutes
    UNOPENED = 1  # only if the job before leaves it unopened
    RUSH = 2  # only by least minutes


class Level(StrEnum):
    """What allocations are judged by, in this order: a level counts only where all before it are equal.

    Of those that are equally good by all of them the one of the least lots is taken, see ``levels.lots_level``.
    """

    OPEN = "greatest weight of uses that are opened, then their number"
    HELD = "greatest weight of uses on hold, then their number"
    CERTAIN = "fewest uses that hang on a rush or on a tray that stays unopened"
    BUILT = "fewest sets taken off carts that are built"
    EXACT = "fewest stand-ins, then the best of them"
    LATE = "least lateness of what is not served"
    START = "the earlier (or later) start keeps its set, then the tray that it asks for"
    RESERVE = "least depth under what is kept ready"
    SLACK = "fewest minutes to be saved, then the greatest smallest slack, then the least tightness"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """When a set can be at a place: by usual minutes, by least minutes, and if it stayed unopened.

    ``unopened_last`` is the last need that one which stayed unopened may serve, because its record
    ends. ``waits`` is False for a set that is there already, so that it has no slack to lose.
    """

    usual: int
    least: int
    unopened: int | None = None
    waits: bool = True
    unopened_last: int | None = None

    def grade(self, need: int) -> Grade | None:
        """The grade at which the set makes it by ``need``; None when it does not."""
        if self.usual <= need:
            return Grade.CLEAN
        if self.unopened is not None and self.unopened <= need and not self.is_outdated(need):
            return Grade.UNOPENED
        return Grade.RUSH if self.least <= need else None

    def is_outdated(self, need: int) -> bool:
        """Whether the record of a set that stayed unopened ends too soon for a need."""
        return self.unopened_last is not None and need > self.unopened_last

    @property
    def soonest(self) -> int:
        """The first minute at which it makes it at any grade."""
        return min(self.least, self.usual if self.unopened is None else self.unopened)


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """A kind that may serve a job; preference 0 is the tray asked for, greater ones stand in.

    ``most_late``: how many minutes late the job may be and still be done before a set of it goes back (None: any).
    """

    kind: str
    preference: int = 0
    most_late: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One wanted set. ``back`` says by kind and place when the set given to it is ready again, if ever.

    ``group`` joins the jobs of one case for several sets of one tray: it is served when all are.
    ``case`` joins all jobs of a case, which have need, start and place in common. ``start`` orders
    jobs on a tie. ``on_hold``: it may stay unopened.
    ``renews``: kinds whose sets have a new record after it, see ``AllocationQuestion.renewed``.
    ``homes``: when a set of a kind is ready again where it belongs, be that a place of a job or not.
    ``cart``: the copy on its built cart, where one of its options is of that kind; it stays there where nothing has
    it before.
    """

    key: str
    need: int
    start: int
    options: tuple[Option, ...]
    back: Mapping[str, Mapping[str, Ready]]
    place: str = ""
    cart: str = ""
    weight: int = 1
    group: str = ""
    case: str = ""
    on_hold: bool = False
    renews: frozenset[str] = frozenset()
    homes: Mapping[str, int] = field(default_factory=dict)
    _home: dict[str, int | None] = field(default_factory=dict, init=False, compare=False, repr=False)

    @property
    def party(self) -> str:
        """The case that the job belongs to; a job without one is a case of its own."""
        return self.case or self.key

    def kinds(self) -> frozenset[str]:
        """The kinds that may serve it."""
        return frozenset(option.kind for option in self.options)

    def takes(self, kind: str, minutes: int) -> bool:
        """Whether a set of a kind is of use to the job when it comes so many minutes late."""
        return any(one.kind == kind and (one.most_late is None or minutes <= one.most_late) for one in self.options)

    def binds(self, kind: str, minute: int) -> bool:
        """Whether a set of the kind given to this job is not back yet at a minute; for ever when it never is."""
        home = self.home_at(kind)
        return self.need <= minute and (home is None or home > minute)

    def home_at(self, kind: str) -> int | None:
        """When a set of the kind given to this job is ready again, wherever that is; None for never."""
        if kind not in self._home:
            found = [ready.usual for ready in self.back[kind].values()]
            self._home[kind] = min([*found, self.homes[kind]] if kind in self.homes else found, default=None)
        return self._home[kind]


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    """One physical set: when it can first be at each place, with exceptions for single jobs (None: never).

    ``home``: when it is ready where it belongs, be that a place of a job or not (None: nothing is known of it).
    """

    id: str
    kind: str
    first: Mapping[str, Ready]
    exceptions: Mapping[str, Ready | None] = field(default_factory=dict)
    home: int | None = None
    _home: list[int | None] = field(default_factory=list, init=False, compare=False, repr=False)

    def ready_for(self, job: Job) -> Ready | None:
        """When this set, not used before, is ready for the job; None for never."""
        if job.key in self.exceptions:
            return self.exceptions[job.key]
        return self.first.get(job.place)

    def home_at(self, job: Job) -> int | None:
        """When this set, not used before, is ready first, wherever that is; of a set whose record ends, for the job."""
        if job.key in self.exceptions:
            ready = self.exceptions[job.key]
            return None if ready is None else ready.usual
        if not self._home:
            found = [ready.usual for ready in self.first.values()]
            self._home.append(min(found if self.home is None else [*found, self.home], default=None))
        return self._home[0]

    def stands(self, job: Job) -> bool:
        """Whether this set, not used before, is ready somewhere by the job's need: what a floor counts."""
        home = self.home_at(job)
        return home is not None and home <= job.need

    def comes_without_slack(self, job: Job) -> bool:
        """Whether it is not there yet at the job's need, and will be without slack to lose (a set brought)."""
        ready = self.first.get(job.place)
        return ready is not None and not ready.waits and ready.usual > job.need


@dataclass(frozen=True, slots=True, kw_only=True)
class AllocationQuestion:
    """Everything that an allocation depends on.

    ``pools`` names the pool of each kind, ``floors`` the kept-ready number of a pool. ``margin``: less slack
    than this is tight. ``earlier_keeps``: which start keeps its set on a tie. ``renewed``: for a kind whose
    record ends soon the kind that its sets are once they have run their route; a job has both as options.
    """

    jobs: tuple[Job, ...]
    copies: tuple[Copy, ...]
    pools: Mapping[str, str]
    floors: Mapping[str, int] = field(default_factory=dict)
    margin: int = 30
    earlier_keeps: bool = True
    renewed: Mapping[str, str] = field(default_factory=dict)
    _returns: dict[tuple[str, str], list[tuple[int, Job]]] = field(
        default_factory=dict, init=False, compare=False, repr=False
    )

    def kinds(self) -> frozenset[str]:
        """The kinds of which there is, or may come to be, a set."""
        owned = frozenset(copy.kind for copy in self.copies)
        return owned | {self.renewed[kind] for kind in owned & self.renewed.keys()}

    def kind_after(self, job: Job, kind: str) -> str:
        """The kind of a set that comes back from a job."""
        return self.renewed[kind] if kind in job.renews else kind

    def lasting(self, kind: str) -> str:
        """The kind that a kind's sets are in the end: the same for all that a set ever is."""
        return self.renewed.get(kind, kind)

    def returns(self, kind: str, place: str) -> list[tuple[int, Job]]:
        """When sets of a kind are ready at a place after a job, by usual minutes, with that job; in order of time."""
        if (kind, place) not in self._returns:
            back = [(job.back[kind].get(place), job) for job in self.jobs if kind in job.back]
            found = [(ready.usual, job) for ready, job in back if ready is not None]
            self._returns[kind, place] = sorted(found, key=itemgetter(0))
        return self._returns[kind, place]

    def in_order_of_claim(self) -> list[Job]:
        """The jobs in the order in which they keep their sets on a tie."""
        direction = 1 if self.earlier_keeps else -1
        return sorted(self.jobs, key=lambda job: (direction * job.start, job.key))


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenSet:
    """A set for a job: which copy, after which job (empty: as it is now), at which grade and slack.

    ``slack`` is by usual minutes (negative when it takes a rush or an unopened tray); None when
    the set is there already. ``under`` is how many sets the pool falls under its floor.
    """

    job: str
    copy: str
    kind: str
    after: str
    grade: Grade
    slack: int | None
    preference: int = 0
    under: int = 0

    def stays_on(self, cart: str) -> bool:
        """Whether this is the set on a job's built cart, and goes to no other job before."""
        return self.copy == cart and not self.after


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """What an allocation is worth: for each level numbers that are the better the less they are."""

    levels: Mapping[Level, tuple[float, ...]]

    def decides_against(self, other: Score) -> Level | None:
        """The first level at which another allocation is worth something else; None when they are worth the same."""
        return next((level for level in Level if self.levels[level] != other.levels[level]), None)


class NextFreeSet(NamedTuple):
    """A set that comes free after a job's need: so many minutes late, after which job (empty: for the first time).

    They are in order by what they say, the soonest first.
    """

    minutes: int
    kind: str
    copy: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AllocationAnswer:
    """Sets given, in order of the jobs, and for each job without one the set that comes free for it (see ``waits``)."""

    given: tuple[GivenSet, ...]
    waits: Mapping[str, NextFreeSet | None]

    @property
    def unserved(self) -> dict[str, int | None]:
        """For each job without a set the minutes that its soonest set is late; None when none ever comes."""
        return {key: None if wait is None else wait.minutes for key, wait in self.waits.items()}
