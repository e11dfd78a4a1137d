"""What the operations did to the lots on the shelves."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from picklist.evening.content import Content, Part, Piece
from picklist.evening.table_changes import DayFacts, TableChange
from picklist.evening.usage import UsageLine
from picklist.model.built import BuiltCart, CountFound
from picklist.model.cards import ThingKind
from picklist.model.catalogue import Lot
from picklist.model.expiry import taking_order
from picklist.model.site import Site
from picklist.problems import NOWHERE, Problem, Severity, Where

_LotKey = tuple[str, str, str]


def lot_changes(
    site: Site, carts: Mapping[str, Content], facts: DayFacts
) -> tuple[tuple[TableChange, ...], tuple[Problem, ...]]:
    """The new quantities of the lots that the carts (content by case) took from, and what does not add up."""
    shelf = _Shelf(lots=site.lots)
    counts = shelf.counts(facts.built)
    taken = {case: shelf.taken(content, facts.built[case], facts.usage) for case, content in carts.items()}
    back = [shelf.came_back(content, case, facts.usage) for case, content in carts.items()]
    changes: list[TableChange] = []
    for lot in site.lots:
        key = (lot.item, lot.lot, lot.place)
        counted = counts.get(key)
        base = counted[1].quantity if counted else lot.quantity
        since = [one for case, one in taken.items() if not counted or facts.built[case].at >= counted[0]]
        left = base - sum(one[key] for one in since) + sum(one[key] for one in back)
        if left < 0:
            shelf.problems.append(_below_zero(lot, base, left))
        elif left != lot.quantity:
            why = "counted, then used on the day" if counted else "used on the day"
            changes.append(
                TableChange(table="Lots", key=key, column="quantity", was=lot.quantity, becomes=left, why=why)
            )
    return tuple(changes), tuple(shelf.problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shelf:
    """The lots, to find the one that is meant; what cannot be found is noted."""

    lots: Sequence[Lot]
    problems: list[Problem] = field(default_factory=list)

    def find(self, item: str, lot: str, place: str) -> list[Lot]:
        """Lots that may be meant; a blank lot or place fits all."""
        return [x for x in self.lots if x.item == item and lot in ("", x.lot) and place in ("", x.place)]

    def key(self, item: str, lot: str, place: str, quantity: int, case: str) -> _LotKey | None:
        """The one lot that is meant; None (noted) when there is none or several."""
        fit = self.find(item, lot, place)
        if len(fit) == 1:
            return fit[0].item, fit[0].lot, fit[0].place
        self._note("lot not known", f"{quantity} of {item} went to case {case}, but not from which lot", item, fit)
        return None

    def taken(self, content: Content, facts: BuiltCart, usage: Iterable[UsageLine]) -> Counter[_LotKey]:
        """What left the shelves for one case: its cart, and what was added beyond the list."""
        found: Counter[_LotKey] = Counter()
        for piece in sorted((p for p in content if not p.set_id), key=lambda p: p.order):
            key = self.key(piece.thing, piece.lot, piece.place, content[piece], facts.case)
            if key:
                found[key] += content[piece]
        for item, quantity in sorted(_added(facts, usage).items()):
            lots = {one.lot for one in facts.added if one.item == item}
            key = self.key(item, lots.pop() if len(lots) == 1 else "", "", quantity, facts.case)
            if key and quantity:
                found[key] += quantity
        return found

    def came_back(self, content: Content, case: str, usage: Iterable[UsageLine]) -> Counter[_LotKey]:
        """What of one cart came back unopened, by lot: those on hold first, then what was taken last."""
        found: Counter[_LotKey] = Counter()
        for line in usage:
            if line.case != case or line.kind is ThingKind.TRAY:
                continue
            left = min(line.unopened, line.open + line.hold)
            for piece in sorted((p for p in content if _is_for(p, line)), key=gives_back):
                both = min(left, content[piece])
                fit = self.find(piece.thing, piece.lot, piece.place)
                if len(fit) == 1:
                    found[fit[0].item, fit[0].lot, fit[0].place] += both
                left -= both
        return found

    def counts(self, built: Mapping[str, BuiltCart]) -> dict[_LotKey, tuple[datetime, CountFound]]:
        """The last count of each lot, made before its cart took anything; counts of no one lot are noted."""
        found: dict[_LotKey, tuple[datetime, CountFound]] = {}
        for facts in sorted(built.values(), key=lambda b: (b.at, b.case)):
            for count in facts.counts:
                fit = self.find(count.item, count.lot, count.place)
                if len(fit) == 1:
                    found[fit[0].item, fit[0].lot, fit[0].place] = (facts.at, count)
                else:
                    what = f"{count.quantity} of {count.item} were counted, but not of which lot"
                    self._note("count of no one lot", what, count.item, fit, count.where)
        return found

    def _note(self, kind: str, message: str, item: str, fit: Sequence[Lot], where: Where = NOWHERE) -> None:
        self.problems.append(
            Problem(
                kind=kind,
                severity=Severity.TO_MEND,
                where=where,
                message=message,
                value=item,
                expected="a count of its lots; their rows were left as they are",
                nearest=tuple(f"{lot.lot} at {lot.place}" for lot in fit[:3]),
            )
        )


def _added(facts: BuiltCart, usage: Iterable[UsageLine]) -> Counter[str]:
    """What was added beyond the list and did not come back, as the room told it or else the crew."""
    lines = [u for u in usage if u.case == facts.case and u.kind is not ThingKind.TRAY]
    found: Counter[str] = Counter()
    for line in lines:
        found[line.thing] += line.added - max(0, line.unopened - line.open - line.hold)
    told = {line.thing for line in lines}
    for one in facts.added:
        if one.item not in told:
            found[one.item] += one.quantity
    return +found


def _is_for(piece: Piece, line: UsageLine) -> bool:
    return not piece.set_id and piece.wanted == line.thing and piece.person == line.person


def gives_back(piece: Piece) -> tuple[bool, int, int, tuple[str, ...]]:
    """A sort key: of what came back unopened, what was on hold first, then what was taken last."""
    kind, day = taking_order(piece.expiry)
    return (piece.part is Part.OPEN, -kind, -day, piece.order)


def _below_zero(lot: Lot, base: int, left: int) -> Problem:
    return Problem(
        kind="lot below zero",
        severity=Severity.TO_MEND,
        where=lot.where,
        message=f"{base} of {lot.item} lot {lot.lot} at {lot.place} were there, and {base - left} were used",
        value=str(left),
        expected="a count of this lot; its row was left as it is",
    )
