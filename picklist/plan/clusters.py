"""Findings of the department and of chance, laid beside the conflicts of the sets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from picklist.model.conflicts import Cluster, Conflict
from picklist.model.department import ChanceReport, ReuseChance


def add_load_conflicts(
    clusters: Sequence[Cluster], found: Sequence[Conflict], needed: Mapping[str, datetime]
) -> tuple[Cluster, ...]:
    """The clusters with each load conflict joined to all that share a case with it, or in one of its own.

    ``needed`` says by case when its cart is due; clusters and their conflicts stand in that order,
    and a cluster is named for its first conflict.
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
    """The clusters with the share of failing draws on each conflict that is about a reuse."""
    if chance is None:
        return tuple(clusters)
    by_reuse = {(one.set_id, one.waiter): one for one in chance.reuses}
    return tuple(
        replace(cluster, conflicts=tuple(_with_chance(conflict, by_reuse) for conflict in cluster.conflicts))
        for cluster in clusters
    )


def _with_chance(conflict: Conflict, by_reuse: dict[tuple[str, str], ReuseChance]) -> Conflict:
    chance = by_reuse.get((conflict.set_id, conflict.waiter))
    if chance is None:
        return conflict
    return replace(conflict, chance_of_failing=chance.fails, blame=conflict.blame or chance.blame)
