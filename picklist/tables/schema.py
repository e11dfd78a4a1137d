"""Every table of a site's folder, declared once."""

from __future__ import annotations

from picklist.tables.columns import CellType as T
from picklist.tables.columns import Column as C
from picklist.tables.columns import Table

# How schedules write sides; a lone letter or a hospital's abbreviation has one meaning here.
SIDE_ALSO = (
    ("l", "left"),
    ("lt", "left"),
    ("r", "right"),
    ("rt", "right"),
    ("bilateral", "both"),
    ("n/a", "none"),
    ("not sided", "none"),
)

# How stock lists write that a thing has no last day.
NO_END = tuple(
    (word, "never")
    for word in ("none", "no expiry", "never expires", "does not expire", "non-expiring", "no expiration", "unlimited")
)

SCHEDULE = Table(
    name="Schedule",
    row_is="a case",
    required=True,
    of_cases=True,
    key=("case",),
    columns=(
        C(name="case", type=T.CODE, required=True, help="Case number, unique in the file", example="C-1041"),
        C(name="day", type=T.DATE, required=True, help="Day of the operation", example="2026-11-26"),
        C(name="room", type=T.CODE, required=True, refers_to="Rooms", help="Operating room", example="OR 3"),
        C(
            name="start",
            type=T.TIME,
            required=True,
            help="Start; the setting 'start means' says of what",
            example="07:30",
        ),
        C(
            name="minutes",
            type=T.WHOLE,
            required=True,
            least=1,
            most=1440,
            help="Planned minutes from wheels-in to wheels-out",
            example="90",
        ),
        C(
            name="surgeon",
            type=T.CODE,
            required=True,
            refers_to="Staff",
            help="Who operates (id in Staff)",
            example="S04",
        ),
        C(
            name="procedures",
            type=T.CODES,
            required=True,
            refers_to="Procedures",
            help="Procedure ids separated by ; the main one first",
            example="KNEE-REPL; KNEE-SCOPE",
            width=24,
        ),
        C(
            name="side",
            type=T.CHOICES,
            choices=("left", "right", "both", "none"),
            also=SIDE_ALSO,
            help="Side of the operation, 'none' when it has no side; or one for each procedure, separated by ; "
            "in the order of the procedures",
            example="left",
        ),
        C(
            name="alerts",
            type=T.CODES,
            private=True,
            help="Alerts separated by ; such as latex. Never a name",
            example="latex",
        ),
        C(
            name="patient size",
            type=T.CODE,
            private=True,
            help="Size class, such as adult or child",
            example="adult",
        ),
        C(
            name="team",
            type=T.CODES,
            refers_to="Staff",
            help="Others at the table (ids in Staff) separated by ;",
            example="N02; A01",
        ),
        C(
            name="fields",
            type=T.WHOLE,
            default="1",
            least=1,
            most=4,
            help="How many teams or fields work at once; two add up what one would share",
            example="1",
        ),
        C(
            name="status",
            type=T.CHOICE,
            choices=("planned", "running", "done", "cancelled"),
            also=(("canceled", "cancelled"), ("scheduled", "planned")),
            default="planned",
            help="Where the case stands",
            example="planned",
        ),
        C(name="may move", type=T.YES_NO, default="yes", help="Whether a remedy may move it", example="yes"),
        C(
            name="priority",
            type=T.WHOLE,
            default="1",
            least=1,
            most=9,
            help="1 is usual; a greater number gets a scarce set first",
            example="1",
        ),
        C(
            name="notes",
            type=T.TEXT,
            private=True,
            help="For the cart only; never a name or record number",
            example="bring spare battery",
            width=30,
        ),
    ),
)

PROCEDURES = Table(
    name="Procedures",
    row_is="a procedure",
    required=True,
    key=("procedure",),
    columns=(
        C(name="procedure", type=T.CODE, required=True, help="Procedure id", example="KNEE-REPL"),
        C(name="name", type=T.TEXT, required=True, help="Name as printed", example="Knee replacement", width=34),
        C(name="service", type=T.TEXT, help="Service", example="Orthopedics"),
        C(name="pack", type=T.CODE, refers_to="Packs", help="Custom pack it usually wants", example="PK-JOINT"),
    ),
)

