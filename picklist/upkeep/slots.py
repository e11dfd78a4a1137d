"""What a row of a card is about, what is wanted there, and how that is compared three ways."""

from __future__ import annotations

from dataclasses import astuple, dataclass, fields, replace
from datetime import date
from enum import StrEnum
from typing import Any, TypeVar

from picklist.model.cards import CardLine, Condition, Counted, ThingKind
from picklist.model.schedule import Side
from picklist.model.site import Site
from picklist.resolve.versions import target_of
from picklist.store.typed_records import record_of
from picklist.wording import full_day, open_and_hold
from picklist.wording.card_words import condition_words


@dataclass(frozen=True, slots=True, kw_only=True)
class RowKey:
    """A thing on a card under one side and set of conditions; a card has one row for each."""

    kind: ThingKind
    thing: str
    side: Side | None = None
    only_if: tuple[Condition, ...] = ()

    @property
    def always(self) -> bool:
        """Whether it counts whatever the case is like."""
        return self.side is None and not self.only_if


@dataclass(frozen=True, slots=True, kw_only=True)
class RowValue:
    """What is wanted in a slot; not wanted at all is None in place of a Want."""

    kind: ThingKind
    thing: str
    open: int
    hold: int
    note: str = ""
    counted: Counted = Counted.PER_CASE

    @property
    def core(self) -> tuple[ThingKind, str, int, int]:
        """Everything but the note."""
        return self.kind, self.thing, self.open, self.hold

    def same_as(self, other: RowValue | None) -> bool:
        """Whether an office would see the same."""
        return other is not None and self.core == other.core and self.note == other.note


def same_want(one: RowValue | None, other: RowValue | None) -> bool:
    """Whether two wants are the same to see; None is the same as None."""
    return one.same_as(other) if one else other is None


def slot_of(line: CardLine, site: Site) -> RowKey:
    """The slot that a card line is about: for a replace line, of what it takes the place of."""
    kind, thing = target_of(line, site)
    return RowKey(kind=kind, thing=thing, side=line.side, only_if=settled_conditions(line.only_if))


def settled_conditions(conditions: tuple[Condition, ...]) -> tuple[Condition, ...]:
    """Conditions in one order and spelling, each once."""
    made = {replace(one, value=one.value.strip().casefold()) for one in conditions}
    return tuple(sorted(made, key=lambda one: (one.kind, one.value, one.negated)))


def when_text(slot: RowKey) -> str:
    """When the slot counts, as an office reads and types it; empty for always."""
    side = [f"side {slot.side}"] if slot.side else []
    return "; ".join([*side, *(condition_words(one) for one in slot.only_if)])


def from_text(begins: date | None) -> str:
    """From which later day on something counts, as an office reads it; empty for what counts already."""
    return f"from {full_day(begins)}" if begins else ""


def thing_name(site: Site, kind: ThingKind, thing: str) -> str:
    """The name of a tray, pack or item; empty where the catalogue does not know it."""
    catalogue: Any = {ThingKind.TRAY: site.trays, ThingKind.PACK: site.packs, ThingKind.ITEM: site.items}[kind]
    return catalogue[thing].name if thing in catalogue else ""


def want_text(site: Site, want: RowValue | None) -> str:
    """A want in words, as ``Suture 2-0 (100245), 2 open and 1 hold, "for the fascia"``."""
    if want is None:
        return "not on the card"
    words = (
        f"{thing_name(site, want.kind, want.thing) or want.kind} ({want.thing}), {open_and_hold(want.open, want.hold)}"
    )
    return f'{words}, "{want.note}"' if want.note else words


def _said(record: Any) -> dict[str, Any]:
    """A record as plain data, without what is as usual."""
    return {one.name: said for one in fields(record) if (said := getattr(record, one.name)) != one.default}


def slot_data(slot: RowKey) -> dict[str, Any]:
    """A slot as plain data."""
    data = _said(slot)
    if conditions := data.pop("only_if", ()):
        data["if"] = [astuple(one) for one in conditions]
    return data


def slot_from(data: dict[str, Any]) -> RowKey:
    """The slot that ``slot_data`` wrote; KeyError or ValueError for anything else."""
    conditions = [dict(zip(("kind", "value", "negated"), one, strict=True)) for one in data.get("if", ())]
    return record_of(RowKey, data | {"only_if": conditions})


def want_data(want: RowValue | None) -> dict[str, Any] | None:
    """A want as plain data."""
    return _said(want) if want else None


def want_from(data: dict[str, Any] | None) -> RowValue | None:
    """The want that ``want_data`` wrote; ValueError for anything else."""
    return record_of(RowValue, data) if data is not None else None


T = TypeVar("T")


class Verdict(StrEnum):
    """What a comparison comes to."""

    UNCHANGED = "unchanged"
    ALREADY = "the master says so already"
    CLEAN = "a clean change"
    CLASH = "a clash"


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """The outcome, and for a clean change what is wanted now."""

    outcome: Verdict
    want: RowValue | None = None


def compare_wants(sent: RowValue | None, now: RowValue | None, office: RowValue | None) -> Compared:
    """Compare a slot three ways. Quantities with the thing, and the note, are compared apart.

    An office that changed a note while somebody else changed the quantity is no clash.
    """
    if same_want(sent, office):
        return Compared(outcome=Verdict.UNCHANGED)
    if same_want(now, office):
        return Compared(outcome=Verdict.ALREADY)
    if same_want(now, sent):
        return Compared(outcome=Verdict.CLEAN, want=_counted_as(now, office))
    if sent is None or now is None or office is None:
        return Compared(outcome=Verdict.CLASH)
    return _compare_parts(sent, now, office)


def _compare_parts(sent: RowValue, now: RowValue, office: RowValue) -> Compared:
    core = _one_side(sent.core, now.core, office.core)
    note = _one_side(sent.note, now.note, office.note)
    if core is None or note is None:
        return Compared(outcome=Verdict.CLASH)
    from_whom = now if core == now.core else office
    merged = replace(from_whom, note=note, counted=now.counted)
    if merged.same_as(now):
        return Compared(outcome=Verdict.ALREADY)
    return Compared(outcome=Verdict.CLEAN, want=merged)


def _one_side(sent: T, now: T, office: T) -> T | None:
    """The value of whichever side changed it; None when both did, each in its own way."""
    if office in (sent, now):
        return now
    return office if now == sent else None


def _counted_as(now: RowValue | None, office: RowValue | None) -> RowValue | None:
    """An office does not see how a line is counted, so that stays as it is."""
    return replace(office, counted=now.counted) if now and office else office
