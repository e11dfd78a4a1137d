"""Short words for scheduling messages. All in them is invented, but for the published example."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime

from picklist.messages.door import Door
from picklist.messages.events import Answer, Event
from picklist.messages.history import Kept
from picklist.messages.messages_to_rows import Row, schedule_of
from picklist.messages.take import Taken, take_hl7
from picklist.model.codes import Code, Means
from picklist.problems import Problem
from picklist.settings import MessageMinutes, MessageTimes, Settings

DOOR = Door(key=b"k" * 32)
TODAY = date(2026, 11, 25)
ARRIVED = datetime(2026, 11, 25, 20, 0, tzinfo=UTC)
SETTINGS = Settings(site="Example Hospital", time_zone="America/Chicago")

# From HL7's guide to mapping v2 to FHIR (repository HL7/v2-to-fhir, input/pagecontent/test_conversions.md,
# Apache License 2.0), where the line breaks are <br>: an S12 of version 2.5.1. PID and PV1 are shortened.
PUBLISHED_S12 = "\r".join(
    (
        r"MSH|^~\&|SndApp^1.2.3.4.5.2^ISO|SndFac^1.2.3.4.5.1^ISO|RcvApp^1.2.3.4.6.2^ISO|RcvFac^1.2.3.4.6.1^ISO"
        "|20150601145823+0100|SCH12|SIU^S12^SIU_S12|48907-45|P|2.5.1|||AL|NE|USA|ASCII|en",
        "SCH|1209|13030|||1209|OV15^OFFICE VISIT-15^L|OFFICE VISIT-15^OFFICE VISIT-15^L|Normal^Routine schedule "
        "request type - default if not valued^HL70396|15|min^minutes^UCUM|^^15^20150613140000^20160621141500|999EOD"
        "USER^BACKGROUND^EOD^USER|^WPN^^^1^999^9999999|||mdrxmbyr^Byrne^Misty|^WPN^^^1^888^8888888|||999EODUSER^BACKGROUND^"
        "EOD^USER|||||Booked^The intended appoint is booked^HL70278|12345^SndApp^1.2.3.4.5.2^ISO|52431^RcvApp|",
        "PID|1||1032702^^^V2FHIR&1.2.3.4.5&ISO^MR||Everywoman^Eve^L^Jr^Dr||197006010912|F|||1000 House Lane^Appt 123^"
        "Ann Arbor|||^PRN^PH^^1^555^555-8473~^NET^Internet^eve@test.test",
        "PV1|1|E^EMERGENCY^HL70004|EMERG^101^01|E||EMERG^103^02|214425290^Doctor^Emory",
        "RGS|1|A",
        "AIG|1||PULLEN^Pullen, Jeri|P^^CSI",
        "AIL|1||MainOffi^^^MainOffi^^^^^Healthmatics Clinic|^Healthmatics Clinic^CSI",
        "AIP|1||JPULLEN1^Pullen^Jeri^^^^^^&F12456&UPIN|D^Pullen, Jeri||20190423140000|||15|m^Minutes",
    )
)


# After the S13 of HL7 v2.9.1, 10.7.2 (the only SIU of chapter 10): its fields as they stand there, with other
# values, as the text is HL7's. It does not follow its own field table: the status stands in SCH-21 and not in 25,
# place and person in AIL-2 and AIP-2 and not in 3, and minutes are M.
LIKE_CHAPTER_10 = "\r".join(
    (
        r"MSH|^~\&|BEDS|W|PL|H|20261125110500||SIU^S13^SIU_S13|81016|P|2.8|||AL|ER",
        "SCH|88291^BEDS|51207^ORSYS||||61|Routine visit^Routine^L|NORMAL^^HL70277|||"
        "|7700^TARN^C|555-0142|||7700^TARN^C|||||BOOKED",
        "TQ1|1|||||30^M|20261126100000|20261126103000",
        "PID||4829130||WRENFIELD^Oda",
        "RGS|1|U",
        "AIP|1|N12^TARN^C^A^^DR|001^ATTENDING^L",
        "AIL|1|OFFICE^^^HOUSE|002^LOCAL^L",
    )
)
# After a surgical S14 of v2.3 in the parser tests of hapifhir/hapi-hl7v2 (NewPipeParserTest.java; MPL 1.1 or GPL, so
# that the fields are its own and the values are not): several services and people, each with its place, running
# numbers where action codes stand, services that start the day before the appointment, 255 with the unit 000000,
# and a blank before MSH-10.
LIKE_A_SURGICAL_S14 = "\r".join(
    (
        r"MSH|^~\&|ORSYS|H|PL|H|20261125120000||SIU^S14| 38762|P|2.3",
        "SCH||77001^ORSYS||||29881^KNEE|||379|MIN|^^379^20261126161000",
        "PID|1|4829130|4829130^^^H|P4829130||||||||||||||A4829130",
        "PV1|1|I|4 N^412^A||||||||||||||||A4829130",
        "RGS|1|1",
        "AIS|1|1|29881^KNEE|20261125161000|0|MIN|255|000000",
        "AIG|1|1|TABLE",
        "AIL|1|1|OR1^OR1|||20261125161000|40800|0",
        "AIP|1|1|Q77^QUILL^A|^1",
        "RGS|2|2",
        "AIS|1|2|49505^HERNIA|20261125161000|0|MIN|255|000000",
        "AIL|1|2|OR1^OR1|||20261125161000|40800|0",
        "AIP|1|2|N12^TARN^C|^1",
    )
)
# After the S12 that interfaceware.com shows on hl7-siu (the page's text is its owner's): 60 minutes in SCH-9, 45 from
# start to end, 45 at the place and the person, which start on another day.
LIKE_A_CONTRADICTION = "\r".join(
    (
        r"MSH|^~\&|ORSYS|H|PL|H|20261125120000||SIU^S12|24916560|P|2.3||||||",
        "SCH|77001^77001|77001^77001|||77001|OFFICE^Office visit|reason for the visit|OFFICE|60|m|"
        "^^60^20261126083000^20261126091500|||||Q77^QUILL^A|||||Q77^QUILL^A|||||BOOKED",
        "PID|1||4829130||WRENFIELD^Oda",
        "RGS|1|A",
        "AIG|1|A|Q77^QUILL|D^^",
        "AIL|1|A|OR1^^^OR1|^Main||20261101084500|||45|m^Minutes||BOOKED",
        "AIP|1|A|Q77^QUILL^A|D^QUILL||20261101084500|||45|m^Minutes||BOOKED",
    )
)
EXAMPLES = {
    "published": PUBLISHED_S12,
    "like chapter 10": LIKE_CHAPTER_10,
    "like a surgical one": LIKE_A_SURGICAL_S14,
    "like a contradiction": LIKE_A_CONTRADICTION,
}


def siu(trigger: str = "S12", **changes: str) -> str:
    """A message of one knee in OR 1 at 07:30 for 90 minutes; ``changes`` replace parts of it, empty leaves one out.

    The parts: msh7, control, filler, placer, start, end, minutes, unit, status, version, processing, accept,
    application, extra (fields of SCH), and whole segments: services, places, people, more.
    """
    part = {
        "msh7": "20261125120000",
        "control": "MSG1",
        "filler": "77001^ORSYS",
        "placer": "",
        "start": "20261126073000",
        "end": "",
        "minutes": "90",
        "unit": "MIN",
        "status": "",
        "version": "2.5",
        "processing": "P",
        "accept": "",
        "application": "",
        "services": "AIS|1||29881^Knee^CPT||||||||RT^Right",
        "places": "AIL|1||^OR1",
        "people": "AIP|1||Q77^QUILL^A",
        "more": "",
    } | changes
    p = part
    lines = [
        rf"MSH|^~\&|ORSYS|H|PL|H|{p['msh7']}||SIU^{trigger}^SIU_S12|{p['control']}|{p['processing']}|{p['version']}|||"
        f"{p['accept']}|{p['application']}",
        f"SCH|{p['placer']}|{p['filler']}|||||||{p['minutes']}|{p['unit']}|^^^{p['start']}^{p['end']}||||||||||||||{p['status']}",
        "PID|1||4829130||WRENFIELD^Oda||19520304",
        "RGS|1",
        p["services"],
        p["places"],
        p["people"],
        p["more"],
    ]
    return "\r".join(line for line in lines if line)


def taken(text: str, door: Door = DOOR) -> Taken:
    """A message at the door."""
    return take_hl7(text, door)


def event(text: str, door: Door = DOOR) -> Event:
    """The event of a message that must be accepted."""
    one = taken(text, door)
    assert one.answer is Answer.ACCEPT, (one.place, one.why)
    assert one.event is not None
    return one.event


def code(field: str, code: str, means: str, value: str = "", system: str = "") -> Code:
    """A row of Codes."""
    return Code(field=field, code=code, system=system, means=Means(means), value=value)


CODES = (
    code("AIL-3", "OR1", "room", "OR 1"),
    code("AIL-3", "OR2", "room", "OR 2"),
    code("AIP-3", "Q77", "surgeon", "S01"),
    code("AIP-3", "N12", "team", "N02"),
    code("AIS-3", "29881", "procedure", "KNEE"),
    code("AIS-3", "49505", "procedure", "HERNIA"),
    code("AIS-3", "00140", "nothing"),
)


def schedule(
    *events: Event | str,
    codes: Iterable[Code] = CODES,
    times: MessageTimes = MessageTimes.WALL_CLOCK,
    minutes: MessageMinutes = MessageMinutes.BY_SIZE,
) -> tuple[list[Row], tuple[Problem, ...]]:
    """The schedule of messages that arrived in this order."""
    kept = [
        Kept(serial=number, arrived=ARRIVED, event=event(one) if isinstance(one, str) else one)
        for number, one in enumerate(events, start=1)
    ]
    settings = Settings(site="x", time_zone=SETTINGS.time_zone, message_times=times, message_minutes=minutes)
    return schedule_of(kept, codes, settings, DOOR, TODAY)


def only_row(*events: Event | str, codes: Iterable[Code] = CODES) -> Row:
    """The one row of messages of one case."""
    rows, _ = schedule(*events, codes=codes)
    assert len(rows) == 1
    return rows[0]


def kinds(problems: Iterable[Problem]) -> set[str]:
    """What is wrong, in stable words."""
    return {one.kind for one in problems}
