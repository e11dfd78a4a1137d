"""Names without a table of their own that have effect by being equal: runs, cycles, services, buildings of places."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from picklist.letters import bare
from picklist.model.cards import ConditionKind
from picklist.model.schedule import SIZE_WORDS, USUAL_SIZES
from picklist.model.site import Site
from picklist.problems import Problem, Where, notice, to_fix
from picklist.tables.near_words import word_slip_of
from picklist.tables.nearest import Candidates


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedCell:
    """A cell that holds such a name."""

    name: str
    where: Where
    column: str


def check_runs(site: Site, _now: datetime) -> Iterator[Problem]:
    """Runs of Departures that are spelled like another, or for which no step of a route and no way waits."""
    departures = [NamedCell(name=one.run, where=one.where, column="run") for one in site.departures]
    near = dict(_unusual(departures))
    waiting = {step.run for route in site.routes.values() for step in route.steps} | {t.run for t in site.transfers}
    named = Candidates(sorted(waiting - {""}))
    for one in _each_place(departures):
        if one.name in near:
            yield _close(one, near[one.name], "its departures do not count for it")
        elif one.name not in waiting:
            message = "no route step and no transfer uses this run, so its departures have no effect"
            expected = "a run that a route or a transfer names"
            where, nearest = one.where.at(one.column), named.nearest(one.name, 1)
            yield notice("run without a use", where, message, value=one.name, expected=expected, nearest=nearest)


def check_spellings(site: Site, _now: datetime) -> Iterator[Problem]:
    """Cycles, services and buildings of places with a name close to a more usual one."""
    steps = [step for route in site.routes.values() for step in route.steps]
    columns = (
        ([NamedCell(name=one.cycle, where=one.where, column="cycle") for one in steps], "the two do not share a load"),
        (
            [NamedCell(name=one.service, where=one.where, column="service") for one in site.procedures.values()],
            "it is not in the workbook of that service",
        ),
        (
            [NamedCell(name=one.building, where=one.where, column="building") for one in site.places.values()],
            "what is stored here counts as in another building",
        ),
    )
    for named, effect in columns:
        near = dict(_unusual(named))
        yield from (_close(one, near[one.name], effect) for one in _each_place(named) if one.name in near)


def check_set_sizes(site: Site, _now: datetime) -> Iterator[Problem]:
    """Size classes of sets with a name close to that of a case, a card or another set."""
    sets = [NamedCell(name=one.size, where=one.where, column="size") for one in site.sets.values()]
    conditions = (one for line in site.card_lines for one in line.only_if)
    stated = {one.value for one in conditions if one.kind is ConditionKind.SIZE}
    stated |= {one.patient_size for one in site.cases}
    known, near = {bare(word) for word in (*stated, *SIZE_WORDS)}, dict(_unusual(sets))
    for one in _each_place(sets):
        meant = near.get(one.name) or word_slip_of(one.name, [*filter(None, sorted(stated)), *USUAL_SIZES])
        if meant:
            yield _close(one, meant, "the set fits no case of that size")
        elif bare(one.name) not in known:
            message = "no case, no card and no usual list knows this size, so the set fits no case"
            expected = "a size as on the schedule; empty for a set that fits all"
            yield notice("unknown word", one.where.at("size"), message, value=one.name, expected=expected)


def _each_place(named: Iterable[NamedCell]) -> Iterator[NamedCell]:
    """Each row once: a row of several weekdays makes several departures."""
    yield from {(one.name, one.where): one for one in named if one.name}.values()


def _unusual(named: Iterable[NamedCell]) -> Iterator[tuple[str, str]]:
    """Names that are a slip of one that is in more rows, or earlier in as many; with that one."""
    counts = Counter(one.name for one in _each_place(named))
    usual = sorted(counts, key=lambda name: -counts[name])  # stable: file order among equals
    for n, name in enumerate(usual):
        meant = word_slip_of(name, usual[:n])
        if meant:
            yield name, meant


def _close(one: NamedCell, meant: str, effect: str) -> Problem:
    message = f"this {one.column} looks like a misspelling of a more usual one, so {effect}"
    where, expected = one.where.at(one.column), "one spelling everywhere"
    return to_fix("near word", where, message, value=one.name, expected=expected, nearest=(meant,))
