"""Every table of a site's folder and every setting, declared once."""

from __future__ import annotations

from dataclasses import MISSING
from datetime import time
from enum import StrEnum
from typing import Any, get_type_hints

from picklist.model.cards import Change, Counted, ThingKind
from picklist.model.catalogue import ItemClass
from picklist.model.codes import Means
from picklist.model.expiry import Expires
from picklist.model.routes import StepOnlyFor
from picklist.model.schedule import ONE_SIDE, SIDED, CaseStatus, Side
from picklist.model.sets import NO_END, SetState
from picklist.settings import Setting, Settings
from picklist.tables.cells import plain_text
from picklist.tables.columns import LONGEST_TEXT, LabelCells, Table
from picklist.tables.columns import CellType as T
from picklist.tables.columns import Column as C

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
NO_LAST_DAY = ("none", "no expiry", "never expires", "does not expire", "non-expiring", "no expiration", "unlimited")

SCHEDULE = Table(
    name="Schedule",
    row_is="a case",
    book="schedule",
    required=True,
    of_cases=True,
    key=("case",),
    rows_are="cases",
    columns=(
        C("case", T.CODE, "Case number, unique in the file", "C-1041", required=True, longest=40, into="number"),
        C("day", T.DATE, "Day of the operation", "2026-11-26", required=True),
        C("room", T.CODE, "Operating room", "OR 3", required=True, refers_to="Rooms", vital=True, longest=40),
        C("start", T.TIME, "Start; the setting 'start means' says of what", "07:30", required=True),
        C("minutes", T.WHOLE, "Planned minutes from wheels-in to wheels-out", "90", required=True, least=1, most=1440),
        C("surgeon", T.CODE, "Who operates (id in Staff)", "S04", required=True, refers_to="Staff", vital=True),
        C(
            "procedures",
            T.CODES,
            "Procedure ids separated by ; the main one first",
            "KNEE-REPL; KNEE-SCOPE",
            required=True,
            refers_to="Procedures",
            width=24,
            vital=True,
        ),
        C(
            "side",
            T.CHOICES,
            "Side of the operation, 'none' when it has no side; or one for each procedure, separated by ; "
            "in the order of the procedures",
            "left",
            choices=tuple(Side),
            also=SIDE_ALSO,
            into="sides",
        ).assumes("their lists say so, and are on hold where something on them is sided", must_state=True),
        C(
            "alerts",
            T.CODES,
            "Alerts separated by ; such as latex, spelled as the cards spell them; one that no card knows is "
            "printed large and changes nothing. Never a name",
            "latex",
            private=True,
        ).assumes("no case has an alert"),
        C(
            "patient size",
            T.CODE,
            "Size class, such as adult or child, spelled as the cards and Sets spell it",
            "adult",
            private=True,
        ).assumes("every patient takes the size that fits all"),
        C(
            "team",
            T.CODES,
            "Others at the table (ids in Staff) separated by ;",
            "N02; A01",
            refers_to="Staff",
            vital=True,
        ).assumes("nobody but the surgeon is at the table"),
        C(
            "teams at once",
            T.WHOLE,
            "How many teams work at once; two add up what one would share",
            default="1",
            least=1,
            most=4,
            into="fields",
            was=("fields",),
        ).assumes("one team works at each case"),
        C(
            "status",
            T.CHOICE,
            "How far the case is",
            choices=tuple(CaseStatus),
            also=(("canceled", "cancelled"), ("scheduled", "planned")),
            default="planned",
        ).assumes("they count as planned, also a case that is cancelled", must_state=True),
        C("may move", T.YES_NO, "Whether a remedy may move it", default="yes").assumes("a remedy may move them"),
        C(
            "priority", T.WHOLE, "1 is usual; a greater number gets a scarce set first", default="1", least=1, most=9
        ).assumes("all have the usual priority 1"),
        C(
            "notes",
            T.TEXT,
            "For the cart only; never a name or record number",
            "bring spare battery",
            private=True,
            width=30,
        ).assumes("no case has notes"),
    ),
)

