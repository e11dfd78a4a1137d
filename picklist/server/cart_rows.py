"""The rows of the form of a cart: what is on its list, and what is said of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from picklist import wording
from picklist.letters import natural_key
from picklist.model.built import BuiltCart
from picklist.model.plan import SundryLine, TrayLine
from picklist.tasks.cart_form import RowKey, cells_of
from picklist.tasks.shown import Lookup

PLANNED, MISSING, SET = "planned", "missing", "set:"


def tray_field(key: RowKey) -> str:
    """The name of a tray's field in the form."""
    return f"tray-{key[1]}-{key[0]}"


class TrayChoice:
    """A tray on the list and what may be said of it: the choices as sent and in words, and the one reported.

    ``facts`` knows whether a built cart waits for it.
    """

    def __init__(self, found: Lookup, line: TrayLine, said: BuiltCart, facts: BuiltCart | None) -> None:
        told = cells_of(said, line.key)
        choices = {PLANNED: f"as planned: {line.set_id}" if line.set_id else "none planned, none on the cart"}
        choices |= {f"{SET}{one}": about for one, about in _sets_that_may_serve(found, line)}
        awaited = next((t for t in (facts.to_come if facts else ()) if (t.tray, t.copy) == line.key), None)
        if awaited:
            choices[PLANNED] = f"still to come: {awaited.set_id}, expected {found.when(awaited.expected)}"
            choices[f"{SET}{awaited.set_id}"] = f"{awaited.set_id} arrived and is on the cart"
        if told.set_id:
            choices.setdefault(f"{SET}{told.set_id}", told.set_id)
        if line.set_id:
            choices[MISSING] = "did not arrive"
        self.field = tray_field(line.key)
        self.tray = line.need.thing
        self.name = f"{line.name_with_side}{f' ({line.copy})' if line.copy > 1 else ''}"
        self.choices = tuple(choices.items())
        self.told = f"{SET}{told.set_id}" if told.set_id else MISSING if told.missing else PLANNED


def _sets_that_may_serve(found: Lookup, line: TrayLine) -> Iterator[tuple[str, str]]:
    """The sets of the tray, then those of its stand-ins, each with words that tell it apart."""
    wanted = line.need.thing
    for tray in found.plan.may_serve(wanted):
        for one in sorted((s for s in found.plan.sets if s.tray == tray), key=lambda s: natural_key(s.id)):
            side = f", {one.side.value}" if one.side else ""
            yield one.id, f"{one.id}{side}{f', {found.tray(tray)}' if tray != wanted else ''}"


class ItemRow:
    """An item on the list with what is said of it; ``stand_ins`` may take its place.

    ``reported``: who reported it missing in ``facts``, and when.
    """

    def __init__(
        self, found: Lookup, item: str, lines: Sequence[SundryLine], said: BuiltCart, facts: BuiltCart | None
    ) -> None:
        opened, hold = sum(line.need.open for line in lines), sum(line.need.hold for line in lines)
        gone = [one for one in (facts.missing if facts else ()) if one.thing == item and not one.copy]
        who = dict.fromkeys(f"{one.by} {found.when(one.reported_at)}".strip() for one in gone if one.reported_at)
        self.item = item
        self.name = lines[0].need.name or found.item(item)
        self.wanted = wording.open_and_hold(opened, hold)
        self.most = opened + hold
        self.short = any(line.is_short for line in lines)
        self.stand_ins = tuple(dict.fromkeys(one for line in lines for one, _ in line.stand_ins))
        self.told = cells_of(said, (item, 0))
        self.reported = ", ".join(who)
