"""What is new on one cart's pick list: a block beneath its head, and a mark on each line concerned."""

from __future__ import annotations

from collections import Counter

from picklist import wording
from picklist.documents.views.change_lines import MoveRow, stays, to_add, to_take_off
from picklist.documents.views.change_words import ASKED_NEW, built_words, change_word, head_rows, other_lines
from picklist.documents.views.finished_words import View
from picklist.documents.views.goods_rows import GoodsRow
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.tray_rows import TrayRow
from picklist.evening.changes import CartChange, CartChangeKind
from picklist.evening.content import CartThing, Handling, PieceLine
from picklist.letters import natural_key

Key = tuple[str, str, str, str, str]  # thing wanted, set, lot, place, person


class ListChange(View):
    """The block: what to do with a cart that stands already, and what its list says otherwise.

    ``gives``: each cart, and what a new one takes from it.
    """

    def __init__(self, found: Lookup, change: CartChange) -> None:
        stopped = change.kind is CartChangeKind.STOPPED
        self.word = change_word(change.kind)
        self.since = (
            f"since list {change.replaces}" if change.replaces is not None else f"in revision {change.revision}"
        )
        self.built = change.built
        self.say = _say(change)
        self.head = head_rows(found, change.details)
        self.why = WHY if change.reasons else ""
        self.gives = taken_from_others(found, change) if change.old_case == "" else ()
        self.add = _added(found, change)
        self.take_off = to_take_off(found, change.take_off)
        self.stays = stays(found, change.remarks)
        self.missing = tuple(_brief(row) for row in to_add(found, change.still_missing))
        self.others = () if stopped else other_lines(found, change.details, (*change.add, *change.take_off))


SAY = {
    CartChangeKind.CHANGED: "If started, make these changes; if not, build from this list.",
    CartChangeKind.NEW: "Not on the schedule before.",
    CartChangeKind.ASKED: ASKED_NEW,
    CartChangeKind.STOPPED: "Mark a started cart ON HOLD and leave it.",
}
LEAVES = "TAKE OFF, ADD LATER"  # a set that is on the cart and must come again
WHY = "The Changes sheet says why a built cart must change."
SAY_PAPER = "Swap the old list for this one; the items stay."


def list_change(found: Lookup, change: CartChange | None, revision: int) -> ListChange | None:
    """The block of a list that this revision prints; None for any other, and in a day's first revision."""
    return ListChange(found, change) if change and _says_something(change, revision) else None


def _says_something(change: CartChange, revision: int) -> bool:
    printed_now = change.revision == revision > 1
    return printed_now and (change.prints or change.kind is CartChangeKind.STOPPED)


def _say(change: CartChange) -> str:
    if change.kind is not CartChangeKind.CHANGED:
        return SAY[change.kind]
    if not (change.has_work or change.takes_back):
        return SAY_PAPER
    return built_words(change) if change.built else SAY[change.kind]


def _added(found: Lookup, change: CartChange) -> tuple[str, ...]:
    """What goes on, in brief; the lines themselves are marked. Nothing of a list that is new as a whole."""
    if change.old_case == "":
        return ()
    rows = to_add(found, change.add, change.case)
    return tuple(_brief(row) + (f" from cart {row.cart}" if row.cart else "") for row in rows)


def taken_from_others(found: Lookup, change: CartChange) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What a new cart takes from each other one, sets first."""
    givers = dict.fromkeys(line.cart for line in change.add if line.cart)
    return tuple(
        (found.case_in_room(giver), tuple(_brief(row) for row in to_add(found, _from(change, giver), change.case)))
        for giver in sorted(givers, key=natural_key)
    )


def _from(change: CartChange, giver: str) -> tuple[PieceLine, ...]:
    return tuple(line for line in change.add if line.cart == giver)


def _brief(row: MoveRow) -> str:
    note = f", {row.note}" if row.note else ""
    return f"{row.which} {row.name}{note}" if row.is_set else f"{row.total} × {row.name} ({row.thing})"


class LineMarks:
    """Words for the lines of one list: what is added, what is fewer, what serves otherwise, what another cart gives.

    Asked once for each line, in the order of the list: two lines of one lot share what is added of it.
    """

    def __init__(self, change: CartChange | None) -> None:
        self._whole = change is not None and change.old_case == ""
        self._added: Counter[tuple[Key, Handling]] = Counter()
        self._fewer: Counter[Key] = Counter()
        self._givers: dict[Key, list[str]] = {}
        self._otherwise: dict[Key, str] = {}
        for line in change.add if change else ():
            self._added[_key(line.piece), line.piece.part] += line.quantity
            if line.cart:
                self._givers.setdefault(_key(line.piece), []).append(line.cart)
        for line in change.take_off if change else ():
            self._fewer[_key(line.piece)] += line.quantity
        for one in change.remarks if change else ():
            self._otherwise[_key(one.after)] = f"NOW {one.after.part.value.upper()}"

    def tray(self, row: TrayRow, on_its_way: bool) -> str:
        """The mark of a tray; a set that is still on its way is on no other cart."""
        key = ("", row.set_id, "", "", "")
        if on_its_way:
            self._givers.pop(key, None)
        if self._fewer[key] and any((key, part) in self._added for part in Handling):
            return LEAVES
        return self._mark(key, _number(row.open), _number(row.hold))

    def goods(self, row: GoodsRow) -> str:
        """The mark of an item; ``ADD 2`` when others of it are there already."""
        key = (row.item, "", _blank(row.lot), _blank(row.place), row.person)
        return self._mark(key, _number(row.open), _number(row.hold))

    def _mark(self, key: Key, opened: int, hold: int) -> str:
        more = self._take(key, Handling.OPEN, opened) + self._take(key, Handling.HOLD, hold)
        fewer = self._fewer.pop(key, 0)
        marks = []
        if more and not self._whole:
            marks.append("ADD" if more == opened + hold else f"ADD {more}")
        marks += [f"TAKE OFF {fewer}"] if fewer else []
        marks += [self._otherwise[key]] if key in self._otherwise else []
        givers = wording.listed(dict.fromkeys(self._givers.get(key, ()))) if more else ""
        marks += [f"FROM CART {givers}"] if givers else []
        return ", ".join(marks)

    def _take(self, key: Key, part: Handling, listed: int) -> int:
        """So many of a line's pieces as are added and not yet named on an earlier line."""
        more = min(self._added[key, part], listed)
        self._added[key, part] -= more
        return more


def _key(piece: CartThing) -> Key:
    if piece.set_id:
        return ("", piece.set_id, "", "", "")
    return (piece.wanted, "", piece.lot, piece.place, piece.person)


def _blank(text: str) -> str:
    return "" if text == wording.NONE else text


def _number(text: str) -> int:
    return 0 if text == wording.NONE else int(text)
