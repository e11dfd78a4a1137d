"""What can be put on a cart: items, packs, trays, and the procedures that ask for them."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from picklist.model.expiry import Expiry
from picklist.problems import NOWHERE, Where


class ItemClass(StrEnum):
    """How an item reaches the case."""

    SUPPLY = "supply"  # picked
    PEEL_PACK = "peel pack"  # a single wrapped instrument kept as stock, picked
    OUTER_GLOVE = "outer glove"  # picked by person and size
    UNDER_GLOVE = "under glove"
    GOWN = "gown"
    MEDICINE = "medicine"  # printed for reference, never picked
    SOLUTION = "solution"
    EQUIPMENT = "equipment"  # checked in the room, never carted
    POSITIONING = "positioning"
    IMPLANT = "implant"  # names side, size range and who brings it


PICKED = frozenset(
    {
        ItemClass.SUPPLY,
        ItemClass.PEEL_PACK,
        ItemClass.OUTER_GLOVE,
        ItemClass.UNDER_GLOVE,
        ItemClass.GOWN,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A catalogue item. ``keep_back`` is the number never promised to a planned case.

    ``latex`` is None while it is not stated whether the item holds any. ``hibc`` is as the table has it.
    """

    id: str
    name: str
    unit: str = "each"
    item_class: ItemClass = ItemClass.SUPPLY
    size: str = ""
    place: str = ""
    latex: bool | None = None
    latex_free_twin: str = ""
    gtin: str = ""
    hibc: str = ""
    keep_back: int = 0
    substitutes: tuple[str, ...] = ()
    brought_by: str = ""
    retired: bool = False
    where: Where = field(default=NOWHERE, compare=False, repr=False)

    @property
    def may_hold_latex(self) -> bool:
        """Whether it holds latex or is not stated to be free of it, so that no latex alert allows it."""
        return self.latex is not False


@dataclass(frozen=True, slots=True, kw_only=True)
class PackLine:
    """An item that a pack holds, with its quantity."""

    item: str
    quantity: int
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pack:
    """A custom pack with its known contents. Packs are in stock as an item of the same id.

    ``unread`` are rows of its contents that could not be read, so that it holds more than its lines say.
    """

    id: str
    name: str
    lines: tuple[PackLine, ...]
    unread: tuple[Where, ...] = ()
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class StandIn:
    """A tray that may serve in place of another; preference 1 is tried first."""

    tray: str
    preference: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayInstrument:
    """A line of a tray's count sheet."""

    instrument: str
    quantity: int
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tray:
    """A kind of instrument tray. ``container`` tells a locked container from a wrap.

    ``sided``: its sets are left or right, so a case must state its side; None: neither the tray nor
    any of its sets says so.
    ``stand_ins``: trays that may serve in its place, one way.
    ``implants``: its loads wait for a biological indicator where the site says so; None: not stated.
    ``latex``: something in it is of latex; None: not stated.
    """

    id: str
    name: str
    route: str
    weight_lb: float | None = None
    container: bool = False
    sided: bool | None = False
    implants: bool | None = False
    latex: bool | None = False
    keep_ready: int = 0
    stand_ins: tuple[StandIn, ...] = ()
    count_sheet: bool = True
    instruments: tuple[TrayInstrument, ...] = ()
    retired: bool = False
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Procedure:
    """A procedure and the custom pack that it usually wants (empty for none)."""

    id: str
    name: str
    service: str = ""
    pack: str = ""
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A storage place; ``order`` is where the walk passes it (None sorts by its name)."""

    id: str
    order: int | None = None
    area: str = ""
    building: str = ""
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """Some of an item (or pack) on a shelf; ``expiry`` is the last day printed on it, None while not recorded."""

    item: str
    lot: str
    quantity: int
    expiry: Expiry
    place: str
    where: Where = field(default=NOWHERE, compare=False, repr=False)
