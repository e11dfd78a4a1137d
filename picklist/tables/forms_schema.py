"""The forms that people fill in, declared like the tables of a site: the carts that were built, and what was used."""

from __future__ import annotations

from picklist.model.cards import ThingKind
from picklist.tables.columns import CellType as T
from picklist.tables.columns import Column as C
from picklist.tables.columns import LabelCells, Table
from picklist.tables.schema import BY_NAME

KINDS_ALSO = tuple((f"{kind}s", kind.value) for kind in ThingKind)

CARTS = Table(
    name="Carts",
    of_cases=True,
    row_is="a cart",
    key=("case",),
    columns=(
        C("day", T.DATE, "Day of the operation", required=True, width=12),
        C("case", T.CODE, "Case number", refers_to="Schedule", required=True, width=12),
        C("list", T.WHOLE, "Revision of its list", required=True, least=1, width=6),
        C("room", T.TEXT, "Room", width=10),
        C("start", T.TIME, "Start", width=9),
        C("surgeon", T.TEXT, "Surgeon", width=22),
        C("done", T.YES_NO, "yes when the cart is built, no to undo that", width=8, fill=True),
        C("by", T.TEXT, "Initials of whoever built it", width=8, fill=True),
        C("finished", T.TIME, "When it was finished; empty: now", width=10, fill=True),
        C("remark", T.TEXT, "Anything the next shift should know. Never a name", width=36, fill=True),
    ),
)

TRAYS = Table(
    name="Trays",
    of_cases=True,
    row_is="a tray on a cart",
    key=("case", "tray", "copy"),
    columns=(
        C("case", T.CODE, "Case number", refers_to="Schedule", required=True, width=12),
        C("tray", T.CODE, "Tray that the list asks for", refers_to="Trays", required=True, width=14),
        C("copy", T.WHOLE, "Which of several of one tray", required=True, least=1, width=7),
        C("name", T.TEXT, "Name", width=50),
        C("set planned", T.CODE, "Set that the list names", refers_to="Sets", width=14),
        C(
            "set taken",
            T.CODE,
            "Only if another set was taken, or one came later",
            refers_to="Sets",
            width=14,
            fill=True,
        ),
        C("missing", T.YES_NO, "yes when no set is on the cart, no when it was found", width=9, fill=True),
    ),
)

THINGS = Table(
    name="Things",
    of_cases=True,
    row_is="an item or pack on a cart",
    key=("case", "item", "lot", "place", "person"),
    columns=(
        C("case", T.CODE, "Case number", refers_to="Schedule", required=True, width=12),
        C("item", T.CODE, "Item or pack that the list asks for", refers_to="Items", required=True, width=13),
        C("name", T.TEXT, "Name", width=50),
        C("person", T.CODE, "For whom", refers_to="Staff", width=9),
        C("place", T.CODE, "Where it is stored", refers_to="Places", width=11),
        C("lot", T.CODE, "Lot", refers_to="Lots", width=11),
        C("open", T.WHOLE, "To be opened", least=0, width=7),
        C("hold", T.WHOLE, "Kept unopened in the room", least=0, width=7),
        C("missing", T.WHOLE, "How many did not come; 0: all were found", least=0, most=999, width=9, fill=True),
        C("stood in", T.CODE, "Item that was taken instead", refers_to="Items", width=13, fill=True),
        C("how many", T.WHOLE, "How many; empty: as missing", least=1, most=999, width=9, fill=True),
        C("count found", T.WHOLE, "As counted on the shelf", least=0, most=99999, width=9, fill=True),
    ),
)

ADDED = Table(
    name="Added",
    of_cases=True,
    row_is="something put on a cart by hand that its list does not ask for",
    labels=LabelCells(item="item", lot="lot"),
    columns=(
        C("case", T.CODE, "Case number", refers_to="Schedule", required=True, width=12, fill=True),
        C(
            "item",
            T.CODE,
            "Item, or its maker's label, scanned",
            refers_to="Items",
            required=True,
            width=13,
            fill=True,
        ),
        C("lot", T.CODE, "Lot", refers_to="Lots", width=11, fill=True),
        C("quantity", T.WHOLE, "How many; empty: 1", default="1", least=1, width=9, fill=True),
    ),
)

USAGE = Table(
    name="Usage",
    of_cases=True,
    row_is="a thing on a case's cart after the operation",
    key=("case", "kind", "thing", "person", "set", "lot", "serial"),
    labels=LabelCells(item="thing", lot="lot", serial="serial"),
    columns=(
        C("case", T.CODE, "Case number", refers_to="Schedule", required=True, width=12),
        C("kind", T.CHOICE, "tray, pack or item", choices=tuple(ThingKind), default="item", width=8),
        C(
            "thing",
            T.CODE,
            "Tray, pack or item; or an item's label, scanned",
            refers_to="Items",
            required=True,
            width=14,
        ),
        C("name", T.TEXT, "Name", width=50),
        C("person", T.CODE, "For whom", refers_to="Staff", width=9),
        C("set", T.CODE, "Set, for a tray", refers_to="Sets", width=13),
        C("open", T.WHOLE, "Was to be opened", default="0", least=0, width=7),
        C("hold", T.WHOLE, "Was kept unopened in the room", default="0", least=0, width=7),
        C("added", T.WHOLE, "Asked for beyond the list", default="0", least=0, width=8, fill=True),
        C("used", T.WHOLE, "How many were used; empty: not reported", least=0, width=8, fill=True),
        C(
            "unopened",
            T.WHOLE,
            "How many came back unopened; empty: of those on hold, the ones not used",
            least=0,
            width=10,
            fill=True,
        ),
        C(
            "lot",
            T.CODE,
            "Lot of what was used, or its maker's label, scanned; a row for each lot",
            width=16,
            fill=True,
        ),
        C("serial", T.CODE, "Serial number of what was used", width=14, fill=True),
    ),
)

# One card of an office: a sheet of its workbook. What is in the last two columns is hidden.
CARD_SHEET = Table(
    name="Card",
    of_cases=True,
    row_is="a line of a card",
    columns=(
        C("What", T.CHOICE, "tray, pack or item", choices=tuple(ThingKind), also=KINDS_ALSO, width=6),
        C("Name (number)", T.TEXT, "An entry of the list", width=46, longest=300, was=("name", "number")),
        C("Open", T.WHOLE, "Opened onto the field", default="0", least=0, most=999, width=6.5),
        C("Hold", T.WHOLE, "In the room, unopened", default="0", least=0, most=999, width=6.5),
        C("Note", T.TEXT, "A text", width=28, longest=300),
        C("Keep or drop", T.TEXT, "'no longer', 'mine counts' or nothing", width=12.5, was=("Your word",)),
        C("Only when", T.CONDITIONS, BY_NAME["Cards"].column("only if").help, width=14),
        C("Comes from", T.TEXT, "Whose line it is", width=22),
        C("Line", T.TEXT, "The key of the row", width=6),
        C("As sent", T.TEXT, "The mark of the row", width=8),
    ),
)

CREW_TABLES = (CARTS, TRAYS, THINGS, ADDED)
FORMS: dict[str, tuple[Table, ...]] = {"carts": CREW_TABLES, "used": (USAGE,)}