PROCEDURES = Table(
    name="Procedures",
    row_is="a procedure",
    book="cards",
    required=True,
    key=("procedure",),
    columns=(
        C("procedure", T.CODE, "Procedure id", "KNEE-REPL", required=True, into="id"),
        C("name", T.TEXT, "Name as printed", "Knee replacement", required=True, width=34),
        C("service", T.TEXT, "Service", "Orthopedics").assumes("no service is printed"),
        C("pack", T.CODE, "Custom pack it usually wants", "PK-JOINT", refers_to="Packs", vital=True).assumes(
            "no procedure has a custom pack"
        ),
    ),
)

CARDS = Table(
    name="Cards",
    row_is="a line of a preference card",
    book="cards",
    required=True,
    rows_are="card lines",
    either=("open", "hold"),
    columns=(
        C(
            "procedure", T.CODE, "Procedure id, or every", "KNEE-REPL", refers_to="Procedures", every=True, vital=True
        ).assumes("such a line counts for every procedure (write 'every' where that is meant)", must_state=True),
        C("surgeon", T.CODE, "Surgeon id, or every", "every", refers_to="Staff", every=True, vital=True).assumes(
            "such a line counts for every surgeon (write 'every' where that is meant)", must_state=True
        ),
        C(
            "change", T.CHOICE, "What the line does to the lines of the base card", choices=tuple(Change), default="add"
        ).assumes("each line adds"),
        C("kind", T.CHOICE, "What is asked for", "tray", required=True, choices=tuple(ThingKind)),
        C("thing", T.CODE, "Id of the tray, pack or item", "T-KNEE", required=True),
        C("instead of", T.CODE, "For replace: the id it takes the place of; empty for the same thing").assumes(
            "a replace line takes the place of the same thing"
        ),
        C("open", T.WHOLE, "Opened onto the field", "1", default="0", least=0, most=999).assumes("nothing is opened"),
        C("hold", T.WHOLE, "In the room, unopened", default="0", least=0, most=999).assumes("nothing is held"),
        C("side", T.CHOICE, "Only for this side", choices=SIDED, also=SIDE_ALSO[:5]).assumes(
            "each line counts for every side"
        ),
        C(
            "only if", T.CONDITIONS, "Conditions separated by ; as: alert latex, not alert latex, side left, size child"
        ).assumes("each line counts without a condition"),
        C(
            "counted",
            T.CHOICE,
            "How it adds up over procedures of one case",
            choices=tuple(Counted),
            default="per case",
        ).assumes("things are counted per case"),
        C("from", T.DATE, "First day it counts (day of the case)", "2026-01-01", into="begins").assumes(
            "each line counts from the first day on"
        ),
        C("until", T.DATE, "Last day it counts (day of the case)", open_ended=True, into="ends").assumes(
            "no line ends"
        ),
        C("approved", T.YES_NO, "Only approved lines count", default="yes").assumes(
            "they count as approved, also lines that wait for approval, and the list of a case says so", must_state=True
        ),
        C("note", T.TEXT, "Printed beside the line", private=True, width=30).assumes("no line has a note"),
    ),
)

ITEMS = Table(
    name="Items",
    row_is="a catalogue item",
    book="supplies",
    required=True,
    key=("item",),
    columns=(
        C("item", T.CODE, "Item number", "100245", required=True, into="id"),
        C("name", T.TEXT, "Name as printed", "Suture 2-0 braided 75 cm", required=True, width=36),
        C("unit", T.TEXT, "Unit that is counted", default="each").assumes("each item is counted one by one"),
        C(
            "class",
            T.CHOICE,
            "How it reaches the case",
            default="supply",
            choices=tuple(ItemClass),
            into="item_class",
            vital=True,
        ).assumes("each item is a supply that is picked"),
        C("size", T.CODE, "Size of a glove, gown or implant range", "7.5", vital=True).assumes(
            "no glove, gown or implant has a size"
        ),
        C("place", T.CODE, "Where it is usually shelved", "A-02-10", refers_to="Places").assumes("no place is printed"),
        C(
            "latex",
            T.YES_NO,
            "Whether it holds natural rubber latex. Empty: not stated, so a latex alert does not allow it",
            "no",
            vital=True,
        ),
        C("latex-free twin", T.CODE, "Item to use under a latex alert", refers_to="Items", vital=True).assumes(
            "no item has a latex-free twin"
        ),
        C("GTIN", T.CODE, "GS1 number of 8, 12, 13 or 14 digits", "12345678901231", longest=LONGEST_TEXT).assumes(
            "no item can be scanned by its GTIN"
        ),
        C(
            "HIBC",
            T.CODE,
            "Maker, product and packaging level of the HIBC label, as A123BJC5D6E71, or whole as printed",
            "A999EXAMPLE1",
            longest=LONGEST_TEXT,
        ).assumes("no item can be scanned by its HIBC"),
        C(
            "kept back",
            T.WHOLE,
            "Number kept for emergencies, never given to a planned case",
            "2",
            default="0",
            least=0,
            into="keep_back",
            was=("keep back",),
        ).assumes("nothing is kept back"),
        C(
            "stand-ins",
            T.STAND_INS,
            "Items that may stand in, best first, separated by ;",
            refers_to="Items",
            into="substitutes",
            was=("substitutes",),
        ).assumes("no item may stand in for another"),
        C("brought by", T.TEXT, "Who brings an implant or consigned thing").assumes("nothing is brought by anybody"),
        C("retired", T.YES_NO, "No longer in use", default="no").assumes("no item is retired"),
    ),
)

