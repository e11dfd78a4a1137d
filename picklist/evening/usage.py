"""What was used and what came back unopened: the form for it, read back, and kept in the state file."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from functools import reduce
from pathlib import Path

from picklist.evening.check_facts import UNKNOWN, find_item
from picklist.evening.forms import FormRow, FormSheet, form_bytes, read_form
from picklist.labels.items import speaks_of
from picklist.model.cards import ThingKind
from picklist.model.plan import Cart, Plan
from picklist.model.site import Site
from picklist.problems import NOWHERE, Problem, Where
from picklist.store.state import StateFile
from picklist.store.typed_records import Rows
from picklist.tables.drafts import Ledger
from picklist.tables.forms_schema import USAGE
from picklist.tables.nearest import Candidates
from picklist.tables.rows import Row

BLANK_ROWS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedPackage:
    """How many were used of one lot, or of one serial number."""

    lot: str
    expiry: date | None = None
    serial: str = ""
    used: int

    @property
    def mark(self) -> tuple[str, str]:
        """What tells packages of one thing apart."""
        return self.lot, self.serial


@dataclass(frozen=True, slots=True, kw_only=True)
class UsageLine:
    """What became of one thing of one case.

    ``open`` and ``hold`` are what the list put on the cart, ``added`` what was asked for beyond it.
    ``used`` and ``unopened`` together are at most all of these; the rest was opened and not used.
    ``unopened_told``: the room wrote how many came back; else it is the rest of what the list held.
    ``packages``: those of which the room reported lot or serial number.
    """

    day: date
    case: str
    surgeon: str
    procedures: tuple[str, ...]
    kind: ThingKind
    thing: str
    person: str = ""
    set_id: str = ""
    open: int = 0
    hold: int = 0
    added: int = 0
    used: int = 0
    unopened: int = 0
    unopened_told: bool = True
    packages: tuple[UsedPackage, ...] = ()
    where: Where = field(default=NOWHERE, compare=False, repr=False)

    @property
    def key(self) -> tuple[str, ...]:
        """What of which case it speaks of."""
        return self.case, self.kind, self.thing, self.person, self.set_id

    @property
    def there(self) -> int:
        """How many were on the cart or added to it."""
        return self.open + self.hold + self.added

    @property
    def opened(self) -> int:
        """How many were opened, used or not."""
        return self.there - self.unopened


def usage_workbook(plan: Plan) -> bytes:
    """The form as a workbook: a row for each thing on each cart, with boxes for used and unopened, and blank rows."""
    carts = [cart for cart in plan.carts if not cart.stopped]
    title = f"{plan.settings.site}, {plan.settings.site_clock.day_text(plan.day)}: what was used"
    sheet = FormSheet(
        table=USAGE,
        title=title,
        to_do="Fill in 'used'; 'unopened' where it was not just the rest of what was on hold. "
        "Below: what was asked for beyond the list ('added'). Scan a maker's label into 'thing' or 'lot'.",
        rows=tuple(row for cart in carts for row in _rows(cart)),
        blank_rows=BLANK_ROWS,
    )
    return form_bytes([sheet])


def _rows(cart: Cart) -> Iterable[FormRow]:
    """What the list really puts on a cart: what is short is not there, so it can neither be used nor come back."""
    for line in cart.trays:
        opened, there = int(not line.on_hold), int(bool(line.set_id))
        named = {"name": line.name_with_side, "set": line.set_id}
        yield _row(cart, ThingKind.TRAY, line.need.thing, **named, open=opened * there, hold=(1 - opened) * there)
    for sundry in cart.goods:
        need = sundry.need
        opened, held = sum(one.open for one in sundry.picks), sum(one.hold for one in sundry.picks)
        yield _row(cart, need.kind, need.thing, name=need.name, person=need.person, open=opened, hold=held)


def _row(cart: Cart, kind: ThingKind, thing: str, **values: str | int) -> FormRow:
    return FormRow(values={"case": cart.case.number, "kind": kind.value, "thing": thing, **values})


def read_usage(path: Path, plan: Plan, site: Site) -> tuple[tuple[UsageLine, ...], tuple[Problem, ...]]:
    """What a filled form, or a CSV file with the same columns, reports; rows without 'used' report nothing.

    A thing may have a row for each lot or serial number. One that puts nothing on the cart itself speaks of what
    the list put there.
    """
    ledger = Ledger(plan.settings.site_clock.day(plan.now))
    reader = _UsageReader(plan=plan, site=site, ledger=ledger)
    rows = read_form(path, [USAGE], ledger).get(USAGE.name, [])
    told: dict[tuple[str, ...], list[UsageLine]] = {}
    for row in rows:
        line = reader.line(row)
        if line is None:
            continue
        before = told.setdefault(line.key, [])
        marks = {package.mark for one in before for package in one.packages}
        if before and (not line.packages or line.packages[0].mark in marks):
            ledger.report(
                "told twice",
                row.where("thing"),
                "this thing of the case is here a second time; its first row counts",
                value=line.thing,
                expected="one row for each thing of a case, or for each lot or serial number of it",
                related=(before[0].where,),
            )
        else:
            before.append(line)
    found = (reader.joined(lines) for lines in told.values())
    return tuple(line for line in found if line), ledger.problems()


def together(one: UsageLine, other: UsageLine) -> UsageLine:
    """Two rows of one thing as one: they differ in lot or serial number, or in how it is handled."""
    return replace(
        one,
        open=one.open + other.open,
        hold=one.hold + other.hold,
        added=one.added + other.added,
        used=one.used + other.used,
        unopened=one.unopened + other.unopened,
        unopened_told=one.unopened_told or other.unopened_told,
        packages=(*one.packages, *other.packages),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _UsageReader:
    """Turns rows into lines, against the plan and the site."""

    plan: Plan
    site: Site
    ledger: Ledger

    def line(self, row: Row) -> UsageLine | None:
        filled = [n for n in ("added", "used", "unopened", "lot", "serial") if row.values.get(n) or n in row.bad]
        if row.values.get("used") is None and not filled:
            return None
        if not row.has(*(column.name for column in USAGE.columns if column.name != "name")):
            return None
        cart = self.plan.cart(row.values["case"])
        if cart is None:
            known = [c.case.number for c in self.plan.carts]
            self._report(row, "unknown case", "case", "no list of that day is of this case", known)
            return None
        return self._told(row, cart) if self._is_named(row) and self._is_known(row, cart) else None

    def _is_named(self, row: Row) -> bool:
        """Whether the thing is named so that it can be looked up; a label gives way to its item's number."""
        thing, items = row.values["thing"], self.site.items
        if row.values["kind"] != ThingKind.ITEM.value:
            return True
        if thing not in items:
            today = self.plan.settings.site_clock.day(self.plan.now)
            one, problem = find_item(thing, self.site, today, row.where("thing"))
            if problem and problem.kind != UNKNOWN:
                self.ledger.report(problem.kind, problem.where, problem.message, nearest=problem.nearest)
                return False
            row.values["thing"] = thing = one.item if one else thing
        item = items.get(thing)
        if row.label is None or item is None or speaks_of(row.label, item):
            return True
        self._report(row, "label of another item", "thing", "the label in this row is of another item", ())
        return False

    def _is_known(self, row: Row, cart: Cart) -> bool:
        """Whether all ids of a row are known, of the site or of the cart's list."""
        thing, kind = row.values["thing"], row.values["kind"]
        of_kind = {"tray": self.site.trays, "pack": self.site.packs, "item": self.site.items}
        if thing not in of_kind[kind]:
            other = next((name for name, ids in of_kind.items() if thing in ids), "")
            expected = f"{other} under 'kind'" if other else f"the id of a known {kind}"
            self._report(row, f"unknown {kind}", "thing", f"this is not a known {kind}", of_kind[kind], expected)
            return False
        people = {need.person for need in (line.need for line in cart.goods)} | {*self.site.staff}
        for column, known in (("set", {line.set_id for line in cart.trays} | {*self.site.sets}), ("person", people)):
            if row.values.get(column) and row.values[column] not in known:
                expected = f"the id of a known {column}, or nothing"
                self._report(row, f"unknown {column}", column, f"this is not a known {column}", known, expected)
                return False
        return True

    def _told(self, row: Row, cart: Cart) -> UsageLine | None:
        values = row.values
        used, unopened = values.get("used"), values.get("unopened")
        if used is None:
            self._report(row, "used not told", "used", "it says what came back or was added, but not what was used", ())
            return None
        if values.get("serial") and used > 1:
            what = "a serial number is that of one package: a row for each"
            self._report(row, "serial number twice", "used", what, ())
            return None
        return UsageLine(
            day=cart.case.day,
            case=cart.case.number,
            surgeon=cart.case.surgeon,
            procedures=cart.case.procedures,
            kind=ThingKind(values["kind"]),
            thing=values["thing"],
            person=values.get("person") or "",
            set_id=values.get("set") or "",
            open=values["open"],
            hold=values["hold"],
            added=values["added"],
            used=used,
            unopened=unopened or 0,
            unopened_told=unopened is not None,
            packages=self._packages(row, used),
            where=row.where("used"),
        )

    def joined(self, told: Sequence[UsageLine]) -> UsageLine | None:
        """The rows of one thing as one; None where one of them says more than can be.

        Those that put nothing on the cart themselves are joined with the row of the list, filled in or not.
        """
        own, others = [one for one in told if one.there], [one for one in told if not one.there]
        if others:
            of_list = next((one for one in own if one.open or one.hold), None)
            first = of_list or self._as_listed(others.pop(0))
            own = [reduce(together, others, first), *(one for one in own if one is not of_list)]
        whole = [self._whole(one) for one in own]
        if None in whole:
            return None
        return reduce(together, (one for one in whole if one))

    def _as_listed(self, line: UsageLine) -> UsageLine:
        """A row with what the list put on the cart of its thing."""
        cart = self.plan.cart(line.case)
        rows = (row.values for row in _rows(cart)) if cart else ()
        named = ("case", "kind", "thing", "person", "set")
        mine = [row for row in rows if tuple(row.get(name) or "" for name in named) == line.key]
        opened, held = (sum(int(str(row[name])) for row in mine) for name in ("open", "hold"))
        return replace(line, open=opened, hold=held)

    def _whole(self, line: UsageLine) -> UsageLine | None:
        """A row with what came back, as it is stated or else the rest; None (reported) where it is more than can be."""
        unopened = line.unopened if line.unopened_told else line.there - max(line.open + line.added, line.used)
        if line.used > line.there or line.used + unopened > line.there:
            what = f"{line.used} used and {max(unopened, 0)} unopened are more than the {line.there} on the cart"
            message = f"{what}; what came beyond the list is 'added'"
            self.ledger.report("more than on the cart", line.where, message, value=str(line.used))
            return None
        return replace(line, unopened=unopened)

    def _packages(self, row: Row, used: int) -> tuple[UsedPackage, ...]:
        lot, serial = row.values.get("lot") or "", row.values.get("serial") or ""
        if not (lot or serial):
            return ()
        known = {one.expiry for one in self.site.lots if (one.item, one.lot) == (row.values["thing"], lot)}
        stated = row.label.expiry if row.label else None
        [only] = known if len(known) == 1 else {None}
        expiry = stated or (only if isinstance(only, date) else None)
        return (UsedPackage(lot=lot, expiry=expiry, serial=serial, used=used),)

    def _report(self, row: Row, kind: str, column: str, message: str, known: Iterable[str], expected: str = "") -> None:
        written = str(row.values.get(column) or "")
        near = Candidates(sorted(known)).nearest(written)
        self.ledger.report(kind, row.where(column), message, value=written, expected=expected, nearest=near)


