"""The sheet on which a room tells what was used and what came back unopened."""

from __future__ import annotations

from picklist.tables.columns import CellType, Column, Table

USAGE = Table(
    name="Usage",
    of_cases=True,
    row_is="a thing on a case's cart after the operation",
    key=("case", "kind", "thing", "person", "set"),
    columns=(
        Column(name="case", type=CellType.CODE, refers_to="Schedule", required=True, help="Case number", width=12),
        Column(
            name="kind",
            type=CellType.CHOICE,
            choices=("tray", "pack", "item"),
            default="item",
            help="tray, pack or item",
            width=8,
        ),
        Column(name="thing", type=CellType.CODE, refers_to="Items", required=True, help="Tray, pack or item", width=14),
        Column(name="name", type=CellType.TEXT, help="Name", width=34),
        Column(name="person", type=CellType.CODE, refers_to="Staff", help="For whom", width=9),
        Column(name="set", type=CellType.CODE, refers_to="Sets", help="Set, for a tray", width=13),
        Column(name="open", type=CellType.WHOLE, default="0", least=0, help="Was to be opened", width=7),
        Column(name="hold", type=CellType.WHOLE, default="0", least=0, help="Was kept unopened in the room", width=7),
        Column(name="added", type=CellType.WHOLE, default="0", least=0, help="Asked for beyond the list", width=8),
        Column(name="used", type=CellType.WHOLE, least=0, help="How many were used; empty: not told", width=8),
        Column(
            name="unopened",
            type=CellType.WHOLE,
            least=0,
            help="How many came back unopened; empty: of those on hold, the ones not used",
            width=10,
        ),
    ),
)
