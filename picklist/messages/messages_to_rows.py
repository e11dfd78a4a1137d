"""Appointments as rows of the table Schedule, by what the table Codes says; what it does not say is a problem.

A cell that cannot be filled stays empty, so that the reader of the schedule stops that case and no
list is printed from half of it. Nothing is guessed.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from picklist.messages.door import Door, fold_code, is_mark
from picklist.messages.events import SIDE_WORDS, Doubt, FieldCode, Part, Resource, State
from picklist.messages.history import Appointment, Kept, appointments, instant_of
from picklist.model.codes import Code, Means
from picklist.problems import Problem, Severity, Where
from picklist.settings import MessageTimes, Settings
from picklist.tables.drafts import Draft, Ledger
from picklist.tables.nearest import Candidates
from picklist.tables.schema import SCHEDULE

Row = dict[str, object]
KEPT_DAYS = 7  # days after its own for which a case stays in the schedule
STATUS = {
    State.BOOKED: "planned",
    State.STARTED: "running",
    State.DONE: "done",
    State.CANCELLED: "cancelled",
}
LOCATIONS = ("AIL-3.1", "AIL-3.2", "AIL-3.3")
COLUMNS = tuple(
    SCHEDULE.column(name)
    for name in (
        *("case", "day", "room", "start", "minutes", "surgeon", "procedures"),
        *("side", "alerts", "team", "status"),
    )
)
NEEDED = ("day", "room", "minutes", "surgeon", "procedures")
MESSAGE = "message"  # the first word of a place in a message
PERSONS = (Means.SURGEON, Means.TEAM)


class Meanings:
    """The table Codes, asked by field, code and system."""

    def __init__(self, codes: Iterable[Code], door: Door) -> None:
        """Take the rows; ``door`` makes the marks under which codes that look like none were kept."""
        self._known: dict[tuple[str, str, str], Code] = {}
        written: dict[str, list[str]] = defaultdict(list)
        for code in codes:
            for name in LOCATIONS if code.field == "AIL-3" else (code.field,):
                system = fold_code(door.code(code.system))
                for text in (code.code, door.code(code.code), door.mark(code.code)):
                    self._known.setdefault((name, fold_code(text), system), code)
                written[name].append(code.code)
        self._near = {name: Candidates(texts) for name, texts in written.items()}

    def find(self, codes: Iterable[FieldCode], *wanted: Means) -> Code | None:
        """The first of these codes that has a meaning (of the wanted kinds, where any are named)."""
        for one in codes:
            for system in dict.fromkeys((fold_code(one.system), "")):
                known = self._known.get((one.field, fold_code(one.code), system))
                if known is not None and (not wanted or known.means in wanted):
                    return known
        return None

    def nearest(self, one: FieldCode) -> tuple[str, ...]:
        """Codes of the same field that are spelled nearly so."""
        near = self._near.get(one.field)
        return () if near is None or is_mark(one.code) else near.nearest(one.code)


@dataclass(slots=True)
class _Report:
    """Problems of many messages, each fault once with all its cases."""

    ledger: Ledger
    found: dict[tuple[str, ...], tuple[Draft, list[str]]] = field(default_factory=dict)

    def add(self, key: tuple[str, ...], number: str, make: Callable[[], Draft]) -> None:
        if key not in self.found:
            self.found[key] = (make(), [])
        self.found[key][1].append(number)

    def problems(self) -> tuple[Problem, ...]:
        for draft, numbers in self.found.values():
            draft.cases.update(dict.fromkeys(numbers))
            if len(set(numbers)) > 1:
                draft.change(message=f"{draft.problem.message} (so in {len(set(numbers))} cases)")
        return self.ledger.problems()


def where_in(kept: Kept, place: str) -> Where:
    """The place of a part of a message, by its control id, or its running number where that is not said."""
    control = kept.event.control
    named = f"{MESSAGE} {control}" if control and not is_mark(control) else f"{MESSAGE} no. {kept.serial}"
    return Where(file=f"{named}, {place}" if place else named)


def schedule_of(
    kept: Iterable[Kept], codes: Iterable[Code], settings: Settings, door: Door, today: date
) -> tuple[list[Row], tuple[Problem, ...]]:
    """The rows of the schedule from some days ago on, by day, start and number, and what could not be mapped."""
    clock = settings.site_clock
    maker = _Maker(settings, Meanings(codes, door), _Report(Ledger(today)))
    rows: list[Row] = []
    standing = appointments(kept, clock, settings.message_minutes)
    again = Counter(fold_code(one.number) for one in standing)
    for one in standing:
        if again[fold_code(one.number)] > 1:
            one.number = f"{one.number}.{one.key[2].lstrip('#')[:12] or 'x'}"
        wall = maker.wall(one)
        day = wall.date() if wall is not None else clock.day(instant_of(one.last, clock))
        if day < today - timedelta(days=KEPT_DAYS):
            continue
        row = maker.row(one, wall)
        if row is not None:
            rows.append(row)
    rows.sort(key=lambda row: tuple(str(row[name]) for name in ("day", "start", "case")))
    return rows, maker.report.problems()


@dataclass(frozen=True, slots=True)
class _Maker:
    """Makes the rows of one schedule."""

    settings: Settings
    meanings: Meanings
    report: _Report

    def wall(self, one: Appointment) -> datetime | None:
        """The wall time of a start, naive. One without an offset is the site's, unless the setting says otherwise."""
        if not one.start:
            return None
        start = datetime.fromisoformat(one.start)
        clock = self.settings.site_clock
        if start.tzinfo is None:
            sent = datetime.fromisoformat(one.zone).utcoffset() if one.zone else None
            if sent is None or sent == clock.wall(clock.at_or_after(start.date(), start.time())).utcoffset():
                return start
            if self.settings.message_times is MessageTimes.WALL_CLOCK:
                self._doubt(one, one.last, OTHER_OFFSET)
                return start
            start = datetime.fromisoformat(f"{one.start}{one.zone[19:]}")
        return clock.wall(start).replace(tzinfo=None, second=0)

    def _sent(self, one: Appointment) -> datetime:
        """The wall time here of an appointment's last message, naive; that of its arrival where it has none."""
        clock = self.settings.site_clock
        return clock.wall(instant_of(one.last, clock)).replace(tzinfo=None)

    def row(self, one: Appointment, wall: datetime | None) -> Row | None:
        """The row of an appointment; None for one that is no case.

        No case is what is deleted, waiting or never booked, and what was cancelled before it was whole.
        """
        for doubts in one.doubts.values():
            for kept, doubt in doubts:
                self._doubt(one, kept, doubt)
        status = self._status(one, wall)
        if status is None or not one.booked:
            return None
        places, persons = self._mapped(one, Part.PLACE), self._mapped(one, Part.PERSON)
        others = self._mapped(one, Part.OTHER, must=False)
        surgeons, team = self._people(one, [*persons, *((r, c) for r, c in others if c.means in PERSONS)])
        procedures, sides = self._procedures(one)
        mapped = [code for _, code in (*places, *others)]
        row: Row = {
            "case": one.number,
            "day": wall.date() if wall else None,
            "start": wall.time() if wall else None,
            "room": self._only(one, Means.ROOM, mapped, "places"),
            "minutes": one.minutes,
            "surgeon": surgeons,
            "procedures": procedures,
            "side": sides,
            "team": team,
            "alerts": tuple(dict.fromkeys(code.value for code in self._alerts(one, mapped))),
            "status": status,
        }
        return None if status == "cancelled" and not all(row[name] for name in NEEDED) else row

    def _status(self, one: Appointment, wall: datetime | None) -> str | None:
        own = self.meanings.find(one.status, Means.STATUS)
        if own is not None:
            return own.value
        for code in one.status[:1]:
            self._unknown(one, one.last, "field SCH-25", code, "the case counts as planned")
        if one.state is State.WAITING:
            self._doubt(one, one.last, NOT_BOOKED)
        if one.state is State.STOPPED:
            return "done" if wall is not None and self._sent(one) >= wall else "cancelled"
        return STATUS.get(one.state or State.BOOKED)

    def _mapped(self, one: Appointment, part: Part, *, must: bool = True) -> list[tuple[Resource, Code]]:
        """The parts of one kind with their meaning; each that has none is a problem when it must have one."""
        found = []
        for key, resource in one.resources.items():
            if resource.part is not part:
                continue
            code = self.meanings.find(resource.codes)
            if code is not None:
                found.append((resource, code))
            elif must:
                self._unmapped(one, one.sources[key], resource)
        return found

    def _unmapped(self, one: Appointment, kept: Kept, resource: Resource) -> None:
        if resource.codes:
            self._unknown(one, kept, resource.place, resource.codes[0])
        else:
            self._doubt(one, kept, Doubt(kind="no code", place=resource.place, message="there is no code here"))

    def _only(self, one: Appointment, means: Means, codes: Iterable[Code], what: str) -> str:
        """The one value of that meaning; empty (and a problem) where several are named."""
        values = list(dict.fromkeys(code.value for code in codes if code.means is means))
        if len(values) > 1:
            message = f"the {what} of this case are {len(values)} {means}s ({', '.join(values)}); none was taken"
            self._doubt(one, one.last, Doubt(kind=f"several {means}s", place="", message=message))
        return values[0] if len(values) == 1 else ""

    def _people(self, one: Appointment, persons: list[tuple[Resource, Code]]) -> tuple[str, tuple[str, ...]]:
        """Surgeon and team: what AIP-4 says a person does goes before what Codes says of the person."""
        surgeons: list[Code] = []
        team: list[Code] = []
        for resource, code in persons:
            role = self.meanings.find(resource.roles, *PERSONS, Means.NOTHING)
            means = role.means if role is not None else code.means
            if code.means in PERSONS and means is not Means.NOTHING:
                (surgeons if means is Means.SURGEON else team).append(code)
        who = self._only(one, Means.SURGEON, [replace(code, means=Means.SURGEON) for code in surgeons], "people")
        return who, tuple(dict.fromkeys(code.value for code in team if code.value != who))

    def _procedures(self, one: Appointment) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Procedures and sides of all services; without services, of the appointment's reason and type.

        One service without a meaning leaves the procedures empty: a case with half its procedures must not print.
        """
        services = [(key, res) for key, res in one.resources.items() if res.part is Part.SERVICE]
        if not services:
            code = self.meanings.find(one.reasons, Means.PROCEDURE)
            if code is None and one.state is State.BOOKED:
                self._doubt(one, one.last, NO_SERVICE)
            return ((code.value,) if code else ()), ()
        procedures, sides, whole = [], [], True
        for key, service in services:
            code = self.meanings.find(service.codes)
            if code is None:
                self._unmapped(one, one.sources[key], service)
                whole = False
            elif code.means is Means.PROCEDURE:
                procedures.append(code.value)
                sides.append(self._side(one, one.sources[key], service))
        if not whole:
            return (), ()
        stated = tuple(sides) if all(sides) else ()
        return tuple(procedures), stated[:1] if len(set(stated)) == 1 else stated

    def _side(self, one: Appointment, kept: Kept, service: Resource) -> str:
        """The side of a service; empty where it is not stated or has no meaning."""
        found = {code.value for each in service.sides if (code := self._side_of(each)) is not None}
        if len(found) == 1:
            return found.pop()
        if found == {"left", "right"}:
            return "both"
        for each in service.sides[:1]:
            self._unknown(one, kept, service.place.replace("AIS-3", "AIS-11"), each)
        return ""

    def _side_of(self, one: FieldCode) -> Code | None:
        own = self.meanings.find((one,), Means.SIDE)
        word = SIDE_WORDS.get(one.code.casefold())
        if own is not None or word is None:
            return own
        return Code(field=one.field, code=one.code, system="", means=Means.SIDE, value=word)

    def _alerts(self, one: Appointment, mapped: list[Code]) -> Iterable[Code]:
        reasons = (self.meanings.find((each,), Means.ALERT) for each in one.reasons)
        yield from (code for code in (*mapped, *reasons) if code is not None and code.means is Means.ALERT)

    def _unknown(self, one: Appointment, kept: Kept, place: str, code: FieldCode, then: str = "") -> None:
        """A code without a meaning: once for all cases in which it stands."""
        hidden = is_mark(code.code)

        def make() -> Draft:
            said = "a text here is not in the table Codes" if hidden else "this code is not in the table Codes"
            return self.report.ledger.report(
                "unknown code",
                where_in(kept, place),
                f"{said}{f', so {then}' if then else ''}",
                value="" if hidden else code.code,
                expected=f"a row in Codes with the field {code.field}, and what the code means",
                nearest=self.meanings.nearest(code),
            )

        self.report.add(("unknown code", code.field, code.code, code.system), one.number, make)

    def _doubt(self, one: Appointment, kept: Kept, doubt: Doubt) -> None:
        severity = Severity.TO_FIX if doubt.grave else Severity.NOTICE

        def make() -> Draft:
            where = where_in(kept, doubt.place)
            return self.report.ledger.report(doubt.kind, where, doubt.message, severity=severity)

        self.report.add((doubt.kind, doubt.place, doubt.message), one.number, make)


OTHER_OFFSET = Doubt(
    kind="other offset",
    place="field MSH-7",
    message="the message's own time has another offset from UTC than the site has at the start, which has none; "
    "the start was taken for the site's wall clock (setting 'message times')",
    grave=False,
)
NOT_BOOKED = Doubt(
    kind="not booked",
    place="field SCH-25",
    message="this is only proposed, waiting or blocked; it is not in the schedule",
    grave=False,
)
NO_SERVICE = Doubt(
    kind="no procedure",
    place="AIS",
    message="no service is stated, and neither SCH-7 nor SCH-8 has a code that means a procedure",
)
