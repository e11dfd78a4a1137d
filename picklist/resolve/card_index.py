"""Index a site's card lines, gloves and gowns, and keep what of the lines stands on a day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING

from picklist.grouping import grouped
from picklist.letters import bare
from picklist.model.cards import CardLine, ConditionKind, ThingKind
from picklist.model.catalogue import Item, ItemClass
from picklist.model.needs import CaseNeeds, Pending, Reason
from picklist.model.schedule import Side
from picklist.model.site import Site
from picklist.problems import Problem

if TYPE_CHECKING:
    from picklist.resolve.being_resolved import Findings, WorkingLine
    from picklist.resolve.working_lines import Card

Target = tuple[ThingKind, str]
Lines = tuple[CardLine, ...]
WORN = frozenset({ItemClass.OUTER_GLOVE, ItemClass.UNDER_GLOVE, ItemClass.GOWN})


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingLine:
    """A line that stands, what it is about, the older versions that it makes void, and why it asks for what it asks.

    ``drafts``: the working lines that were made of it, by side.
    """

    line: CardLine
    target: Target
    older: tuple[CardLine, ...] = ()
    reasons: tuple[Reason, ...] = ()
    drafts: dict[Side | None, WorkingLine] = field(default_factory=dict, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerOnDay:
    """What a layer says on a day, whoever the case is: the lines that stand, and those that are pending.

    ``notices`` are of lines that say a thing twice or contradict each other.
    """

    standing: tuple[StandingLine, ...]
    pending: tuple[tuple[CardLine, Pending], ...]
    notices: tuple[Problem, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WornByPerson:
    """Gloves and gown of a person at the table, and what is to be said of them: the same for every case."""

    drafts: tuple[WorkingLine, ...]
    notices: tuple[Problem, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CardIndex:
    """Card lines by (procedure, surgeon), None meaning every; gloves and gowns by class and size; condition words.

    ``on_days`` keeps what ``versions`` sorted out: the lines and what of them stands, by them and the day; ``people``
    what a person wears, by id and whether there is a latex alert; ``bases`` the cards of procedures before any
    surgeon's lines, with what was found while they were laid, by all that decides them; and ``needs`` what each of
    the site's own ``cases`` wants, by their identity.
    """

    lines: Mapping[tuple[str | None, str | None], tuple[CardLine, ...]]
    worn: Mapping[tuple[ItemClass, str], tuple[Item, ...]]
    words: frozenset[tuple[ConditionKind, str]] = frozenset()
    sized_trays: frozenset[str] = frozenset()
    cases: frozenset[int] = field(default=frozenset(), repr=False)
    on_days: dict[tuple[int, date], tuple[Lines, LayerOnDay]] = field(default_factory=dict, compare=False)
    people: dict[tuple[str, bool], WornByPerson] = field(default_factory=dict, compare=False)
    bases: dict[tuple[object, ...], tuple[Card, Findings]] = field(default_factory=dict, compare=False, repr=False)
    needs: dict[int, CaseNeeds] = field(default_factory=dict, compare=False, repr=False)

    def layers(self, procedure: str, surgeon: str) -> tuple[tuple[CardLine, ...], ...]:
        """The lines for a procedure and surgeon in four layers, each changing those before it.

        Base lines, the surgeon's for this procedure, the surgeon's for every procedure, the house's.
        """
        owners = ((procedure, None), (procedure, surgeon), (None, surgeon), (None, None))
        return tuple(self.lines.get(owner, ()) for owner in owners)

    def worn_in_size(self, item_class: ItemClass, size: str) -> tuple[Item, ...]:
        """Gloves or gowns of one class and size, in catalogue order, without retired ones."""
        return self.worn.get((item_class, size_key(size)), ())

    def sizes_text(self, item_class: ItemClass) -> str:
        """The sizes that the catalogue holds of gloves or gowns of a class, as ``6.5, 7, 7.5``; or ``none``."""
        sizes = sorted((size for kept, size in self.worn if kept is item_class), key=lambda size: (len(size), size))
        return ", ".join(sizes) or "none"

    def knows(self, kind: ConditionKind, word: str) -> bool:
        """Whether the condition of an approved line looks at that alert or size, or a set is for that size."""
        return (kind, bare(word)) in self.words

    def keeps(self, item_class: ItemClass) -> bool:
        """Whether the catalogue holds any item of that class."""
        return any(kept is item_class for kept, _ in self.worn)


_LAST: list[tuple[Site, CardIndex]] = []  # the site that was asked for last: it is checked, then planned


def index_cards(site: Site) -> CardIndex:
    """The index of a site's card lines, gloves and gowns; that of the site that was asked for last is kept."""
    for last, index in _LAST:
        if last is site:
            return index
    index = _make_index(site)
    _LAST[:] = [(site, index)]
    return index


def _make_index(site: Site) -> CardIndex:
    """File order is kept."""
    lines = grouped(((line.procedure, line.surgeon), line) for line in site.card_lines)
    wearable = (item for item in site.items.values() if item.item_class in WORN and not item.retired)
    worn = grouped(((item.item_class, size_key(item.size)), item) for item in wearable)
    return CardIndex(
        lines={owner: tuple(found) for owner, found in lines.items()},
        worn={size: tuple(found) for size, found in worn.items()},
        words=frozenset(
            (
                *((c.kind, bare(c.value)) for line in site.card_lines if line.approved for c in line.only_if),
                *((ConditionKind.SIZE, bare(one.size)) for one in site.sets.values()),
            )
        ),
        sized_trays=frozenset(one.tray for one in site.sets.values() if one.size),
        cases=frozenset(map(id, site.cases)),
    )


@lru_cache
def size_key(size: str) -> str:
    """A size as it is compared: ``7``, ``7.0`` and ``7,0`` are one size, ``7½`` is ``7.5``."""
    text = size.strip().casefold().replace("½", ".5").replace(",", ".").replace(" .5", ".5")
    try:
        return f"{float(text):g}"
    except ValueError:
        return text
