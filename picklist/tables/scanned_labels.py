"""A maker's label (GS1 or HIBC) scanned into a cell of a row: what it says, and what it fills in beside it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from picklist.labels.gs1 import has_letters_swapped
from picklist.labels.label import Label, LabelError
from picklist.labels.reading import claims_label, item_text, read_label, without_marks
from picklist.tables.cells import Raw
from picklist.tables.columns import LabelCells
from picklist.tables.private import Kind, looks_private

SHORTEST = 11  # characters of an element string that no symbology identifier makes known
SIGNS = "]+*({<^_\x1d\u241d"  # with which labels begin, beside the digits of element strings
# Without a sign, only what begins with 01 or 17 is known for a label, or what is under a composite code.
NO_LABEL = re.compile(r"(?:[A-Za-z2-9]|0[02-9]|1[0-689])[^|]*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Scanned:
    """The labels of one row as one: ``label`` is all that they say.

    ``columns``: those that hold a label. ``fills``: what the row's cells say by the labels, by column.
    ``wrong``: the columns with a label that cannot be used, and why. ``swapped``: a keyboard made small letters
    capital ones and the other way round.
    """

    label: Label
    columns: tuple[str, ...]
    fills: dict[str, Raw]
    wrong: dict[str, str]
    swapped: bool = False


def scanned_labels(cells: LabelCells, held: dict[str, Raw], today: date) -> Scanned | None:
    """What the labels in a row say (``held``: its cells by column); None where there is none."""
    texts = {name: text for name in (cells.item, cells.lot) if (text := _text(held.get(name)))}
    if not texts:
        return None
    wrong: dict[str, str] = {}
    labels: dict[str, Label] = {}
    for name, text in texts.items():
        try:
            found = read_label(text, today)
        except LabelError as error:
            wrong[name] = f"this label cannot be read: {error}"
        else:
            labels[name] = found or Label()
    if cells.item in labels and not labels[cells.item].names_item and not _named_by(labels.get(cells.lot)):
        wrong[cells.item] = "this label does not name an item"
    label, clash = _together(list(labels.values()))
    if cells.lot in labels and not (label.lot or (cells.serial and label.serial)):
        wrong[cells.lot] = "this label does not name a lot"
    if clash:
        wrong[cells.lot] = f"the labels of item and lot differ in their {clash}"
    fills: dict[str, Raw] = {cells.lot: label.lot, cells.expiry: label.expiry, cells.serial: label.serial}
    if cells.item in texts or not _is_there(held.get(cells.item)):
        fills[cells.item] = item_text(label)
    return Scanned(
        label=label,
        columns=tuple(texts),
        fills={name: raw for name, raw in fills.items() if name and raw},
        wrong=wrong,
        swapped=any(has_letters_swapped(text) for text in texts.values()),
    )


def _text(raw: Raw) -> str:
    """What a cell holds where that is a label; empty for anything else."""
    if not isinstance(raw, str) or not (raw[:1] in SIGNS or len(raw) >= SHORTEST) or NO_LABEL.fullmatch(raw):
        return ""
    text = without_marks(raw)
    return text if claims_label(text) and not looks_private(text, kind=Kind.OF_THE_SITE) else ""


def _is_there(raw: Raw) -> bool:
    return raw is not None and raw != ""


def _named_by(label: Label | None) -> bool:
    return label is not None and label.names_item


def _together(labels: Sequence[Label]) -> tuple[Label, str]:
    """Labels as one, and the first thing in which they differ; the first label counts."""
    whole, clash = Label(), ""
    for label in labels:
        for name, words in (("gtin", "GTIN"), ("hibc", "HIBC code"), ("lot", "lot"), ("serial", "serial number")):
            one, other = getattr(whole, name), getattr(label, name)
            clash = clash or (words if one and other and one != other else "")
            whole = replace(whole, **{name: one or other})
        if whole.expiry and label.expiry and whole.expiry != label.expiry:
            clash = clash or "expiry"
        whole = replace(whole, expiry=whole.expiry or label.expiry, link=whole.link or label.link)
    return whole, clash


def differs(scanned: Scanned, column: str, value: object) -> bool:
    """Whether a filled cell says something else than the row's labels."""
    told = scanned.fills.get(column)
    if told is None or value in (None, ""):
        return False
    if scanned.swapped and isinstance(told, str) and isinstance(value, str):
        return told.casefold() != value.casefold()
    return told != value
