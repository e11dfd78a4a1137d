"""Short words for scheduling messages. All in them is invented, but for the published example."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime

from picklist.messages.door import Door
from picklist.messages.events import Answer, Event
from picklist.messages.history import Kept
from picklist.messages.schedule import Row, schedule_of
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