PACKS = Table(
    name="Packs",
    row_is="an item in a custom pack",
    book="supplies",
    key=("pack", "item"),
    rows_form="pack",
    rows_are="pack lines",
    assumed="there are no custom packs",
    columns=(
        C("pack", T.CODE, "Pack id", "PK-JOINT", required=True),
        C("name", T.TEXT, "Name of the pack (on its first row)", "Joint pack", width=28).assumes(
            "the id is printed as the name"
        ),
        C("item", T.CODE, "Item inside", "100245", required=True, refers_to="Items", vital=True),
        C("quantity", T.WHOLE, "How many inside", "2", required=True, least=1, most=999),
    ),
)

TRAYS = Table(
    name="Trays",
    row_is="a kind of instrument tray",
    book="trays",
    required=True,
    key=("tray",),
    columns=(
        C("tray", T.CODE, "Tray id", "T-KNEE", required=True, into="id"),
        C("name", T.TEXT, "Name as printed", "Knee basic", required=True, width=30),
        C(
            "route",
            T.CODE,
            "Route that makes it usable again",
            "R-STEAM",
            required=True,
            refers_to="Routes",
            vital=True,
        ),
        C("weight lb", T.NUMBER, "Weight in pounds", "17.5", least=0, most=60).assumes("no weight is printed"),
        C("container", T.YES_NO, "yes: container with locks; no: wrapped", default="no").assumes(
            "each tray is wrapped"
        ),
        C(
            "sided",
            T.YES_NO,
            "Its sets are left or right. A set that names a side makes its tray sided",
            "no",
            vital=True,
        ),
        C(
            "implants",
            T.YES_NO,
            "Holds implants. Empty: it waits for the steps that are only for implants",
            "no",
            vital=True,
        ),
        C(
            "latex",
            T.YES_NO,
            "Whether anything in it is of natural rubber latex. yes: a latex alert does not allow it. "
            "Empty: not stated, so the list of a case with a latex alert names it",
            "no",
            vital=True,
        ),
        C(
            "kept ready",
            T.WHOLE,
            "Sets kept ready for emergencies at every moment",
            default="0",
            least=0,
            most=99,
            into="keep_ready",
            was=("keep ready",),
        ).assumes("no set is kept ready for emergencies"),
        C(
            "stand-ins",
            T.STAND_INS,
            "Trays that may stand in, best first, separated by ;",
            refers_to="Trays",
            width=22,
            into="ids_of_stand_ins",  # read_trays gives each its preference
            was=("equals",),
        ).assumes("no tray may stand in for another"),
        C("count sheet", T.YES_NO, "Whether a count sheet exists", default="yes").assumes(
            "each tray has a count sheet"
        ),
        C("retired", T.YES_NO, "No longer in use", default="no").assumes("no tray is retired"),
    ),
)

TRAY_CONTENTS = Table(
    name="Tray contents",
    row_is="an instrument in a tray",
    book="trays",
    key=("tray", "instrument"),
    rows_are="instruments",
    assumed="no tray lists its instruments",
    columns=(
        C("tray", T.CODE, "Tray id", "T-KNEE", required=True, refers_to="Trays", vital=True),
        C("instrument", T.TEXT, "Instrument", "Needle holder 7 in", required=True, width=34),
        C("quantity", T.WHOLE, "How many", "2", required=True, least=1, most=500),
    ),
)