CARDS = Table(
    name="Cards",
    row_is="a line of a preference card",
    required=True,
    columns=(
        C(
            name="procedure",
            type=T.CODE,
            refers_to="Procedures",
            every=True,
            help="Procedure id, or every",
            example="KNEE-REPL",
        ),
        C(name="surgeon", type=T.CODE, refers_to="Staff", every=True, help="Surgeon id, or every", example="every"),
        C(
            name="change",
            type=T.CHOICE,
            choices=("add", "replace", "remove"),
            default="add",
            help="What the line does to the lines beneath it",
            example="add",
        ),
        C(
            name="kind",
            type=T.CHOICE,
            required=True,
            choices=("tray", "pack", "item"),
            help="What is asked for",
            example="tray",
        ),
        C(name="thing", type=T.CODE, required=True, help="Id of the tray, pack or item", example="T-KNEE"),
        C(
            name="instead of",
            type=T.CODE,
            help="For replace: the id it takes the place of; empty for the same thing",
            example="",
        ),
        C(name="open", type=T.WHOLE, default="0", least=0, most=999, help="Opened onto the field", example="1"),
        C(name="hold", type=T.WHOLE, default="0", least=0, most=999, help="In the room, unopened", example="0"),
        C(
            name="side",
            type=T.CHOICE,
            choices=("left", "right", "both"),
            also=SIDE_ALSO[:5],
            help="Only for this side",
            example="",
        ),
        C(
            name="only if",
            type=T.CONDITIONS,
            help="Conditions separated by ; as: alert latex, not alert latex, side left, size child",
            example="",
        ),
        C(
            name="counted",
            type=T.CHOICE,
            choices=("per case", "per procedure"),
            default="per case",
            help="How it adds up over procedures of one case",
            example="per case",
        ),
        C(name="from", type=T.DATE, help="First day it counts (day of the case)", example="2026-01-01"),
        C(name="until", type=T.DATE, help="Last day it counts (day of the case)", example=""),
        C(name="approved", type=T.YES_NO, default="yes", help="Only approved lines count", example="yes"),
        C(name="note", type=T.TEXT, private=True, help="Printed beside the line", example="", width=30),
    ),
)

ITEMS = Table(
    name="Items",
    row_is="a catalogue item",
    required=True,
    key=("item",),
    columns=(
        C(name="item", type=T.CODE, required=True, help="Item number", example="100245"),
        C(
            name="name",
            type=T.TEXT,
            required=True,
            help="Name as printed",
            example="Suture 2-0 braided 75 cm",
            width=36,
        ),
        C(name="unit", type=T.TEXT, default="each", help="Unit that is counted", example="each"),
        C(
            name="class",
            type=T.CHOICE,
            default="supply",
            choices=(
                "supply",
                "peel pack",
                "outer glove",
                "under glove",
                "gown",
                "medicine",
                "solution",
                "equipment",
                "positioning",
                "implant",
            ),
            help="How it reaches the case",
            example="supply",
        ),
        C(name="size", type=T.CODE, help="Size of a glove, gown or implant range", example="7.5"),
        C(name="place", type=T.CODE, refers_to="Places", help="Where it is usually shelved", example="A-02-10"),
        C(
            name="latex",
            type=T.YES_NO,
            help="Whether it holds natural rubber latex. Empty: not stated, so a latex alert does not allow it",
            example="no",
        ),
        C(name="latex-free twin", type=T.CODE, refers_to="Items", help="Item to use under a latex alert", example=""),
        C(name="GTIN", type=T.CODE, help="GS1 number of 8, 12, 13 or 14 digits", example="12345678901231"),
        C(
            name="keep back",
            type=T.WHOLE,
            default="0",
            least=0,
            help="Number never promised to a planned case",
            example="2",
        ),
        C(
            name="substitutes",
            type=T.STAND_INS,
            refers_to="Items",
            help="Items that may serve instead, best first, separated by ;",
            example="",
        ),
        C(name="brought by", type=T.TEXT, help="Who brings an implant or consigned thing", example=""),
        C(name="retired", type=T.YES_NO, default="no", help="No longer to be asked for", example="no"),
    ),
)

PACKS = Table(
    name="Packs",
    row_is="an item in a custom pack",
    key=("pack", "item"),
    rows_form="pack",
    columns=(
        C(name="pack", type=T.CODE, required=True, help="Pack id", example="PK-JOINT"),
        C(name="name", type=T.TEXT, help="Name of the pack (on its first row)", example="Joint pack", width=28),
        C(name="item", type=T.CODE, required=True, refers_to="Items", help="Item inside", example="100245"),
        C(name="quantity", type=T.WHOLE, required=True, least=1, most=999, help="How many inside", example="2"),
    ),
)

