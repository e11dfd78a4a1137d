"""The report on one cart as a form shows it, row by row, and the report that a filled form makes of it."""

from __future__ import annotations

import hashlib
from collections.abc import Collection
from dataclasses import dataclass, replace

from picklist.model.built import BuiltCart, CountFound, Line, MissingThing, StoodIn, TakenItem, TakenSet
from picklist.model.plan import Cart, Plan
from picklist.problems import Where
from picklist.wording.say_carts import report_line

RowKey = tuple[str, int]  # tray and copy, as on the list; an item has no copy: 0
FORM = "form"


@dataclass(frozen=True, slots=True, kw_only=True)
class RowCells:
    """The cells of a row: the set on the cart, how many did not come, what took their place, and the shelf's count."""

    set_id: str = ""
    missing: int = 0
    stood_in: str = ""
    stood_many: int = 0
    count: int | None = None


def report_mark(report: BuiltCart | None) -> str:
    """A short word that changes with any fact of a report, for a form to carry."""
    return hashlib.sha256(repr(report).encode()).hexdigest()[:16]


def empty_report(plan: Plan, case: str, revision: int) -> BuiltCart:
    """A report on a cart of which nothing is known, for a form to fill in."""
    return BuiltCart(day=plan.day, case=case, revision=revision, at=plan.now, where=Where(file=FORM))


def row_keys(cart: Cart) -> tuple[RowKey, ...]:
    """The rows of a cart's form: its trays, and each thing that is picked from stock once."""
    trays = [line.key for line in cart.trays]
    return tuple(dict.fromkeys((*trays, *((line.need.thing, 0) for line in cart.goods))))


def cells_of(report: BuiltCart | None, key: RowKey) -> RowCells:
    """What is known of a thing on the list, as far as one row can hold it; ``further_facts`` has the rest."""
    if report is None:
        return RowCells()
    thing, copy = key
    stood = [one for one in report.stood_in if one.thing == thing and not copy]
    one = stood[0] if len(stood) == 1 else None
    return RowCells(
        set_id=report.taken.get(key, ""),
        missing=int(key in report.missing_trays) if copy else report.missing_of(thing),
        stood_in=one.stood_in if one else "",
        stood_many=one.quantity if one else 0,
        count=next((found.quantity for found in report.counts if not copy and found.about == _count(thing)), None),
    )


def with_cells(report: BuiltCart, key: RowKey, cells: RowCells) -> BuiltCart:
    """The report with what a row says; what the row does not change stays."""
    known, (thing, copy) = cells_of(report, key), key
    where = Where(file=f"{FORM} of cart {report.case}", cell=thing)
    if cells.set_id != known.set_id:
        report = report.without_lines(lambda one: isinstance(one, TakenSet) and (one.tray, one.copy) == key)
    if cells.missing != known.missing:
        report = report.with_line(MissingThing(thing=thing, copy=copy, quantity=cells.missing, where=where))
    if cells.set_id and cells.set_id != known.set_id:
        report = report.with_line(TakenSet(tray=thing, copy=copy, set_id=cells.set_id, where=where))
    if (cells.stood_in, cells.stood_many) != (known.stood_in, known.stood_many):
        if known.stood_in:
            report = report.without_lines(lambda one: isinstance(one, StoodIn) and one.thing == thing)
        stood = StoodIn(thing=thing, stood_in=cells.stood_in, quantity=cells.stood_many, where=where)
        report = report.with_line(stood) if cells.stood_in else report
    if cells.count != known.count:
        report = report.without_lines(lambda one: one.about == _count(thing))
        if cells.count is not None:
            report = report.with_line(CountFound(item=thing, quantity=cells.count, where=where))
    return report


def with_numbers(report: BuiltCart) -> BuiltCart:
    """The report whose stand-ins without a number are as many as are missing, or one."""
    stood = (
        replace(one, quantity=one.quantity or cells_of(report, (one.thing, 0)).missing or 1) for one in report.stood_in
    )
    return replace(report, stood_in=tuple(stood))


def _count(item: str) -> tuple[object, ...]:
    return CountFound(item=item, quantity=0).about


def carry_over(
    said: BuiltCart, base: BuiltCart | None, now: BuiltCart, cart: Cart
) -> tuple[BuiltCart, tuple[str, ...]]:
    """A form that was filled in over ``base``, laid over the report of ``now``; and what both changed differently.

    Rows that the form did not touch are those of ``now``; of what both changed, the form's stands, by its name.
    """
    both = []
    joined = without_facts(now, {_name(one, base) for one in base.lines if one not in said.lines} if base else ())
    for key in row_keys(cart):
        mine, before, theirs = (cells_of(one, key) for one in (said, base, now))
        both += [key[0]] if _both(mine, before, theirs) else []
        joined = joined if mine == before else with_cells(joined, key, mine)
    by, remark = (base.by, base.remark) if base else ("", "")
    both += ["remark"] if _both(said.remark, remark, now.remark) else []
    joined = replace(
        joined,
        revision=max(said.revision, now.revision),
        done=said.done or now.done,
        by=now.by if said.by == by else said.by,
        remark=now.remark if said.remark == remark else said.remark,
        added=(*joined.added, *new_by_hand(said, base)),
    )
    return joined, tuple(both)


def _both(said: object, base: object, now: object) -> bool:
    return base not in (said, now) and said != now


def new_by_hand(said: BuiltCart, base: BuiltCart | None) -> tuple[TakenItem, ...]:
    """What a form adds to a cart beyond its list."""
    return tuple(one for one in said.added if base is None or one not in base.added)


def further_facts(report: BuiltCart | None, cart: Cart) -> dict[str, str]:
    """What was reported beyond the form's rows, in words, by a name under which it can be taken away."""
    if report is None:
        return {}
    rows = frozenset(row_keys(cart))
    return {_name(one, report): report_line(one, report) for one in report.lines if not _in_a_row(one, report, rows)}


def without_facts(report: BuiltCart, names: Collection[str]) -> BuiltCart:
    """The report without some facts, by their names (see ``further_facts``)."""
    return report.without_lines(lambda one: _name(one, report) in names)


def without_what_left_the_list(report: BuiltCart, cart: Cart) -> BuiltCart:
    """The crew carried the changes out: what the list no longer asks for is dropped from the report."""
    rows = row_keys(cart)
    return report.without_lines(lambda one: not isinstance(one, CountFound | TakenItem) and _row_of(one) not in rows)


def _row_of(line: Line) -> RowKey:
    match line:
        case TakenSet():
            return line.tray, line.copy
        case MissingThing():
            return line.thing, line.copy
        case StoodIn():
            return line.thing, 0
        case CountFound() | TakenItem():
            return line.item, 0


def _in_a_row(line: Line, report: BuiltCart, rows: frozenset[RowKey]) -> bool:
    """Whether a row of the form shows a line."""
    shown = not isinstance(line, TakenItem)
    if isinstance(line, StoodIn):
        shown = sum(one.thing == line.thing for one in report.stood_in) == 1
    if isinstance(line, CountFound):
        shown = not (line.lot or line.place)
    return shown and _row_of(line) in rows


def _name(line: Line, report: BuiltCart) -> str:
    hand = "added" if isinstance(line, TakenItem) and line in report.added else "told"
    return hashlib.sha256(f"{hand} {line!r}".encode()).hexdigest()[:16]