SETS = Table(
    name="Sets",
    row_is="a physical set",
    book="trays",
    required=True,
    key=("set",),
    columns=(
        C("set", T.CODE, "Set id", "KNEE-01", required=True, into="id"),
        C("tray", T.CODE, "Tray it is a copy of", "T-KNEE", required=True, refers_to="Trays"),
        C("side", T.CHOICE, "For sided trays", choices=ONE_SIDE, also=SIDE_ALSO[:4]),
        C("size", T.CODE, "The one patient size it fits, as on the schedule; empty fits all").assumes(
            "each set fits every patient size"
        ),
        C(
            "state",
            T.CHOICE,
            "State as recorded now. Empty counts as unknown: the set is given to no case",
            "on shelf",
            choices=tuple(SetState),
        ),
        C("step", T.CODE, "For 'at step': the step of its route").assumes("no set is at a step"),
        C("step since", T.STAMP, "For 'at step': when that step began; for 'dirty': since when", timed=True).assumes(
            "it is not known since when a set is dirty or at a step"
        ),
        C("in case", T.CODE, "For 'in use': the running case", refers_to="Schedule", vital=True).assumes(
            "no set is in a running case"
        ),
        C("back at", T.STAMP, "For 'away' or 'on loan': when it arrives", timed=True).assumes("no set comes back"),
        C("return by", T.STAMP, "For 'on loan': when it must leave again"),
        C("place", T.CODE, "Where it is stored", "S-01-03", refers_to="Places"),
        C("missing", T.TEXT, "For 'incomplete': what is missing from it", private=True, width=24).assumes(
            "what an incomplete set lacks is not known"
        ),
        C("recorded sterile at", T.STAMP, "When it was recorded as sterilized", into="recorded_at").assumes(
            "no record of sterilization is known"
        ),
        C(
            "recorded sterile until",
            T.EXPIRY,
            f"Last day of its recorded sterility; '{NO_END}' where only an event ends it (package open, wet, "
            "damaged). Empty: not recorded, so it counts without an end, and the case's list names the set",
            open_ended=True,
            choices=(NO_END,),
            also=tuple((word, NO_END) for word in (*NO_LAST_DAY, "never", "event-related", "event related")),
            into="recorded_until",
        ).assumes("no record of sterility ends"),
    ),
)

LOTS = Table(
    name="Lots",
    row_is="stock of an item or pack in one place",
    book="supplies",
    required=True,
    key=("item", "lot", "place"),
    labels=LabelCells(item="item", lot="lot", expiry="expiry"),
    columns=(
        C(
            "item",
            T.CODE,
            "Item or pack id; or its maker's label, scanned here or into 'lot', which fills in lot and expiry too",
            "100245",
            required=True,
        ),
        C("lot", T.CODE, "Lot as printed", "L24A771", required=True),
        C("quantity", T.WHOLE, "How many are there", "40", required=True, least=0, most=99999),
        C("unit", T.TEXT, "Unit that was counted; must be the item's", "each").assumes(
            "each lot is counted in its item's unit"
        ),
        C(
            "expiry",
            T.EXPIRY,
            "Last day of use: a day, or a month that means its last day; 'never' for what does not expire. "
            "Empty: not recorded, so the lot is used last and its package must be checked",
            "2027-06",
            open_ended=True,
            choices=tuple(Expires),
            also=tuple((word, Expires.NEVER) for word in (*NO_LAST_DAY, "no end")),
        ),
        C("place", T.CODE, "Where it is stored", "A-02-10", required=True, refers_to="Places"),
    ),
)

PLACES = Table(
    name="Places",
    row_is="a storage place",
    book="supplies",
    key=("place",),
    assumed="any place is accepted, and places are walked in the order of their names",
    columns=(
        C("place", T.CODE, "Place id", "A-02-10", required=True, into="id"),
        C(
            "walking order", T.WHOLE, "Where the walk passes it; empty sorts by its name", "210", least=0, into="order"
        ).assumes("places are walked in the order of their names"),
        C("area", T.TEXT, "Area", "Core supply").assumes("no area is printed"),
        C("building", T.CODE, "Building"),
    ),
)

