"""Conflicts for the pages, in the words of the conflict sheet."""

from __future__ import annotations

from dataclasses import dataclass, replace

from picklist.documents.views import words
from picklist.documents.views.conflict_sheet import ConflictBlock, conflict_sheet
from picklist.documents.views.lookup import Lookup
from picklist.model.conflicts import Cluster, Conflict


@dataclass(frozen=True, slots=True, kw_only=True)
class ConflictEntry:
    """One conflict in the words of the conflict sheet, and the numbers under which its remedies can be tried."""

    id: str
    cases: str
    block: ConflictBlock
    tries: tuple[int, ...]


def conflict_entries(found: Lookup) -> tuple[ConflictEntry, ...]:
    """All conflicts, that which must be decided first in front."""
    pairs = [(cluster, one) for cluster in found.plan.clusters for one in cluster.conflicts]
    pairs.sort(key=lambda pair: (pair[1].decide_by is None, pair[1].decide_by or found.plan.now, pair[1].id))
    return tuple(_entry(found, cluster, one) for cluster, one in pairs)


def _entry(found: Lookup, cluster: Cluster, one: Conflict) -> ConflictEntry:
    alone = replace(found, plan=replace(found.plan, clusters=(replace(cluster, conflicts=(one,)),)))
    return ConflictEntry(
        id=one.id,
        cases=words.listed(found.case_in_room(case) for case in dict.fromkeys((*one.givers, one.waiter))),
        block=conflict_sheet(alone).clusters[0].conflicts[0],
        tries=tuple(number for number, remedy in enumerate(one.remedies) if remedy.edits),
    )
