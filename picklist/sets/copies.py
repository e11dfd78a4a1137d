"""Number the copies of trays that a case needs, once for its uses and its list, and find those it has already."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from picklist.grouping import grouped
from picklist.model.cards import ThingKind
from picklist.model.needs import Need
from picklist.model.schedule import Case
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site
from picklist.sets.fitting import fits

Key = tuple[str, int]  # tray and copy


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedCopy:
    """One set of one tray that a case wants; a tray's copies are numbered from 1 over all its lines."""

    need: Need
    copy: int
    on_hold: bool

    @property
    def key(self) -> Key:
        """The tray and the copy, unique within a case."""
        return self.need.thing, self.copy


def wanted_copies(needs: Iterable[Need]) -> tuple[WantedCopy, ...]:
    """The copies of all trays: those to be opened first, then those on hold, each in the order of the needs.

    Left and right of one tray are two needs, so the right set may be copy 2.
    """
    trays = [need for need in needs if need.kind is ThingKind.TRAY]
    opened = [(need, False) for need in trays for _ in range(need.open)]
    held = [(need, True) for need in trays for _ in range(need.hold)]
    counted: dict[str, int] = {}
    found = []
    for need, on_hold in opened + held:
        counted[need.thing] = counted.get(need.thing, 0) + 1
        found.append(WantedCopy(need=need, copy=counted[need.thing], on_hold=on_hold))
    return tuple(found)


def sets_in_use(site: Site) -> dict[str, list[InstrumentSet]]:
    """The sets that are recorded as in use, by the case in which they are."""
    return grouped((one.in_case, one) for one in site.sets.values() if one.state is SetState.IN_USE and one.in_case)


def copies_in_hand(
    site: Site, case: Case, wanted: Sequence[WantedCopy], mine: Sequence[InstrumentSet]
) -> Mapping[Key, InstrumentSet]:
    """Which copies a case has already by ``mine``, the sets that are recorded as in use in it.

    As many copies as possible. Each set counts once, for its own tray before any that it stands in for.
    """
    if not mine or not case.is_live:
        return {}
    fitting = {copy.key: _fitting(site, copy, mine) for copy in wanted if copy.need.thing in site.trays}
    own = {key: [one for one in sets if one.tray == key[0]] for key, sets in fitting.items()}
    taken: dict[str, Key] = {}
    for choices in (own, fitting):
        for key in choices:
            if key not in taken.values():
                _take(key, choices, taken, set())
    return {key: site.sets[set_id] for set_id, key in taken.items()}


def _fitting(site: Site, copy: WantedCopy, mine: Iterable[InstrumentSet]) -> list[InstrumentSet]:
    """The sets that serve for a copy: of its own tray, then those that may stand in, best first."""
    need = copy.need
    rank = {one.tray: one.preference for one in site.trays[need.thing].stand_ins} | {need.thing: 0}
    usable = (one for one in mine if one.tray in rank and fits(site.trays.get(one.tray), one, need))
    return sorted(usable, key=lambda one: (rank[one.tray], one.id))


def _take(key: Key, choices: Mapping[Key, list[InstrumentSet]], taken: dict[str, Key], asked: set[str]) -> bool:
    """Give a copy one of its choices; move other copies to another choice where that frees one."""
    for one in choices[key]:
        if one.id in asked:
            continue
        asked.add(one.id)
        if one.id not in taken or _take(taken[one.id], choices, taken, asked):
            taken[one.id] = key
            return True
    return False