ROUTES = Table(
    name="Routes",
    row_is="a step of a route",
    book="department",
    required=True,
    key=("route", "step"),
    rows_form="route",
    rows_are="steps",
    columns=(
        C("route", T.CODE, "Route id", "R-STEAM", required=True),
        C("step", T.CODE, "Step", "washer", required=True, into="name"),
        C("after", T.CODES, "Steps it waits for, separated by ; empty: the row above ('start' for none)").assumes(
            "each step waits for the row above"
        ),
        C("usual minutes", T.WHOLE, "With normal waiting", "60", required=True, least=0, most=20160),
        C("least minutes", T.WHOLE, "What the process itself takes at least", "40", required=True, least=0, most=20160),
        C("station", T.CODE, "Equipment or crew that does it", "washers", refers_to="Stations", vital=True).assumes(
            "no step waits for equipment or crew"
        ),
        C("run", T.CODE, "Transport run to wait for (see Departures)").assumes("no step waits for a transport run"),
        C("only for", T.CHOICE, "Only for trays with implants", choices=(StepOnlyFor.IMPLANTS,)).assumes(
            "each step is for every tray"
        ),
        C(
            "begins in",
            T.CHOICE,
            "'room': the step replaces the transport to decontamination",
            choices=("decontamination", "room"),
            default="decontamination",
        ).assumes("every set is brought to decontamination first"),
        C("cycle", T.CODE, "Programs with different words may not share a load", "pre-vacuum").assumes(
            "any programs may share a load"
        ),
        C("temperature C", T.NUMBER, "Sterilizer: exposure temperature", "132", least=0, most=300).assumes(
            "cycles are not compared with published ones"
        ),
        C("exposure minutes", T.WHOLE, "Sterilizer: exposure", "4", least=0, most=600, into="exposure_min").assumes(
            "cycles are not compared with published ones"
        ),
        C("drying minutes", T.WHOLE, "Sterilizer: drying", "25", least=0, most=600, into="drying_min").assumes(
            "cycles are not compared with published ones"
        ),
    ),
)

STATIONS = Table(
    name="Stations",
    row_is="a kind of equipment or crew",
    book="department",
    key=("station",),
    assumed="no step has a station",
    columns=(
        C("station", T.CODE, "Station id", "washers", required=True, into="id"),
        C("machines", T.WHOLE, "Machines or people at once", "3", default="1", least=1, most=200, vital=True).assumes(
            "each station has one machine"
        ),
        C(
            "trays per load",
            T.WHOLE,
            "Trays in one load",
            "6",
            default="1",
            least=1,
            most=200,
            into="per_load",
            vital=True,
        ).assumes("each load is one tray"),
        C(
            "start every",
            T.WHOLE,
            "Fixed starts every so many minutes from midnight on; 0: any time",
            default="0",
            least=0,
            most=1440,
            vital=True,
        ).assumes("no load waits for a fixed start but those in 'start times'"),
        C("start times", T.TIMES, "Fixed starts, separated by ; instead of 'start every'", vital=True).assumes(
            "no load waits for fixed starts but those of 'start every'"
        ),
        C(
            "may run past closing",
            T.YES_NO,
            "A cycle started before closing may end after it; unloaded at opening",
            default="no",
            into="past_closing",
            vital=True,
        ).assumes("no cycle runs past closing"),
        C(
            "longest wait", T.WHOLE, "Minutes it may wait for a fuller load", "15", default="0", least=0, most=600
        ).assumes("no load waits to become fuller"),
    ),
)

HOURS = Table(
    name="Hours",
    row_is="working hours of a station; a station without rows works always",
    book="department",
    rows_are="working hours",
    assumed="every station works at all hours",
    columns=(
        C("station", T.CODE, "Station id", "assembly", required=True, refers_to="Stations", vital=True),
        C("weekday", T.WEEKDAYS, "Mon, Mon-Fri, daily", "Mon-Fri", required=True),
        C("from", T.TIME, "Opening", "06:00", required=True, into="opens"),
        C(
            "to",
            T.TIME,
            "Closing; may be after midnight (24:00 is midnight)",
            "23:30",
            required=True,
            closing=True,
            into="closes",
        ),
    ),
)

