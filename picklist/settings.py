"""What a site decides once: one frozen, validated object."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time
from enum import StrEnum

from picklist.clock import SiteClock


class Paper(StrEnum):
    """Paper sizes that the sheets are laid out for."""

    A4 = "A4"
    LETTER = "Letter"


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
    """When a case lets its sets go."""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Settings of a site; all durations in whole minutes.

    ``date_order``: how a date typed as 03/04/2026 is meant.
    ``setup_lead``: the cart must be complete this long before wheels-in.
    ``room_release``: from the freeing of the sets until they leave the room.
    ``haul``: from the room to receipt in decontamination.
    ``margin``: a reuse with less slack than this is tight.
    ``put_back``: makes a tray that stayed unopened free again.
    ``incision_after``: wheels-in to incision, used when start means incision.
    ``closure_before``: closure to wheels-out, used when sets are freed at closure.
    ``turnover``: between two cases in one room, for remedies.
    ``rooms_open``, ``rooms_close``: wall times between which a remedy may place a case.
    ``keep_former_files``: days for which former versions of changed files are kept; 0: without end.
    ``gs1_company_prefix``: with it, cart labels carry a GS1 DataMatrix; empty: Code 128.
    ``message_times``, ``message_minutes``: how scheduling messages are read where they leave it open.
    ``hide_message_numbers``: appointment numbers of messages become marks.
    ``overrun_spread``: coefficient of variation of case minutes without past cases.
    """

    site: str
    time_zone: str
    paper: Paper = Paper.A4
    clock: int = 24
    date_order: DateOrder = DateOrder.ANY
    setup_lead: int = 30
    room_release: int = 0
    haul: int = 10
    margin: int = 30
    put_back: int = 15
    start_means: StartMeans = StartMeans.WHEELS_IN
    incision_after: int = 30
    set_freed_at: SetFreedAt = SetFreedAt.WHEELS_OUT
    closure_before: int = 15
    tie_break: TieBreak = TieBreak.EARLIER_START
    expiry_day_counts: bool = True
    pack_offsets_hold: bool = False
    implants_wait: bool = True
    turnover: int = 30
    rooms_open: time = time(7, 0)
    rooms_close: time = time(19, 0)
    overrun_spread: float = 0.557
    cycle_table: CycleTable = CycleTable.CDC_2008
    keep_former_files: int = 0
    gs1_company_prefix: str = ""
    message_times: MessageTimes = MessageTimes.WALL_CLOCK
    message_minutes: MessageMinutes = MessageMinutes.BY_SIZE
    hide_message_numbers: bool = False
    draws: int = 2000
    seed: int = 1

    @property
    def site_clock(self) -> SiteClock:
        """The site's wall clock."""
        return SiteClock(self.time_zone, self.clock)
