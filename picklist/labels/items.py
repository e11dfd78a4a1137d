"""Which item of a catalogue a maker's label is of."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Protocol

from picklist.labels.hibc import check_character, primary_of, same_product
from picklist.labels.label import Label, LabelError, other_package, same_gtin

OTHER_PACKAGE = "other package"


class Labelled(Protocol):
    """Anything that a maker's label may be of; both codes are as the table has them."""

    @property
    def id(self) -> str:
        """Its number in the catalogue."""

    @property
    def name(self) -> str:
        """What it is called."""

    @property
    def gtin(self) -> str:
        """Its GTIN; empty for none."""

    @property
    def hibc(self) -> str:
        """Its HIBC code; empty for none."""


class NoItemError(LabelError):
    """A label that is of no one item; ``kind`` says how, ``number`` is the label's, ``nearest`` are the items meant."""

    def __init__(self, kind: str, message: str, number: str = "", nearest: tuple[str, ...] = ()) -> None:
        super().__init__(message)
        self.kind, self.number, self.nearest = kind, number, nearest


class ItemsByLabel:
    """Items of a catalogue, to find many of them by their labels."""

    def __init__(self, items: Iterable[Labelled]) -> None:
        """Take the items of a catalogue."""
        self._products: dict[str, list[Labelled]] = defaultdict(list)
        for item in items:
            if item.gtin:
                self._products[_product(item.gtin)].append(item)
            if hibc := _hibc(item):
                self._products[hibc[:-1]].append(item)

    def find(self, label: Label) -> Labelled:
        """The one item that a label names. Raises NoItemError, also for a package of another size, which is said."""
        return _only_one(label, self._products.get(_product(label.gtin) if label.gtin else label.hibc[:-1], []))


def item_of(label: Label, items: Iterable[Labelled]) -> Labelled:
    """The one item that a label names; as ``ItemsByLabel``, which is faster for many labels. Raises NoItemError."""
    if label.gtin:
        product = _product(label.gtin).lstrip("0")
        return _only_one(label, [item for item in items if product in item.gtin])
    product = label.hibc[:-1]
    return _only_one(label, [item for item in items if item.hibc and product in item.hibc.upper()])


def _product(gtin: str) -> str:
    """What packages of different size have in common: not the first digit and not the check digit."""
    return gtin.zfill(14)[1:13]


def _only_one(label: Label, alike: Sequence[Labelled]) -> Labelled:
    """The one of some items that a label names."""
    if not label.names_item:
        raise NoItemError("label without an item", "this label does not name an item")
    named = [item for item in alike if _is(label, item)]
    others = [item for item in alike if _is_package(label, item)]
    if len(named) == 1:
        return named[0]
    if not named and len(others) == 1:
        [item] = others
        what = "a box of" if _is_larger(label, item) else "a smaller package of"
        said = f"this is {what} {item.id}, {item.name}, not the package that Items names"
        raise NoItemError(OTHER_PACKAGE, said, nearest=(item.id,))
    kind, number = ("unknown gtin", "GTIN") if label.gtin else ("unknown HIBC code", "HIBC code")
    many = f"{len(named) or 'no'} item{'' if len(named) == 1 else 's'}"
    ids = tuple(item.id for item in named)
    raise NoItemError(kind, f"this {number} belongs to {many} of the catalogue", label.gtin or label.hibc, ids)


def speaks_of(label: Label, item: Labelled) -> bool:
    """Whether a label may be of an item: it names it or nothing, or links to its HIBC code by the check character."""
    if label.names_item:
        return _is(label, item) or _is_package(label, item)
    hibc = _hibc(item)
    return not (label.link and hibc) or check_character(f"+{hibc}") == label.link


def _hibc(item: Labelled) -> str:
    """An item's HIBC code, bare; empty for one that cannot be, which the checks report."""
    try:
        return primary_of(item.hibc) if item.hibc else ""
    except LabelError:
        return ""


def _is(label: Label, item: Labelled) -> bool:
    return same_gtin(item.gtin, label.gtin) if label.gtin else label.hibc == _hibc(item)


def _is_package(label: Label, item: Labelled) -> bool:
    if label.gtin:
        return item.gtin.isdigit() and other_package(label.gtin, item.gtin)
    return same_product(label.hibc, _hibc(item))


def _is_larger(label: Label, item: Labelled) -> bool:
    """Whether the label's package holds more: the digit of the level grows (for GTINs 0 is one piece)."""
    if label.gtin:
        return label.gtin[0] > item.gtin.zfill(14)[0]
    return label.hibc[-1] > _hibc(item)[-1]
