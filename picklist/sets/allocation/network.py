"""Build the network of an allocation: jobs, copies and the shelf of each kind and place as flow in a program.

A set flows from where it is now through jobs. Close calls (rush, unopened, tight) are links of
their own with their minutes; everything with more time to spare passes over the shelf, a line
in time that sets enter when they are ready and leave when a job needs one.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from picklist.sets.allocation.program import Program
from picklist.sets.allocation.terms import AllocationQuestion, Copy, Grade, Job, Ready

_FOR_EVER = 10**9  # minutes

Shelf = tuple[str, str]  # kind and place
Source = tuple[str | int, str]  # a job's key or a batch's number, and the kind that the set is there


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Copies that nothing tells apart before their first job; one that is on a built cart stands alone."""

    ids: tuple[str, ...]
    kind: str
    sample: Copy


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A set going straight from a source (a job's key or a batch's number), where it ``was`` of a kind, to a job."""

    source: str | int
    job: Job
    kind: str
    was: str
    grade: Grade
    slack: int | None
    home: int  # when the set is ready, wherever that is
    column: int


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptReady:
    """What is bound of a pool when a job needs its set, ``most`` of which leaves the pool at its floor."""

    kinds: frozenset[str]
    bound: Mapping[int, float]
    most: int


@dataclass(slots=True)
class Network:
    """The program of a question and what its columns mean. ``reach``: minutes to spare before the shelf is entered.

    ``passed_on``: by source the links by which a set goes on in a rush or unopened. ``floors``: once they were asked
    for, what is bound of each pool with a floor at the need of each job that it may serve; copies share them.
    """

    question: AllocationQuestion
    least_slack: int
    reach: int
    explicit: bool = False
    program: Program = field(default_factory=Program)
    serve: dict[tuple[str, str], int] = field(default_factory=dict)
    take: dict[tuple[str, str], int] = field(default_factory=dict)
    out: dict[tuple[str, str, str], int] = field(default_factory=dict)
    start: dict[tuple[int, str], int] = field(default_factory=dict)
    batches: tuple[Batch, ...] = ()
    links: list[Link] = field(default_factory=list)
    passed_on: defaultdict[Source, list[Link]] = field(default_factory=lambda: defaultdict(list))
    users: dict[Shelf, list[Job]] = field(default_factory=dict)
    jobs: dict[str, Job] = field(default_factory=dict)
    floors: list[tuple[Job, KeptReady]] = field(default_factory=list)

    def copy(self) -> Network:
        """The same network with a program of its own, to which objectives may be added."""
        return replace(self, program=self.program.copy())

    def batch_of(self, copy: str) -> int:
        """The number of the batch that a copy belongs to."""
        return next(number for number, batch in enumerate(self.batches) if copy in batch.ids)

    def stays(self, link: Link) -> bool:
        """Whether a set stays on the built cart of the job that it goes to by a link."""
        return isinstance(link.source, int) and link.job.cart in self.batches[link.source].ids

    def serving(self, job: Job) -> dict[int, int]:
        """The columns of which one is 1 when the job is served."""
        return {self.serve[job.key, option.kind]: 1 for option in job.options if (job.key, option.kind) in self.serve}


def make_network(question: AllocationQuestion, least_slack: int = 0, *, explicit: bool = False) -> Network:
    """The network in which every clean reuse has at least so much slack.

    ``explicit``: no set that is still to be made ready passes over a shelf, so that links alone tell its way.
    """
    network = Network(question, least_slack, _FOR_EVER if explicit else max(question.margin, least_slack), explicit)
    network.batches = _batches(question)
    network.jobs = {job.key: job for job in question.jobs}
    owned = question.kinds()
    users: defaultdict[Shelf, list[Job]] = defaultdict(list)
    for job in question.jobs:
        for option in job.options:
            if option.kind in owned:
                users[option.kind, job.place].append(job)
                network.serve[job.key, option.kind] = network.program.column(whole=True)
                network.take[job.key, option.kind] = network.program.column(whole=True)
        network.program.at_most(dict.fromkeys(network.serving(job), 1.0), 1)
    network.users = {shelf: sorted(jobs, key=lambda job: (job.need, job.key)) for shelf, jobs in users.items()}
    _link_jobs(network)
    _link_batches(network)
    _conserve(network)
    for shelf in sorted(network.users):
        _lay_shelf(network, shelf)
    return network


def _batches(question: AllocationQuestion) -> tuple[Batch, ...]:
    alike: defaultdict[tuple[object, ...], list[Copy]] = defaultdict(list)
    on_carts = {job.cart for job in question.jobs}
    for copy in sorted(question.copies, key=lambda one: one.id):
        alone = copy.id if copy.exceptions or copy.id in on_carts else ""
        alike[copy.kind, tuple(sorted(copy.first.items(), key=lambda pair: pair[0])), copy.home, alone].append(copy)
    return tuple(Batch(ids=tuple(c.id for c in group), kind=group[0].kind, sample=group[0]) for group in alike.values())


def _link_jobs(network: Network) -> None:
    for job in network.question.jobs:
        for kind, places in job.back.items():
            if (job.key, kind) not in network.serve:
                continue
            now = network.question.kind_after(job, kind)
            for place, ready in places.items():
                if (now, place) in network.users:
                    network.out[job.key, kind, place] = network.program.column(whole=True)
                    _link_close(network, (job.key, kind), (now, place), ready)


def _link_batches(network: Network) -> None:
    for number, batch in enumerate(network.batches):
        if batch.sample.exceptions or any(map(batch.sample.comes_without_slack, network.question.jobs)):
            _link_alone(network, number, batch)
            continue
        for place, ready in batch.sample.first.items():
            if (batch.kind, place) in network.users:
                network.start[number, place] = network.program.column(float(len(batch.ids)), whole=True)
                if ready.waits:
                    _link_close(network, (number, batch.kind), (batch.kind, place), ready)
                _link_cart(network, number, batch, place)


def _link_close(network: Network, source: Source, shelf: Shelf, ready: Ready) -> None:
    jobs = network.users[shelf]
    for job in jobs[bisect_left(jobs, ready.soonest, key=lambda one: one.need) :]:
        if job.need >= ready.usual + network.reach:
            break
        if job.key != source[0]:
            _link(network, source, job, shelf[0], ready)


def _link_cart(network: Network, number: int, batch: Batch, place: str) -> None:
    """From a built cart to its job, where that is no close call; over the shelf the set would be any of its kind."""
    ready = batch.sample.first[place]
    for job in network.users[batch.kind, place]:
        if job.cart in batch.ids and (not ready.waits or job.need >= ready.usual + network.reach):
            _link(network, (number, batch.kind), job, batch.kind, ready)


def _link_alone(network: Network, number: int, batch: Batch) -> None:
    for (kind, _), jobs in network.users.items():
        for job in jobs if kind == batch.kind else ():
            ready = batch.sample.ready_for(job)
            if ready is not None:
                _link(network, (number, kind), job, kind, ready)


def _link(network: Network, source: Source, job: Job, kind: str, ready: Ready) -> None:
    grade = ready.grade(job.need)
    slack = None if grade is Grade.CLEAN and not ready.waits else job.need - ready.usual
    if grade is None or (grade is Grade.CLEAN and slack is not None and slack < network.least_slack):
        return
    column = network.program.column(whole=True)
    link = Link(
        source=source[0],
        job=job,
        kind=kind,
        was=source[1],
        grade=grade,
        slack=slack,
        home=_home_at(network, source, job, ready),
        column=column,
    )
    network.links.append(link)
    if grade is not Grade.CLEAN:
        network.passed_on[source].append(link)


def _home_at(network: Network, source: Source, job: Job, ready: Ready) -> int:
    """When the set of a link is ready, wherever that is."""
    name, was = source
    home = network.batches[name].sample.home_at(job) if isinstance(name, int) else network.jobs[name].home_at(was)
    return ready.usual if home is None else home


def _conserve(network: Network) -> None:
    """What comes to a job is what serves it; what leaves it came to it."""
    program = network.program
    coming: defaultdict[tuple[str, str], list[int]] = defaultdict(list)
    leaving: defaultdict[tuple[str | int, str], list[int]] = defaultdict(list)
    for link in network.links:
        coming[link.job.key, link.kind].append(link.column)
        leaving[link.source, link.was].append(link.column)
    for (key, kind, _), column in network.out.items():
        leaving[key, kind].append(column)
    for (number, _), column in network.start.items():
        leaving[number, network.batches[number].kind].append(column)
    for (key, kind), column in network.serve.items():
        arrivals = dict.fromkeys(coming[key, kind], 1.0) | {network.take[key, kind]: 1.0, column: -1.0}
        program.row(arrivals, 0, 0)
        if leaving[key, kind]:
            program.at_most(dict.fromkeys(leaving[key, kind], 1.0) | {column: -1.0}, 0)
    for number, batch in enumerate(network.batches):
        if leaving[number, batch.kind]:
            program.at_most(dict.fromkeys(leaving[number, batch.kind], 1.0), len(batch.ids))


def _lay_shelf(network: Network, shelf: Shelf) -> None:
    """A line in time: what was there and what comes in covers what is taken and what stays."""
    kind = shelf[0]
    needs = sorted({job.need for job in network.users[shelf]})
    balance: list[dict[int, float]] = [{} for _ in needs]
    for job in network.users[shelf]:
        balance[bisect_left(needs, job.need)][network.take[job.key, kind]] = 1.0
    for column, minute in _entries(network, shelf):
        at = bisect_left(needs, minute)
        if at < len(needs):
            balance[at][column] = -1.0
    for at in range(len(needs) - 1):
        idle = network.program.column(float(len(network.question.copies)))
        balance[at][idle] = 1.0
        balance[at + 1][idle] = -1.0
    for row in balance:
        network.program.at_most(row, 0)


def _entries(network: Network, shelf: Shelf) -> list[tuple[int, int]]:
    kind, place = shelf
    found = []
    for job in network.question.jobs:
        for was in job.back:
            column = network.out.get((job.key, was, place))
            if column is not None and network.question.kind_after(job, was) == kind:
                found.append((column, job.back[was][place].usual + network.reach))
    for number, batch in enumerate(network.batches):
        column = network.start.get((number, place)) if batch.kind == kind else None
        if column is not None:
            ready = batch.sample.first[place]
            found.append((column, ready.usual + network.reach if ready.waits else ready.usual))
    return found
