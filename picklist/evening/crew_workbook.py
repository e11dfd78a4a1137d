"""The workbook in which the crew ticks off carts: written from a plan, and read back as facts about carts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, time, timedelta
from pathlib import Path

from picklist.clock import SiteClock
from picklist.evening.forms import FormRow, FormSheet, form_bytes, read_form
from picklist.labels.items import speaks_of
from picklist.model.built import BuiltCart, CountFound, MissingThing, StoodIn, TakenItem, TakenSet
from picklist.model.catalogue import Item
from picklist.model.plan import Cart, Plan, SundryLine, TrayLine, in_order_of_completion
from picklist.problems import Problem, Where
from picklist.tables.drafts import Ledger
from picklist.tables.forms_schema import ADDED, CARTS, CREW_TABLES, THINGS, TRAYS
from picklist.tables.private import may_be_quoted
from picklist.tables.rows import Row

BLANK_ROWS = 40
TITLES = {CARTS: "carts", TRAYS: "trays", THINGS: "packs and items", ADDED: "added by hand"}
TO_DO = {
    CARTS: "Write yes when a cart is built, and your initials. The next build then knows it.",
    TRAYS: "Fill in only what is not as planned. A list is no record of sterility: check each package.",
    THINGS: "Fill in only what was missing or stood in, and counts that you made.",
    ADDED: "What you put on a cart though its list does not ask for it.",
}


def cart_workbook(plan: Plan, revisions: Mapping[str, int] | None = None) -> bytes:
    """The crew's workbook: a row for every cart, tray and item, and boxes to fill.

    ``revisions`` gives the list that counts for a case where it is older than the plan.
    """
    clock = plan.settings.site_clock
    heading = f"{plan.settings.site}, carts of {clock.day_text(plan.day)}, revision {plan.revision}"
    carts = [cart for cart in in_order_of_completion(plan.carts) if not cart.stopped]
    lists = revisions or {}
    rows = {
        CARTS: [_cart_row(cart, lists.get(cart.case.number, plan.revision), clock) for cart in carts],
        TRAYS: [_tray_row(cart, line, plan) for cart in carts for line in cart.trays],
        THINGS: [row for cart in carts for line in cart.goods for row in _thing_rows(cart, line)],
        ADDED: [],
    }
    sheets = [
        FormSheet(
            table=table,
            title=f"{heading}: {TITLES[table]}",
            to_do=TO_DO[table],
            rows=tuple(some),
            blank_rows=BLANK_ROWS if table is ADDED else 0,
        )
        for table, some in rows.items()
    ]
    return form_bytes(sheets)


def _cart_row(cart: Cart, revision: int, clock: SiteClock) -> FormRow:
    case = cart.case
    return FormRow(
        values={
            "day": case.day,
            "case": case.number,
            "list": revision,
            "room": case.room,
            "start": clock.wall_text(clock.wall(case.start).time()),
            "surgeon": cart.surgeon_name,
        }
    )


def _tray_row(cart: Cart, line: TrayLine, plan: Plan) -> FormRow:
    sided = frozenset(tray.id for tray in plan.trays if tray.sided)
    sets = tuple(
        one.id
        for tray in plan.may_serve(line.need.thing)
        for one in plan.sets
        if one.tray == tray and (tray not in sided or one.serves_side(line.need.side))
    )
    return FormRow(
        values={
            "case": cart.case.number,
            "tray": line.need.thing,
            "copy": line.copy,
            "name": line.name_with_side,
            "set planned": line.set_id,
        },
        choices={"set taken": sets},
    )


def _thing_rows(cart: Cart, line: SundryLine) -> list[FormRow]:
    parts: list[dict[str, str | int]] = [
        {"place": pick.place, "lot": pick.lot, "open": pick.open, "hold": pick.hold} for pick in line.picks
    ]
    if line.is_short:
        parts.append({"open": line.short_open, "hold": line.short_hold})
    need, choices = line.need, {"stood in": tuple(item for item, _ in line.stand_ins)}
    named = {"case": cart.case.number, "item": need.thing, "name": need.name, "person": need.person}
    return [FormRow(values={**named, **own}, choices=choices) for own in parts]


NO_ITEMS: Mapping[str, Item] = {}


def read_cart_workbook(
    path: Path, clock: SiteClock, now: datetime, items: Mapping[str, Item] = NO_ITEMS
) -> tuple[tuple[BuiltCart, ...], tuple[Problem, ...]]:
    """What the crew filled in, by cart, and what cannot be read with its cell.

    A cart without anything filled in gives no fact. One with a cell that cannot be read gives none either: it could
    say that a thing is not on the cart. A time without a day is the last such time before ``now``. Whether sets and
    items exist is for ``check_facts`` to say; ``items`` only tells whether a label beside an item's number is that
    item's.
    """
    ledger = Ledger(clock.day(now))
    rows = read_form(path, CREW_TABLES, ledger)
    reader = _CartReader(clock=clock, now=now, ledger=ledger, items=items)
    told = reader.carts(rows.get(CARTS.name, []))
    reader.trays(rows.get(TRAYS.name, []), told)
    reader.things(rows.get(THINGS.name, []), told)
    reader.added(rows.get(ADDED.name, []), told)
    reader.report_left_out(path.name)
    found = (cart for cart in told.values() if _says_anything(cart) and cart.case not in reader.unclear)
    return tuple(found), ledger.problems()


def _says_anything(cart: BuiltCart) -> bool:
    parts = (cart.sets, cart.missing, cart.stood_in, cart.counts, cart.added, cart.by, cart.remark)
    return cart.done or cart.not_done or any(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class _CartReader:
    """Turns filled rows into facts; ``unclear`` are cases of which a cell cannot be read."""

    clock: SiteClock
    now: datetime
    ledger: Ledger
    items: Mapping[str, Item]
    unclear: dict[str, None] = field(default_factory=dict)

    def report_left_out(self, file: str) -> None:
        if self.unclear:
            carts = ", ".join(case if may_be_quoted(case, ()) else "another one" for case in self.unclear)
            what = f"nothing is recorded of these carts until their cells are fixed: {carts}"
            self.ledger.notice("carts left out", Where(file=file), what)

    def _can_be_read(self, row: Row, *columns: str) -> bool:
        """Whether these cells of a row can be read; else the row's cart is left out."""
        good = row.has(*columns)
        if not good and row.has("case"):
            self.unclear[row.values["case"]] = None
        return good

    def _refuse(self, row: Row, kind: str, column: str, message: str, *, value: str = "", expected: str = "") -> None:
        """Report a cell that cannot be; the row's cart is left out."""
        self.unclear[row.values["case"]] = None
        self.ledger.report(kind, row.where(column), message, value=value, expected=expected)

    def carts(self, rows: Iterable[Row]) -> dict[str, BuiltCart]:
        told: dict[str, BuiltCart] = {}
        for row in rows:
            if not row.has("day", "case", "list"):
                continue
            cart = self._cart(row)
            if cart.case in told:
                self.ledger.report(
                    "doubled case",
                    row.where("case"),
                    "this case is here a second time; its first row counts",
                    value=cart.case,
                    expected="one row for each cart",
                    related=(told[cart.case].where,),
                )
            told.setdefault(cart.case, cart)
        return told

    def _cart(self, row: Row) -> BuiltCart:
        values = row.values
        done = self._can_be_read(row, "done") and bool(values.get("done"))
        if done and not values.get("by"):
            self.ledger.notice("no initials", row.where("by"), "this cart is done, but nobody signed")
        return BuiltCart(
            day=values["day"],
            case=values["case"],
            revision=values["list"],
            at=last_time(self.clock, values.get("finished"), self.now),
            done=done,
            not_done=values.get("done") is False and row.has("done"),
            by=values.get("by") or "",
            remark=values.get("remark") or "",
            where=row.where("case"),
        )

    def _of(self, row: Row, told: Mapping[str, BuiltCart]) -> BuiltCart | None:
        """The cart of a row that says something; a case that is on no row of Carts is a problem."""
        if not row.has("case"):
            return None
        case = row.values["case"]
        if case not in told:
            self.ledger.report(
                "unknown case",
                row.where("case"),
                f"this case is not on the sheet {CARTS.name}",
                value=case,
                expected=f"a case of the sheet {CARTS.name}",
            )
        return told.get(case)

    def trays(self, rows: Iterable[Row], told: dict[str, BuiltCart]) -> None:
        for row in rows:
            taken, missing = row.values.get("set taken"), row.values.get("missing")
            if not self._can_be_read(row, "tray", "copy", "set taken", "missing") or not (taken or missing is not None):
                continue
            cart = self._of(row, told)
            if cart is None:
                continue
            tray, copy = row.values["tray"], row.values["copy"]
            if taken and missing:
                self._refuse(
                    row,
                    "taken and missing",
                    "missing",
                    "a tray cannot be missing and taken as another set",
                    expected="one of the two",
                )
            elif taken:
                one = TakenSet(tray=tray, copy=copy, set_id=taken, where=row.where("set taken"))
                told[cart.case] = replace(cart, sets=(*cart.sets, one))
            else:
                gone = MissingThing(thing=tray, copy=copy, quantity=int(bool(missing)), where=row.where("missing"))
                told[cart.case] = replace(cart, missing=(*cart.missing, gone))

    def things(self, rows: Iterable[Row], told: dict[str, BuiltCart]) -> None:
        for row in rows:
            filled = [name for name in ("missing", "stood in", "how many", "count found") if _filled(row, name)]
            if not filled or not self._can_be_read(row, "item", *filled):
                continue
            cart = self._of(row, told)
            if cart is not None:
                told[cart.case] = self._with_thing(cart, row)

    def _with_thing(self, cart: BuiltCart, row: Row) -> BuiltCart:
        values = row.values
        item, person = values["item"], values.get("person") or ""
        missing, instead, count = values.get("missing"), values.get("stood in"), values.get("count found")
        listed = (values.get("open") or 0) + (values.get("hold") or 0)
        if missing is not None and missing > listed:
            self._refuse(
                row,
                "more than listed",
                "missing",
                f"{missing} are reported missing, but the list asks for {listed} here",
                value=str(missing),
                expected=f"0 to {listed}",
            )
        if missing is not None:
            gone = MissingThing(thing=item, quantity=missing, person=person, where=row.where("missing"))
            cart = replace(cart, missing=(*cart.missing, gone))
        if instead:
            quantity = values.get("how many") or missing or listed
            stood = StoodIn(thing=item, stood_in=instead, quantity=quantity, person=person, where=row.where("stood in"))
            cart = replace(cart, stood_in=(*cart.stood_in, stood))
        elif values.get("how many"):
            self._refuse(
                row,
                "nothing stood in",
                "how many",
                "it says how many stood in, but not what",
                expected="the item that stood in, in the column 'stood in'",
            )
        if count is not None:
            found = CountFound(
                item=item,
                quantity=count,
                lot=values.get("lot") or "",
                place=values.get("place") or "",
                where=row.where("count found"),
            )
            cart = replace(cart, counts=(*cart.counts, found))
        return cart

    def added(self, rows: Iterable[Row], told: dict[str, BuiltCart]) -> None:
        for row in rows:
            if not self._can_be_read(row, "item", "quantity", "lot"):
                continue
            cart = self._of(row, told)
            if cart is not None and self._is_its_label(row):
                values = row.values
                one = TakenItem(
                    item=values["item"],
                    quantity=values["quantity"],
                    lot=values.get("lot") or "",
                    expiry=row.label.expiry if row.label else None,
                    serial=row.label.serial if row.label else "",
                    where=row.where("item"),
                )
                told[cart.case] = replace(cart, added=(*cart.added, one))

    def _is_its_label(self, row: Row) -> bool:
        """Whether the label in a row is of the item that the row names by its number."""
        item = self.items.get(row.values["item"])
        if row.label is None or item is None or speaks_of(row.label, item):
            return True
        message = "the label in this row is of another item"
        self._refuse(row, "label of another item", "item", message, value=item.id)
        return False


def _filled(row: Row, name: str) -> bool:
    return row.values.get(name) not in (None, "") or name in row.bad


def last_time(clock: SiteClock, wall: time | None, now: datetime) -> datetime:
    """The last moment, not after ``now``, at which the clock showed that time; ``now`` when none was written."""
    if wall is None:
        return now
    today = clock.day(now)
    found = clock.at_or_after(today, wall)
    return found if found <= now else clock.at_or_after(today - timedelta(days=1), wall)