TRAYS = Table(
    name="Trays",
    row_is="a kind of instrument tray",
    required=True,
    key=("tray",),
    columns=(
        C(name="tray", type=T.CODE, required=True, help="Tray id", example="T-KNEE"),
        C(name="name", type=T.TEXT, required=True, help="Name as printed", example="Knee basic", width=30),
        C(
            name="route",
            type=T.CODE,
            required=True,
            refers_to="Routes",
            help="Route that makes it usable again",
            example="R-STEAM",
        ),
        C(name="weight lb", type=T.NUMBER, least=0, most=60, help="Weight in pounds", example="17.5"),
        C(name="container", type=T.YES_NO, default="no", help="yes: container with locks; no: wrapped", example="no"),
        C(
            name="sided",
            type=T.YES_NO,
            help="Its sets are left or right. A set that names a side makes its tray sided",
            example="no",
        ),
        C(
            name="implants",
            type=T.YES_NO,
            help="Holds implants. Empty: it waits for the steps that are only for implants",
            example="no",
        ),
        C(
            name="keep ready",
            type=T.WHOLE,
            default="0",
            least=0,
            most=99,
            help="Sets kept ready for emergencies at every moment",
            example="0",
        ),
        C(
            name="equals",
            type=T.STAND_INS,
            refers_to="Trays",
            help="Trays that may stand in, best first, separated by ;",
            example="",
            width=22,
        ),
        C(name="count sheet", type=T.YES_NO, default="yes", help="Whether a count sheet exists", example="yes"),
        C(name="retired", type=T.YES_NO, default="no", help="No longer to be asked for", example="no"),
    ),
)

TRAY_CONTENTS = Table(
    name="Tray contents",
    row_is="an instrument in a tray",
    key=("tray", "instrument"),
    columns=(
        C(name="tray", type=T.CODE, required=True, refers_to="Trays", help="Tray id", example="T-KNEE"),
        C(name="instrument", type=T.TEXT, required=True, help="Instrument", example="Needle holder 7 in", width=34),
        C(name="quantity", type=T.WHOLE, required=True, least=1, most=500, help="How many", example="2"),
    ),
)

SETS = Table(
    name="Sets",
    row_is="a physical set",
    required=True,
    key=("set",),
    columns=(
        C(name="set", type=T.CODE, required=True, help="Set id", example="KNEE-01"),
        C(name="tray", type=T.CODE, required=True, refers_to="Trays", help="Tray it is a copy of", example="T-KNEE"),
        C(
            name="side",
            type=T.CHOICE,
            choices=("left", "right"),
            also=SIDE_ALSO[:4],
            help="For sided trays",
            example="",
        ),
        C(name="size", type=T.CODE, help="Size class it fits", example=""),
        C(
            name="state",
            type=T.CHOICE,
            choices=("on shelf", "dirty", "at step", "in use", "away", "on loan", "incomplete", "unknown"),
            help="State as recorded now. Empty counts as unknown: the set is given to no case",
            example="on shelf",
        ),
        C(name="step", type=T.CODE, help="For 'at step': the step of its route", example=""),
        C(
            name="step since",
            type=T.STAMP,
            help="For 'at step': when that step began; for 'dirty': since when",
            example="",
        ),
        C(name="in case", type=T.CODE, refers_to="Schedule", help="For 'in use': the running case", example=""),
        C(name="back at", type=T.STAMP, help="For 'away' or 'on loan': when it arrives", example=""),
        C(name="return by", type=T.STAMP, help="For 'on loan': when it must leave again", example=""),
        C(name="place", type=T.CODE, refers_to="Places", help="Where it stands", example="S-01-03"),
        C(name="recorded sterile at", type=T.STAMP, help="When it was recorded as sterilized", example=""),
        C(name="recorded sterile until", type=T.EXPIRY, help="Last day of its recorded sterility", example=""),
    ),
)