DEPARTURES = Table(
    name="Departures",
    row_is="departures of a transport run at one time of day",
    book="department",
    assumed="no transport run leaves",
    columns=(
        C("run", T.CODE, "Run", "van out", required=True),
        C("weekday", T.WEEKDAYS, "Mon, Mon-Fri, daily", "Mon-Fri", required=True),
        C("time", T.TIME, "Leaves at", "13:00", required=True, into="leaves"),
    ),
)

HOLIDAYS = Table(
    name="Holidays",
    row_is="a day on which a station or run does not work",
    book="department",
    assumed="no day is a holiday",
    columns=(
        C("day", T.DATE, "Day", "2026-12-25", required=True),
        C("station", T.CODE, "Station or run; empty for all of them").assumes("on each of these days nothing works"),
    ),
)

TRANSFERS = Table(
    name="Transfers",
    row_is="a transfer of sets from one building to another: ready sets there, used sets back",
    book="department",
    key=("from building", "to building"),
    columns=(
        C("from building", T.CODE, "Building", "Main", required=True),
        C("to building", T.CODE, "Building", "Annex", required=True),
        C("minutes", T.WHOLE, "Minutes on the way", "20", required=True, least=0, most=1440),
        C("run", T.CODE, "Run to wait for (see Departures)").assumes("no transfer waits for a transport run"),
    ),
)

STAFF = Table(
    name="Staff",
    row_is="a person at the table",
    book="site",
    required=True,
    key=("person",),
    rows_are="people",
    columns=(
        C("person", T.CODE, "Id", "S04", required=True, into="id"),
        C("name", T.TEXT, "Name as printed", "Dr. Quill", required=True, width=24),
        C("role", T.TEXT, "Role", default="surgeon").assumes("each person is a surgeon"),
        C("outer glove", T.CODE, "Outer glove size", "7.5", vital=True).assumes("no outer gloves are picked"),
        C("under glove", T.CODE, "Under glove size", "8", vital=True).assumes("no under gloves are picked"),
        C("gown", T.CODE, "Gown size", "L", vital=True).assumes("no gowns are picked"),
    ),
)

ROOMS = Table(
    name="Rooms",
    row_is="an operating room",
    book="site",
    key=("room",),
    assumed="any room is accepted, with the opening hours of the settings",
    columns=(
        C("room", T.CODE, "Room", "OR 3", required=True, into="id", longest=40),
        C("opens", T.TIME, "Earliest start that a remedy proposes", "07:00").assumes(
            "each room opens at the setting 'rooms open'"
        ),
        C("closes", T.TIME, "Latest end that a remedy proposes", "19:00").assumes(
            "each room closes at the setting 'rooms close'"
        ),
        C("building", T.CODE, "Building"),
    ),
)

PAST_CASES = Table(
    name="Past cases",
    row_is="a finished case",
    book="site",
    assumed="the setting 'overrun spread' counts for every procedure",
    columns=(
        C("procedure", T.CODE, "Procedure id", "KNEE-REPL", required=True, refers_to="Procedures", vital=True),
        C("surgeon", T.CODE, "Surgeon id", "S04", required=True),
        C("planned minutes", T.WHOLE, "Planned", "90", required=True, least=1, most=2880),
        C("actual minutes", T.WHOLE, "Wheels-in to wheels-out", "104", required=True, least=1, most=2880),
        C("room", T.CODE, "Room it was in; tells the first case of a room from the later ones", "OR 4").assumes(
            "no start of it counts: how late cases start is a published figure"
        ),
        C("planned start", T.STAMP, "When it was planned to start", "2026-10-05 07:30").assumes(
            "how late it started is not known"
        ),
        C("actual start", T.STAMP, "When it did start, at the same point as planned (such as wheels-in)").assumes(
            "how late it started is not known"
        ),
    ),
)

# The fields of messages in which a code may stand that means something here.
MESSAGE_FIELDS = (
    "SCH-7",
    "SCH-8",
    "SCH-25",
    "AIS-3",
    "AIS-11",
    "AIG-3",
    "AIL-3",
    "AIL-3.1",
    "AIL-3.2",
    "AIL-3.3",
    "AIP-3",
    "AIP-4",
    "Location",
    "Practitioner",
    "participant.type",
    "serviceType",
    "HealthcareService",
    "ServiceRequest",
    "bodySite",
    "identifier",
)

