"""Everything that a site's folder says, ready for the engines."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from picklist.model.cards import CardLine
from picklist.model.catalogue import Item, Lot, Pack, Place, Procedure, Tray
from picklist.model.codes import Code
from picklist.model.routes import Departure, Holiday, Route, Station, Transfer, WorkPeriod
from picklist.model.schedule import Case, PastCase, Room, StaffMember
from picklist.model.sets import InstrumentSet
from picklist.settings import Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Unread:
    """What could not be read in full and so is not judged again: numbers of stopped cases, and cards.

    A card is (procedure, surgeon), None for every. ``schedule``: rows of the schedule, or files that may hold
    some, could not be read at all, and nobody knows of which cases they are.
    """

    cases: frozenset[str] = frozenset()
    schedule: bool = False
    cards: frozenset[tuple[str | None, str | None]] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """The model of one site; mappings are keyed by id and keep file order."""

    settings: Settings
    cases: tuple[Case, ...] = ()
    procedures: Mapping[str, Procedure] = field(default_factory=dict)
    card_lines: tuple[CardLine, ...] = ()
    items: Mapping[str, Item] = field(default_factory=dict)
    packs: Mapping[str, Pack] = field(default_factory=dict)
    trays: Mapping[str, Tray] = field(default_factory=dict)
    sets: Mapping[str, InstrumentSet] = field(default_factory=dict)
    lots: tuple[Lot, ...] = ()
    places: Mapping[str, Place] = field(default_factory=dict)
    routes: Mapping[str, Route] = field(default_factory=dict)
    stations: Mapping[str, Station] = field(default_factory=dict)
    hours: tuple[WorkPeriod, ...] = ()
    departures: tuple[Departure, ...] = ()
    holidays: tuple[Holiday, ...] = ()
    transfers: tuple[Transfer, ...] = ()
    staff: Mapping[str, StaffMember] = field(default_factory=dict)
    rooms: Mapping[str, Room] = field(default_factory=dict)
    past_cases: tuple[PastCase, ...] = ()
    codes: tuple[Code, ...] = ()
    unread: Unread = Unread()

    def with_settings(self, settings: Settings) -> Site:
        """The site with these settings: itself, of which much is known by then, where they are its own."""
        return self if settings == self.settings else replace(self, settings=settings)

    def tray_name(self, tray: str) -> str:
        """A tray's name, or its id where it has none."""
        known = self.trays.get(tray)
        return (known.name if known else "") or tray
