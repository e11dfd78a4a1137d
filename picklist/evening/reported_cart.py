"""A cart as it was reported, and what a list asks of it: what is wanted against what is known to be there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from picklist.evening.content import (
    Content,
    ContentChange,
    Short,
    as_built,
    as_it_holds,
    beside_short,
    beyond_list,
    compare_content,
    in_place_of_short,
    keep_what_is_there,
    meeting,
    still_missing,
    with_stand_ins,
    without_awaited,
    without_missing,
)
from picklist.model.built import BuiltCart


@dataclass(frozen=True, slots=True, kw_only=True)
class ToDo:
    """What a list asks of a cart, what is still missing there, and its report as it holds once that is done."""

    work: ContentChange = field(default_factory=ContentChange)
    still: Content = field(default_factory=Counter)
    report: BuiltCart | None = None

    def asks_beside(self, other: ToDo) -> bool:
        """Whether it asks for something that the other one does not ask for."""
        mine, theirs = self.work, other.work
        for acts in ("add", "take_off"):
            before, after = ({p.piece: p.quantity for p in getattr(one, acts)} for one in (mine, theirs))
            if Counter(before) - Counter(after):
                return True
        return not {*mine.remark} <= {*theirs.remark}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportedCart:
    """What is known to be on a cart: its last report, the list that it speaks of, and what became of it since.

    What lists printed since ask for is not known to be done. ``back`` are things put back since, each by its set or
    item and its lot; ``leaving`` are sets that such a list asks off the cart though it names them: they come later.
    """

    facts: BuiltCart
    content: Content
    short: Short = field(default_factory=Counter)
    back: Counter[tuple[str, str]] = field(default_factory=Counter)
    leaving: frozenset[str] = frozenset()

    def is_older_than(self, revision: int) -> bool:
        """Whether a list was printed since, of which nobody said that it was carried out."""
        return self.facts.revision < revision

    @property
    def actual(self) -> Content:
        """What is there of its list or in place of it, with the trays that it still waits for."""
        return self._without_what_is_back(as_built(self.content, self.facts, self.short), Counter(self.back))

    @property
    def there(self) -> Content:
        """The same without trays that it waits for."""
        return without_awaited(self.actual, self.facts)

    @property
    def beyond(self) -> Content:
        """What lies there beyond its list."""
        listed, back = as_built(self.content, self.facts, self.short), Counter(self.back)
        self._without_what_is_back(listed, back)
        return self._without_what_is_back(beyond_list(listed, self.facts), back)

    @staticmethod
    def _without_what_is_back(content: Content, back: Counter[tuple[str, str]]) -> Content:
        """A content without things put back, as far as it has them; ``back`` keeps what it has not."""
        left: Content = Counter()
        for piece in sorted(content, key=lambda p: p.order):
            body = piece.set_id or piece.thing, piece.lot
            off = min(back[body], content[piece])
            back[body] -= off
            left[piece] = content[piece] - off
        return +left

    def to_do(self, wanted: Content, short: Short, leave: Collection[str], day: date) -> ToDo:
        """What a list asks that wants these pieces on ``day``, and more that is ``short``.

        Sets that ``leave`` come again later. Of a cart that is only started all of its list counts as there: nobody
        knows how much of it is.
        """
        facts, actual, beyond = self.facts, self.actual, self.beyond
        asked = keep_what_is_there(actual, wanted, day) if facts.done else wanted
        lacks = compare_content(actual, asked).add
        gone = self.content - without_missing(self.content, beside_short(facts, self.short))
        trays = [p.piece for p in lacks if (p.piece.wanted, p.piece.copy) in facts.missing_trays]
        if trays:  # also after a list that had no set for it, or had it under another number
            gone = Counter(trays) + Counter({piece: many for piece, many in gone.items() if not piece.set_id})
        still = still_missing(gone, lacks)
        asked = wanted - still
        wanted = with_stand_ins(asked, beside_short(facts, short))
        if facts.done:
            actual, beyond = meeting(actual, wanted, beyond)
        actual += Counter({piece: many for piece, many in beyond.items() if piece.wanted})
        wanted += in_place_of_short(actual, facts, short, wanted)
        if facts.done:
            wanted = keep_what_is_there(actual, wanted, day)
        work = compare_content(actual, wanted)
        if facts.done:
            there = without_awaited(actual, facts)  # a tray that never came is not to be taken off
            off = (line for line in work.take_off if line.piece in there)
            goes = {piece: many for piece, many in wanted.items() if piece.set_id in leave and piece in there}
            both = compare_content(Counter(goes), Counter()).take_off
            work = replace(work, add=(*work.add, *both), take_off=(*off, *both))
        return ToDo(work=work, still=still, report=as_it_holds(facts, asked, still, short, beyond))


def holders(reported: Mapping[str, ReportedCart]) -> dict[str, str]:
    """On which cart each set is by the reports, by set.

    That is the one whose report names it, else a built one whose list does; of several the last reported.
    """
    carts = sorted(reported.items(), key=lambda pair: (pair[1].facts.at, pair[0]))
    sets = [(piece.set_id, key, one.facts) for key, one in carts for piece in one.there if piece.set_id]
    listed = {set_id: key for set_id, key, facts in sets if facts.done}
    return listed | {set_id: key for set_id, key, facts in sets if set_id in facts.taken.values()}
