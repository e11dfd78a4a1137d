"""Group conflicts into clusters: cases that conflicts tie together, or that pass sets on to each other."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from picklist.grouping import grouped
from picklist.model.conflicts import Cluster, Conflict, ConflictKind, each_conflict
from picklist.model.department import ChanceReport, ReuseChance
from picklist.model.uses import Reuse
from picklist.sets.parts import joined_parts


def make_clusters(conflicts: Iterable[Conflict], reuses: Iterable[Reuse]) -> tuple[Cluster, ...]:
    """Group conflicts that share a case, or whose cases pass on a set that is in conflict.

    Clusters and their conflicts keep the order in which they are given; a cluster is named
    for the first case that waits in it.
    """
    ordered = list(conflicts)
    late_from: defaultdict[str, list[str]] = defaultdict(list)
    for reuse in reuses:
        if reuse.giver and reuse.slack < 0:
            late_from[reuse.waiter].append(reuse.giver)
    parts = joined_parts((one.waiter, *one.givers, *late_from[one.waiter]) for one in ordered)
    place = {case: number for number, part in enumerate(parts) for case in part}
    groups = grouped((place[conflict.waiter], conflict) for conflict in ordered)
    return tuple(
        Cluster(id=group[0].id, cases=tuple(sorted(parts[number])), conflicts=tuple(group))
        for number, group in groups.items()
    )


def add_queue_conflicts(
    clusters: Sequence[Cluster], found: Sequence[Conflict], needed: Mapping[str, datetime]
) -> tuple[Cluster, ...]:
    """Add each queue conflict to the clusters that share a case with it, joined into one, or as a cluster of its own.

    ``needed`` says by case when its cart is due. Clusters and their conflicts are in that order;
    a cluster is named for its first conflict.
    """
    if not found:
        return tuple(clusters)
    grown = list(clusters)
    for conflict in found:
        cases = set(conflict.cases)
        tied = [one for one in grown if cases.intersection(one.cases)]
        grown = [one for one in grown if one not in tied]
        grown.append(_joined(tied, conflict, cases, needed))
    return tuple(sorted(grown, key=lambda one: _by_need(one.conflicts[0], needed)))


def _joined(tied: list[Cluster], conflict: Conflict, cases: set[str], needed: Mapping[str, datetime]) -> Cluster:
    conflicts = [*(one for cluster in tied for one in cluster.conflicts), conflict]
    conflicts.sort(key=lambda one: _by_need(one, needed))
    everyone = cases.union(*(cluster.cases for cluster in tied))
    return Cluster(id=conflicts[0].id, cases=tuple(sorted(everyone)), conflicts=tuple(conflicts))


def _by_need(conflict: Conflict, needed: Mapping[str, datetime]) -> tuple[datetime, str]:
    return needed[conflict.waiter], conflict.id


def add_chances(clusters: Sequence[Cluster], chance: ChanceReport | None) -> tuple[Cluster, ...]:
    """Add the share of failing draws to each conflict about a reuse."""
    if chance is None:
        return tuple(clusters)
    by_reuse = {(one.set_id, one.waiter): one for one in chance.reuses}
    return each_conflict(clusters, lambda one: _with_chance(one, by_reuse))


def _with_chance(conflict: Conflict, by_reuse: dict[tuple[str, str], ReuseChance]) -> Conflict:
    chance = by_reuse.get((conflict.set_id, conflict.waiter))
    if chance is None or conflict.kind is ConflictKind.RESERVE:  # what is kept ready is no matter of being late
        return conflict
    hurried = chance.fails_hurried
    if hurried is not None and hurried >= chance.fails:
        hurried = None
    return replace(
        conflict, chance_of_failing=chance.fails, chance_if_hurried=hurried, blame=conflict.blame or chance.blame
    )
