"""What it costs to take scheduling messages in, against the bare HL7 parser.

    python -m benchmarks.bench_messages

2,000 messages of eighteen segments; the floor is the parser alone, on the whole messages. Then the storing, each
message in a transaction of its own as the listener does it, and the schedule made of all of them.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

import hl7

from benchmarks.measured import Measured, processor_seconds, table
from picklist.messages.door import Door
from picklist.messages.messages_to_rows import schedule_of
from picklist.messages.take import take_hl7
from picklist.settings import Settings
from picklist.store.keep_messages import keep_messages, kept_messages
from picklist.store.state import open_state

COUNT = 2000
NOW = datetime(2026, 11, 25, 23, 0, tzinfo=UTC)
DOOR = Door(key=b"k" * 32)
OBX = "\r".join(f"OBX|{n}|NM|8302-2^Body Height^LN||190|cm^centimeter^UCUM|||||F" for n in range(10))


def message(number: int) -> str:
    return (
        f"MSH|^~\\&|ORSYS|H|PL|H|20261125120000||SIU^S12^SIU_S12|M{number}|P|2.5\r"
        f"SCH||{number:05d}^ORSYS|||||||90|MIN|^^^20261126073000^20261126090000\rPID|1\r{OBX}\rRGS|1\r"
        "AIS|1||29881^Knee^CPT||||||||RT^Right\rAIL|1||^OR1\rAIP|1||Q77^QUILL^A\rAIP|2||N12^TARN^B"
    )


def main(*, small: bool = False) -> list[Measured]:
    """Measure reading, keeping and the schedule of many messages."""
    count = 20 if small else COUNT
    texts = [message(number) for number in range(count)]
    floor = processor_seconds(lambda: [hl7.parse(text) for text in texts])
    found = {"read through the door": processor_seconds(lambda: [take_hl7(text, DOOR) for text in texts])}
    taken = [take_hl7(text, DOOR) for text in texts]
    with TemporaryDirectory() as folder, open_state(Path(folder) / "x.picklist.sqlite") as state:
        found["stored, one by one"] = processor_seconds(lambda: [keep_messages(state, [one], NOW) for one in taken])
        settings = Settings(site="x", time_zone="America/Chicago")
        found["the schedule of all"] = processor_seconds(
            lambda: schedule_of(kept_messages(state), (), settings, DOOR, date(2026, 11, 25))
        )
    return [
        Measured(work=f"{count} messages {what}", seconds=took, floor=floor, against="the parser alone")
        for what, took in found.items()
    ]


if __name__ == "__main__":
    print(table(main()))