LOTS = Table(
    name="Lots",
    row_is="stock of an item or pack in one place",
    required=True,
    key=("item", "lot", "place"),
    columns=(
        C(name="item", type=T.CODE, required=True, help="Item or pack id", example="100245"),
        C(name="lot", type=T.CODE, required=True, help="Lot as printed", example="L24A771"),
        C(name="quantity", type=T.WHOLE, required=True, least=0, most=99999, help="How many are there", example="40"),
        C(name="unit", type=T.TEXT, help="Unit that was counted; must be the item's", example="each"),
        C(
            name="expiry",
            type=T.EXPIRY,
            choices=("never",),
            also=NO_END,
            help="Last day of use: a day, or a month that means its last day; 'never' for what does not expire. "
            "Empty: not recorded, so the lot is used last and its package must be checked",
            example="2027-06",
        ),
        C(name="place", type=T.CODE, required=True, refers_to="Places", help="Where it lies", example="A-02-10"),
    ),
)

PLACES = Table(
    name="Places",
    row_is="a storage place",
    key=("place",),
    columns=(
        C(name="place", type=T.CODE, required=True, help="Place id", example="A-02-10"),
        C(
            name="walking order",
            type=T.WHOLE,
            least=0,
            help="Where the walk passes it; empty sorts by its name",
            example="210",
        ),
        C(name="area", type=T.TEXT, help="Area", example="Core supply"),
        C(name="building", type=T.CODE, help="Building", example=""),
    ),
)

ROUTES = Table(
    name="Routes",
    row_is="a step of a route",
    required=True,
    key=("route", "step"),
    rows_form="route",
    columns=(
        C(name="route", type=T.CODE, required=True, help="Route id", example="R-STEAM"),
        C(name="step", type=T.CODE, required=True, help="Step", example="washer"),
        C(
            name="after",
            type=T.CODES,
            help="Steps it waits for, separated by ; empty: the row above ('start' for none)",
            example="",
        ),
        C(
            name="usual minutes",
            type=T.WHOLE,
            required=True,
            least=0,
            most=20160,
            help="With normal waiting",
            example="60",
        ),
        C(
            name="least minutes",
            type=T.WHOLE,
            required=True,
            least=0,
            most=20160,
            help="What the process itself needs",
            example="40",
        ),
        C(name="station", type=T.CODE, refers_to="Stations", help="Equipment or crew that does it", example="washers"),
        C(name="run", type=T.CODE, help="Transport run to wait for (see Departures)", example=""),
        C(name="only for", type=T.CHOICE, choices=("implants",), help="Only for trays with implants", example=""),
        C(
            name="begins in",
            type=T.CHOICE,
            choices=("decontamination", "room"),
            default="decontamination",
            help="'room': the step replaces the haul to decontamination",
            example="decontamination",
        ),
        C(name="cycle", type=T.CODE, help="Programs with different words may not share a load", example="pre-vacuum"),
        C(
            name="temperature C",
            type=T.NUMBER,
            least=0,
            most=300,
            help="Sterilizer: exposure temperature",
            example="132",
        ),
        C(name="exposure minutes", type=T.WHOLE, least=0, most=600, help="Sterilizer: exposure", example="4"),
        C(name="drying minutes", type=T.WHOLE, least=0, most=600, help="Sterilizer: drying", example="25"),
    ),
)

STATIONS = Table(
    name="Stations",
    row_is="a kind of equipment or crew",
    key=("station",),
    columns=(
        C(name="station", type=T.CODE, required=True, help="Station id", example="washers"),
        C(
            name="machines",
            type=T.WHOLE,
            default="1",
            least=1,
            most=200,
            help="Machines or people at once",
            example="3",
        ),
        C(name="trays per load", type=T.WHOLE, default="1", least=1, most=200, help="Trays in one load", example="6"),
        C(
            name="start every",
            type=T.WHOLE,
            default="0",
            least=0,
            most=1440,
            help="Fixed starts each so many minutes from midnight; 0 any time",
            example="0",
        ),
        C(name="start times", type=T.TIMES, help="Fixed starts, separated by ; instead of 'start every'", example=""),
        C(
            name="may run past closing",
            type=T.YES_NO,
            default="no",
            help="A cycle begun before closing may end after it; unloaded at opening",
            example="no",
        ),
        C(
            name="longest wait",
            type=T.WHOLE,
            default="0",
            least=0,
            most=600,
            help="Minutes it may wait for a fuller load",
            example="15",
        ),
    ),
)

