"""The sheets on which the crew tells what really came onto the carts."""

from __future__ import annotations

from picklist.tables.columns import CellType, Column, Table

CARTS = Table(
    name="Carts",
    of_cases=True,
    row_is="a cart",
    key=("case",),
    columns=(
        Column(name="day", type=CellType.DATE, required=True, help="Day of the operation", width=12),
        Column(name="case", type=CellType.CODE, refers_to="Schedule", required=True, help="Case number", width=12),
        Column(
            name="list",
            type=CellType.WHOLE,
            required=True,
            least=1,
            help="Revision of its list",
            width=6,
        ),
        Column(name="room", type=CellType.TEXT, help="Room", width=10),
        Column(name="start", type=CellType.TIME, help="Start", width=8),
        Column(name="surgeon", type=CellType.TEXT, help="Surgeon", width=22),
        Column(name="done", type=CellType.YES_NO, help="yes when the cart is built, no to take that back", width=8),
        Column(name="by", type=CellType.TEXT, help="Initials of whoever built it", width=8),
        Column(name="finished", type=CellType.TIME, help="When it was finished; empty: now", width=10),
        Column(name="remark", type=CellType.TEXT, help="Anything the next shift should know. Never a name", width=36),
    ),
)

TRAYS = Table(
    name="Trays",
    of_cases=True,
    row_is="a tray on a cart",
    key=("case", "tray", "copy"),
    columns=(
        Column(name="case", type=CellType.CODE, refers_to="Schedule", required=True, help="Case number", width=12),
        Column(
            name="tray",
            type=CellType.CODE,
            refers_to="Trays",
            required=True,
            help="Tray that the list asks for",
            width=14,
        ),
        Column(name="copy", type=CellType.WHOLE, required=True, least=1, help="Which of several of one tray", width=7),
        Column(name="name", type=CellType.TEXT, help="Name", width=32),
        Column(name="set planned", type=CellType.CODE, refers_to="Sets", help="Set that the list names", width=14),
        Column(
            name="set taken",
            type=CellType.CODE,
            refers_to="Sets",
            help="Only if another set was taken, or one came later",
            width=14,
        ),
        Column(
            name="missing", type=CellType.YES_NO, help="yes when no set is on the cart, no when it was found", width=9
        ),
    ),
)

THINGS = Table(
    name="Things",
    of_cases=True,
    row_is="an item or pack on a cart",
    key=("case", "item", "lot", "place", "person"),
    columns=(
        Column(name="case", type=CellType.CODE, refers_to="Schedule", required=True, help="Case number", width=12),
        Column(
            name="item",
            type=CellType.CODE,
            refers_to="Items",
            required=True,
            help="Item or pack that the list asks for",
            width=13,
        ),
        Column(name="name", type=CellType.TEXT, help="Name", width=32),
        Column(name="person", type=CellType.CODE, refers_to="Staff", help="For whom", width=9),
        Column(name="place", type=CellType.CODE, refers_to="Places", help="Where it lies", width=11),
        Column(name="lot", type=CellType.CODE, refers_to="Lots", help="Lot", width=11),
        Column(name="open", type=CellType.WHOLE, least=0, help="To be opened", width=7),
        Column(name="hold", type=CellType.WHOLE, least=0, help="Kept unopened in the room", width=7),
        Column(
            name="missing",
            type=CellType.WHOLE,
            least=0,
            most=999,
            help="How many did not come; 0: all were found",
            width=9,
        ),
        Column(name="stood in", type=CellType.CODE, refers_to="Items", help="Item that was taken instead", width=13),
        Column(name="how many", type=CellType.WHOLE, least=1, most=999, help="How many; empty: as missing", width=9),
        Column(
            name="count found",
            type=CellType.WHOLE,
            least=0,
            most=99999,
            help="As counted on the shelf",
            width=9,
        ),
    ),
)

ADDED = Table(
    name="Added",
    of_cases=True,
    row_is="something put on a cart by hand that its list does not ask for",
    columns=(
        Column(name="case", type=CellType.CODE, refers_to="Schedule", required=True, help="Case number", width=12),
        Column(name="item", type=CellType.CODE, refers_to="Items", required=True, help="Item", width=13),
        Column(name="lot", type=CellType.CODE, refers_to="Lots", help="Lot", width=11),
        Column(name="quantity", type=CellType.WHOLE, default="1", least=1, help="How many; empty: 1", width=9),
    ),
)

CREW_TABLES = (CARTS, TRAYS, THINGS, ADDED)