def used_of_opened(lines: Sequence[UsageLine]) -> tuple[int, int]:
    """How many were used and how many opened, over all lines together.

    Their ratio is one of sums: a mean of each line's ratio would weigh a line of one thing like a
    line of a hundred.
    """
    return sum(line.used for line in lines), sum(line.opened for line in lines)


_USAGE = Rows("usage_line", UsageLine, case="number", packages="", where="")
_PACKAGES = Rows("usage_piece", UsedPackage)
_LINE_KEY = ("day", "number", "kind", "thing", "person", "set_id")
_OF_LINE = " AND ".join(f"{name} = ?" for name in _LINE_KEY)


def record_usage(state: StateFile, lines: Sequence[UsageLine], told_at: datetime, told_by: str = "") -> None:
    """Keep what was used, all or nothing; a line reported again replaces the earlier one."""
    with state.writing() as db:
        for line in lines:
            _USAGE.keep(db, [line], told_at=told_at.isoformat(), told_by=told_by)
            key = {name: cell for name, cell in _USAGE.cells(line).items() if name in _LINE_KEY}
            db.execute(f"DELETE FROM usage_piece WHERE {_OF_LINE}", tuple(key.values()))
            _PACKAGES.keep(db, line.packages, **key)


def usage_history(state: StateFile, since: date | None = None) -> tuple[UsageLine, ...]:
    """All usage reported, from a day on if one is given, in the order of day, case and thing."""
    with state.reading() as db:
        rows = db.execute(
            f"SELECT * FROM usage_line WHERE day >= ? ORDER BY {', '.join(_LINE_KEY)}",
            (since.isoformat() if since else "",),
        ).fetchall()
        packages: dict[tuple[str, ...], tuple[UsedPackage, ...]] = defaultdict(tuple)
        for row in db.execute("SELECT * FROM usage_piece ORDER BY rowid").fetchall():
            packages[_key(row)] += _PACKAGES.read([row])
    return tuple(replace(line, packages=packages[_key(row)]) for row, line in zip(rows, _USAGE.read(rows), strict=True))


def _key(row: sqlite3.Row) -> tuple[str, ...]:
    return tuple(row[name] for name in _LINE_KEY)
