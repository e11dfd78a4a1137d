"""The workbook in which the crew ticks off carts, written from a plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from picklist.clock import SiteClock
from picklist.evening.forms import FormRow, FormSheet, write_form
from picklist.model.plan import Cart, Plan, SundryLine, TrayLine
from picklist.tables.forms_schema import ADDED, CARTS, THINGS, TRAYS

BLANK_ROWS = 40


def write_cart_workbook(plan: Plan, path: Path, revisions: Mapping[str, int] | None = None) -> None:
    """Write the crew's workbook: a row for every cart, tray and item, and boxes to fill.

    ``revisions`` gives the list that counts for a case where it is older than the plan.
    """
    clock = plan.settings.site_clock
    heading = f"{plan.settings.site}, carts of {clock.day_text(plan.day)}, revision {plan.revision}"
    carts = [cart for cart in plan.carts if not cart.stopped]
    lists = revisions or {}

    def sheet(table_of: FormSheet) -> FormSheet:
        return replace(table_of, title=f"{heading}: {table_of.title}")

    write_form(
        path,
        [
            sheet(
                FormSheet(
                    table=CARTS,
                    title="carts",
                    to_do="Write yes when a cart is built, and your initials. The next build then knows it.",
                    rows=tuple(_cart_row(c, lists.get(c.case.number, plan.revision), clock) for c in carts),
                )
            ),
            sheet(
                FormSheet(
                    table=TRAYS,
                    title="trays",
                    to_do="Fill in only what is not as planned. A list is no record of sterility: check each package.",
                    rows=tuple(_tray_row(c, line, plan) for c in carts for line in c.trays),
                )
            ),
            sheet(
                FormSheet(
                    table=THINGS,
                    title="packs and items",
                    to_do="Fill in only what was missing or stood in, and counts that you made.",
                    rows=tuple(row for c in carts for line in c.goods for row in _thing_rows(c, line)),
                )
            ),
            sheet(
                FormSheet(
                    table=ADDED,
                    title="added by hand",
                    to_do="What you put on a cart though its list does not ask for it.",
                    rows=(),
                    blank_rows=BLANK_ROWS,
                )
            ),
        ],
    )


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
    stand_ins = [s.tray for tray in plan.trays if tray.id == line.need.thing for s in tray.stand_ins]
    trays = [line.need.thing, *stand_ins]
    sided = frozenset(tray.id for tray in plan.trays if tray.sided)
    sets = tuple(
        one.id
        for tray in trays
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
    return [_thing_row(cart, line, own) for own in parts]


def _thing_row(cart: Cart, line: SundryLine, own: Mapping[str, str | int]) -> FormRow:
    return FormRow(
        values={
            "case": cart.case.number,
            "item": line.need.thing,
            "name": line.need.name,
            "person": line.need.person,
            **own,
        },
        choices={"stood in": tuple(item for item, _ in line.stand_ins)},
    )
