"""Findings of the department and of chance, laid beside the conflicts of the sets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from picklist.model.conflicts import Cluster, Conflict
from picklist.model.department import ChanceReport, ReuseChance


def add_load_conflicts(clusters: Sequence[Cluster], found: Sequence[Conflict]) -> tuple[Cluster, ...]:
    """The clusters with each load conflict in the cluster that shares a case with it, or in one of its own."""
    grown = list(clusters)
    for conflict in found:
        cases = {conflict.waiter, *conflict.givers}
        home = next((n for n, cluster in enumerate(grown) if cases & set(cluster.cases)), None)
        if home is None:
            grown.append(Cluster(id=f"{len(grown) + 1}", cases=tuple(sorted(cases)), conflicts=(conflict,)))
        else:
            here = grown[home]
            joined = tuple(sorted({*here.cases, *cases}))
            grown[home] = replace(here, cases=joined, conflicts=(*here.conflicts, conflict))
    return tuple(grown)


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
