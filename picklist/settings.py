"""What a site decides once: one frozen object, whose fields are also the rows of the table Settings."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from datetime import time
from enum import StrEnum
from typing import Annotated

from picklist.clock import SiteClock


class Paper(StrEnum):
    """Paper sizes that the sheets are laid out for."""

    A4 = "A4"
    LETTER = "Letter"

    @property
    def in_typst(self) -> str:
        """What the program that sets the pages calls it."""
        return "us-letter" if self is Paper.LETTER else "a4"


class DateOrder(StrEnum):
    """How a date typed with numbers only is meant."""

    ANY = "any"
    DAY_FIRST = "day first"
    MONTH_FIRST = "month first"


class StartMeans(StrEnum):
    """What the start on the schedule is."""

    WHEELS_IN = "wheels-in"
    INCISION = "incision"


class SetFreedAt(StrEnum):
    """When the sets of a case are free to leave."""

    WHEELS_OUT = "wheels-out"
    CLOSURE = "closure"


class CycleTable(StrEnum):
    """Published least cycles of steam that a site's routes are compared with."""

    CDC_2008 = "CDC 2008"
    EN_285 = "EN 285"
    ST79 = "ST79"


class MessageTimes(StrEnum):
    """What a start without an offset is, in a message whose own time has one."""

    WALL_CLOCK = "wall clock"
    AS_SENT = "as sent"


class MessageMinutes(StrEnum):
    """What a duration without a unit is in. The standard (HL7 v2, SCH-10) says seconds; many senders mean minutes."""

    BY_SIZE = "by size"
    MINUTES = "minutes"
    SECONDS = "seconds"


class TieBreak(StrEnum):
    """Which of two cases of equal priority keeps the set; a person still decides."""

    EARLIER_START = "earlier start"
    LATER_START = "later start"


@dataclass(frozen=True, slots=True)
class Setting:
    """How a field of ``Settings`` is filled in, beyond what its type and default say.

    An example is for a usual value that no site would type. Its name is that of the field with spaces.
    ``choices`` are the words of a field that is no enum; ``code``: a text without spaces, kept as typed.
    ``was``: earlier names, which are still read.
    """

    help: str
    example: str = ""
    _: KW_ONLY
    name: str = ""
    least: float | None = None
    most: float | None = None
    choices: tuple[str, ...] = ()
    code: bool = False
    was: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Settings of a site; all durations in whole minutes. A field without a default must be stated."""

    site: Annotated[str, Setting("Name printed on every page", "Example Hospital")]
    time_zone: Annotated[str, Setting("IANA time zone name", "America/Chicago")]
    paper: Annotated[Paper, Setting("Paper", "Letter")] = Paper.A4
    clock: Annotated[int, Setting("How times are printed", choices=("12", "24"))] = 24
    date_order: Annotated[
        DateOrder,
        Setting(
            "How dates typed as text such as 03/04/2026 are meant; with 'any' such a date is a problem", "month first"
        ),
    ] = DateOrder.ANY
    setup_lead: Annotated[
        int, Setting("Minutes before wheels-in at which the cart must be complete", least=0, most=600)
    ] = 30
    room_release: Annotated[
        int, Setting("Minutes after the sets are free until they leave the room", least=0, most=240)
    ] = 0
    haul: Annotated[
        int, Setting("Minutes from room to decontamination", name="transport", least=0, most=240, was=("haul",))
    ] = 10
    margin: Annotated[int, Setting("A case with less time to spare than this is tight", least=0, most=600)] = 30
    put_back: Annotated[int, Setting("Minutes to put back a tray that stayed unopened", least=0, most=240)] = 15
    loan_hours: Annotated[
        int,
        Setting(
            "Hours before a case by which its sets on loan must be here; later is a notice. 0: no rule",
            "24",
            least=0,
            most=240,
        ),
    ] = 0
    start_means: Annotated[StartMeans, Setting("What the start on the schedule is")] = StartMeans.WHEELS_IN
    incision_after: Annotated[int, Setting("Minutes from wheels-in to incision", least=0, most=240)] = 30
    set_freed_at: Annotated[SetFreedAt, Setting("When the sets of a case are free to leave")] = SetFreedAt.WHEELS_OUT
    closure_before: Annotated[int, Setting("Minutes from closure to wheels-out", least=0, most=240)] = 15
    tie_break: Annotated[TieBreak, Setting("Which of two equal cases keeps the set")] = TieBreak.EARLIER_START
    expiry_day_counts: Annotated[bool, Setting("Whether a thing may be used on its expiry day")] = True
    pack_offsets_hold: Annotated[bool, Setting("Whether pack contents are taken off hold too")] = False
    implants_wait: Annotated[bool, Setting("Whether sets with implants wait for the biological indicator")] = True
    turnover: Annotated[int, Setting("Minutes between two cases in a room", least=0, most=240)] = 30
    rooms_open: Annotated[time, Setting("Earliest start that a remedy proposes")] = time(7, 0)
    rooms_close: Annotated[time, Setting("Latest end that a remedy proposes")] = time(19, 0)
    overrun_spread: Annotated[
        float,
        Setting("Coefficient of variation of case minutes where there are no past cases", least=0.01, most=3),
    ] = 0.557
    cycle_table: Annotated[
        CycleTable,
        Setting("Published minimum steam cycles to compare the routes with; a shorter one is a notice", "EN 285"),
    ] = CycleTable.CDC_2008
    keep_former_files: Annotated[
        int,
        Setting("Days for which former versions of changed files are kept; 0: forever", "90", least=0, most=3650),
    ] = 0
    gs1_company_prefix: Annotated[
        str,
        Setting(
            "4 to 12 digits that GS1 gave to the site: cart labels then carry a GS1 DataMatrix, else Code 128",
            "9506000",
            name="GS1 company prefix",
            code=True,
        ),
    ] = ""
    message_times: Annotated[
        MessageTimes,
        Setting(
            "Starts without an offset in HL7 messages: the site's wall clock, or with the offset of the message's "
            "own time (MSH-7) as the standard says",
        ),
    ] = MessageTimes.WALL_CLOCK
    message_minutes: Annotated[
        MessageMinutes,
        Setting(
            "Durations without a unit in HL7 messages; 'by size': below 600 minutes, else seconds, unless start and "
            "end tell",
            "minutes",
        ),
    ] = MessageMinutes.BY_SIZE
    keep_messages: Annotated[
        int,
        Setting(
            "Days for which what is kept of messages (ids, times, codes) stays after the day of the case",
            least=7,
            most=3650,
        ),
    ] = 90
    hide_message_numbers: Annotated[
        bool,
        Setting("yes: appointment numbers in messages become marks, for a system that makes them of record numbers"),
    ] = False
    draws: Annotated[int, Setting("Simulated days for the risk figures; 0: none", least=0, most=100000)] = 2000
    seed: Annotated[int, Setting("Seed of the simulation", least=0)] = 1

    @property
    def site_clock(self) -> SiteClock:
        """The site's wall clock."""
        return SiteClock(self.time_zone, self.clock)
