"""Conflicts of the load, laid beside those of the sets: each once, tied to all that it touches."""

from __future__ import annotations

from collections import Counter
from datetime import datetime, timedelta

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from picklist.model.conflicts import Cluster, Conflict, ConflictKind
from picklist.sets.clusters import add_queue_conflicts
from tests.builders import at

CASES = tuple("ABCDEFGH")
NEEDED = {name: at("07:00") + timedelta(minutes=30 * number) for number, name in enumerate(CASES)}


def conflict(name: str, waiter: str, *givers: str, kind: ConflictKind = ConflictKind.QUEUE) -> Conflict:
    return Conflict(
        id=name, kind=kind, tray="T", waiter=waiter, givers=givers, set_id=f"S-{name}", minutes=5, statement=""
    )


def cluster(*conflicts: Conflict) -> Cluster:
    cases = {case for one in conflicts for case in (one.waiter, *one.givers)}
    return Cluster(id=conflicts[0].id, cases=tuple(sorted(cases)), conflicts=conflicts)


def test_a_load_conflict_between_two_clusters_makes_them_one() -> None:
    first = cluster(conflict("B/T", "B", "A", kind=ConflictKind.RUSH))
    second = cluster(conflict("E/T", "E", "D", kind=ConflictKind.TIGHT))
    (joined,) = add_queue_conflicts((first, second), (conflict("load C", "C", "B", "D"),), NEEDED)
    assert joined.cases == ("A", "B", "C", "D", "E")
    assert [one.id for one in joined.conflicts] == ["B/T", "load C", "E/T"]
    assert joined.id == "B/T"


def test_a_cluster_is_named_for_its_first_conflict_by_need_though_that_came_of_the_load() -> None:
    later = cluster(conflict("E/T", "E", "A", kind=ConflictKind.RUSH))
    (joined,) = add_queue_conflicts((later,), (conflict("load B", "B", "A"),), NEEDED)
    assert (joined.id, [one.id for one in joined.conflicts]) == ("load B", ["load B", "E/T"])


def test_one_that_touches_no_other_stands_alone_in_order_of_need() -> None:
    early, late = cluster(conflict("B/T", "B", "A")), cluster(conflict("H/T", "H", "G"))
    found = add_queue_conflicts((early, late), (conflict("load D", "D", "C"),), NEEDED)
    assert [one.id for one in found] == ["B/T", "load D", "H/T"]


def test_without_queue_conflicts_all_stays_as_it_was() -> None:
    clusters = (cluster(conflict("B/T", "B", "A")),)
    assert add_queue_conflicts(clusters, (), NEEDED) == clusters


pairs = st.lists(st.lists(st.sampled_from(CASES), min_size=1, max_size=3, unique=True), max_size=7)


def components(conflicts: list[Conflict]) -> set[frozenset[str]]:
    graph: nx.Graph[str] = nx.Graph()
    for one in conflicts:
        nx.add_path(graph, (one.waiter, *one.givers))
        graph.add_node(one.waiter)
    return {frozenset(part) for part in nx.connected_components(graph)}


@given(of_sets=pairs, of_load=pairs)
def test_clusters_are_the_connected_cases_and_hold_each_conflict_once(
    of_sets: list[list[str]], of_load: list[list[str]]
) -> None:
    sets = [conflict(f"set {n}", *cases, kind=ConflictKind.SHORT) for n, cases in enumerate(of_sets)]
    load = [conflict(f"load {n}", *cases) for n, cases in enumerate(of_load)]
    before = [cluster(*sorted((one for one in sets if one.waiter in part), key=by_need)) for part in components(sets)]
    after = add_queue_conflicts(tuple(before), tuple(load), NEEDED)
    held = Counter(one.id for found in after for one in found.conflicts)
    assert held == Counter(one.id for one in (*sets, *load))
    if not load:
        return
    assert {frozenset(found.cases) for found in after} == components([*sets, *load])
    assert all(found.id == found.conflicts[0].id for found in after)
    assert all(list(found.conflicts) == sorted(found.conflicts, key=by_need) for found in after)
    assert list(after) == sorted(after, key=lambda found: by_need(found.conflicts[0]))


def by_need(one: Conflict) -> tuple[datetime, str]:
    return NEEDED[one.waiter], one.id