HOURS = Table(
    name="Hours",
    row_is="working hours of a station; a station without rows works always",
    columns=(
        C(name="station", type=T.CODE, required=True, refers_to="Stations", help="Station id", example="assembly"),
        C(name="weekday", type=T.WEEKDAYS, required=True, help="Mon, Mon-Fri, daily", example="Mon-Fri"),
        C(name="from", type=T.TIME, required=True, help="Opening", example="06:00"),
        C(
            name="to",
            type=T.TIME,
            required=True,
            closing=True,
            help="Closing; may be after midnight (24:00 is midnight)",
            example="23:30",
        ),
    ),
)

DEPARTURES = Table(
    name="Departures",
    row_is="departures of a transport run at one time of day",
    columns=(
        C(name="run", type=T.CODE, required=True, help="Run", example="van out"),
        C(name="weekday", type=T.WEEKDAYS, required=True, help="Mon, Mon-Fri, daily", example="Mon-Fri"),
        C(name="time", type=T.TIME, required=True, help="Leaves at", example="13:00"),
    ),
)

HOLIDAYS = Table(
    name="Holidays",
    row_is="a day on which a station or run does not work",
    columns=(
        C(name="day", type=T.DATE, required=True, help="Day", example="2026-12-25"),
        C(name="station", type=T.CODE, help="Station or run; empty for all of them", example=""),
    ),
)

TRANSFERS = Table(
    name="Transfers",
    row_is="a way for ready sets from one building to another",
    key=("from building", "to building"),
    columns=(
        C(name="from building", type=T.CODE, required=True, help="Building", example="Main"),
        C(name="to building", type=T.CODE, required=True, help="Building", example="Annex"),
        C(name="minutes", type=T.WHOLE, required=True, least=0, most=1440, help="Minutes on the way", example="20"),
        C(name="run", type=T.CODE, help="Run to wait for (see Departures)", example=""),
    ),
)

STAFF = Table(
    name="Staff",
    row_is="a person at the table",
    required=True,
    key=("person",),
    columns=(
        C(name="person", type=T.CODE, required=True, help="Id", example="S04"),
        C(name="name", type=T.TEXT, required=True, help="Name as printed", example="Dr. Quill", width=24),
        C(name="role", type=T.TEXT, default="surgeon", help="Role", example="surgeon"),
        C(name="outer glove", type=T.CODE, help="Outer glove size", example="7.5"),
        C(name="under glove", type=T.CODE, help="Under glove size", example="8"),
        C(name="gown", type=T.CODE, help="Gown size", example="L"),
    ),
)

ROOMS = Table(
    name="Rooms",
    row_is="an operating room",
    key=("room",),
    columns=(
        C(name="room", type=T.CODE, required=True, help="Room", example="OR 3"),
        C(name="opens", type=T.TIME, help="A remedy places nothing before", example="07:00"),
        C(name="closes", type=T.TIME, help="A remedy places nothing that ends after", example="19:00"),
        C(name="building", type=T.CODE, help="Building", example=""),
    ),
)

PAST_CASES = Table(
    name="Past cases",
    row_is="a finished case",
    columns=(
        C(
            name="procedure",
            type=T.CODE,
            required=True,
            refers_to="Procedures",
            help="Procedure id",
            example="KNEE-REPL",
        ),
        C(name="surgeon", type=T.CODE, required=True, help="Surgeon id", example="S04"),
        C(name="planned minutes", type=T.WHOLE, required=True, least=1, most=2880, help="Planned", example="90"),
        C(
            name="actual minutes",
            type=T.WHOLE,
            required=True,
            least=1,
            most=2880,
            help="Wheels-in to wheels-out",
            example="104",
        ),
    ),
)

SETTINGS = Table(
    name="Settings",
    row_is="a setting",
    required=True,
    key=("setting",),
    columns=(
        C(name="setting", type=T.TEXT, required=True, help="Name of the setting", example="time zone", width=24),
        C(name="value", type=T.TEXT, required=True, help="Its value", example="America/Chicago", width=24),
        C(name="meaning", type=T.TEXT, help="What the setting means; not read", example="", width=60),
    ),
)

TABLES: tuple[Table, ...] = (
    SCHEDULE,
    PROCEDURES,
    CARDS,
    ITEMS,
    PACKS,
    TRAYS,
    TRAY_CONTENTS,
    SETS,
    LOTS,
    PLACES,
    ROUTES,
    STATIONS,
    HOURS,
    DEPARTURES,
    HOLIDAYS,
    TRANSFERS,
    STAFF,
    ROOMS,
    PAST_CASES,
    SETTINGS,
)

BY_NAME: dict[str, Table] = {table.name: table for table in TABLES}