CODES = Table(
    name="Codes",
    row_is="a code in the messages of another system, and what it means here",
    book="site",
    rows_are="codes",
    key=("code", "field", "system"),
    columns=(
        C("code", T.CODE, "The code as it is in the message", "OR4", required=True, longest=LONGEST_TEXT),
        C(
            "field",
            T.CHOICE,
            "Field that it is in: of HL7 v2 as AIS-3 (AIL-3: point of care, room or bed), or the resource "
            "or element of FHIR",
            "AIL-3",
            choices=MESSAGE_FIELDS,
            required=True,
        ),
        C(
            "system",
            T.CODE,
            "Coding system or assigning authority beside the code, where one code means different things",
            longest=LONGEST_TEXT,
        ),
        C(
            "means",
            T.CHOICE,
            "What it stands for. 'nothing': it is known and plays no part. With AIP-4 and participant.type, "
            "surgeon or team says what a person does; with identifier, 'case number' takes the system's identifiers "
            "as case numbers",
            "room",
            choices=tuple(Means),
            required=True,
        ),
        C(
            "value",
            T.CODE,
            "Id of the room, person or procedure; the side, alert or status; empty where 'means' says all",
            "OR 4",
        ),
    ),
)

# What the cells of an export can say beside the columns of Schedule.
CASE_END, CASE_HOURS, NOT_READ = "end", "hours", "nothing"

EXPORT = Table(
    name="Export",
    row_is="a header of the hospital's own schedule export, or a code in its column, and what it means here",
    book="export",
    rows_are="headers and codes",
    key=("header", "code", "means"),
    columns=(
        C(
            "header",
            T.TEXT,
            "Header of the export, spelled as there; of several header rows from top to bottom, joined by /",
            "Room",
            required=True,
            longest=200,
            width=26,
        ),
        C(
            "code",
            T.CODE,
            "What its cells say; empty where the row is about the header itself",
            "OR 03",
            longest=LONGEST_TEXT,
        ),
        C(
            "means",
            T.CHOICE,
            "Column of Schedule that it fills; 'end': when the case ends, 'hours': how long it takes, in hours, "
            "'nothing': it is not read. A header in two rows fills two columns",
            "room",
            choices=(*(column.name for column in SCHEDULE.columns), CASE_END, CASE_HOURS, NOT_READ),
            required=True,
        ),
        C("value", T.TEXT, "For a code: what Schedule would say; empty for nothing", "OR 3", width=24),
    ),
)

SETTINGS = Table(
    name="Settings",
    row_is="a setting",
    book="site",
    required=True,
    key=("setting",),
    columns=(
        C("setting", T.TEXT, "Name of the setting", "time zone", required=True, width=24),
        C("value", T.TEXT, "Its value", "America/Chicago", required=True, width=24),
        C("meaning", T.TEXT, "What the setting means; not read", width=60),
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
    CODES,
    EXPORT,
    SETTINGS,
)

BY_NAME: dict[str, Table] = {table.name: table for table in TABLES}
# The workbooks in which tables are written together, by who keeps them.
BOOKS: dict[str, tuple[str, ...]] = {
    book: tuple(table.name for table in TABLES if table.book == book)
    for book in dict.fromkeys(table.book for table in TABLES)
}

HELD: dict[type, T] = {str: T.TEXT, int: T.WHOLE, float: T.NUMBER, bool: T.YES_NO, time: T.TIME}


def _setting_row(name: str, annotation: Any, declared: Setting) -> C:
    """The row of a field of ``Settings``, declared as a column is."""
    kind: Any = annotation.__origin__
    choices = tuple(kind) if issubclass(kind, StrEnum) else declared.choices
    field = Settings.__dataclass_fields__[name]
    needed = field.default is MISSING
    return C(
        declared.name or name.replace("_", " "),
        T.CODE if declared.code else T.CHOICE if choices else HELD[kind],
        declared.help,
        declared.example,
        required=needed,
        default="" if needed else plain_text(field.default) or "none",
        choices=choices,
        least=declared.least,
        most=declared.most,
        into=name,
        was=declared.was,
    )


# The rows of Settings, in the order of the fields.
SETTING_ROWS: tuple[C, ...] = tuple(
    _setting_row(name, annotation, annotation.__metadata__[0])
    for name, annotation in get_type_hints(Settings, include_extras=True).items()
)
