"""Procedures, staff, rooms, cases and past cases."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from picklist.clock import minutes_between
from picklist.inputs.far_days import report_far, span_of
from picklist.inputs.known_ids import Causes, fold
from picklist.inputs.site_reader import SiteReader, causes_of, escalate
from picklist.model.catalogue import Procedure
from picklist.model.schedule import Case, PastCase, Room, StaffMember, sum_up_sides
from picklist.problems import Severity, Where
from picklist.tables.rows import Row
from picklist.wording import counted

MOST_LATE = 720  # minutes between planned and actual start of a past case; more is a slip in one of the two


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadCase:
    """A case as far as it could be read; ``case`` is None without a day, a start or a room."""

    number: str
    case: Case | None
    causes: Causes
    row: Row

    @property
    def where(self) -> Where:
        """The place of the case's number."""
        return self.row.where("case")


def read_staff(reader: SiteReader) -> dict[str, StaffMember]:
    """Staff by id; a person whose sizes cannot be read is broken."""
    return reader.by_id("Staff", StaffMember)


def read_rooms(reader: SiteReader) -> dict[str, Room]:
    """Rooms by id; without the table any room passes."""
    return reader.by_id("Rooms", Room)


def read_procedures(reader: SiteReader) -> dict[str, Procedure]:
    """Procedures by id; one whose pack is not certain is broken."""
    return reader.by_id("Procedures", Procedure)


def read_cases(reader: SiteReader) -> list[ReadCase]:
    """All cases with a number. One with anything wrong in its row is stopped, and said so."""
    read: dict[str, ReadCase] = {}
    names = reader.index("Schedule")
    for row in reader.rows("Schedule"):
        if "case" in row.bad:
            bad = row.bad["case"]
            message = f"{bad.problem.message}; no list is printed for this row"
            bad.change(severity=Severity.STOPS_CASE, message=message)
            continue
        number = row.values["case"]
        before = read.get(fold(number))
        if before is not None:
            _stop_both(reader, row, before)
            continue
        names.add(number)
        one = _case(reader, number, row)
        read[fold(number)] = one
        escalate(one.causes, number)
    reader.seal("Schedule")
    return _near_ones(reader, list(read.values()))


def _near_ones(reader: SiteReader, read: list[ReadCase]) -> list[ReadCase]:
    """The cases; a live one on a day far from the others is stopped and has no place in the plan."""
    days = {one.number: one.case.day for one in read if one.case is not None and one.case.is_live}
    span = span_of(days.values())
    if span is None:
        return read
    far = {number: day for number, day in days.items() if span.is_far(day, "day")}
    reader.case_days = tuple(sorted(day for number, day in days.items() if number not in far))
    near = []
    for one in read:
        if one.number not in far:
            near.append(one)
            continue
        draft = report_far(reader, span, one.row.where("day"), far[one.number], "day")
        draft.stop(one.number)
        near.append(replace(one, case=None, causes=(*one.causes, draft)))
    return near


def _stop_both(reader: SiteReader, row: Row, before: ReadCase) -> None:
    message = f"the case '{before.number}' is in two rows, so it is not clear which one counts"
    reader.doubled(before.where, row, "case", message, "each case once").stop(before.number)


def _case(reader: SiteReader, number: str, row: Row) -> ReadCase:
    fields, wrong = reader.fields(row, "Schedule", Case, number=number)
    start, no_start = _start(reader, row)
    procedures, sides = fields.get("procedures", ()), fields.get("sides", ())
    all_known = row.has("procedures") and len(procedures) == len(row.values["procedures"])
    no_sides = _sides_per_procedure(reader, row, procedures) if all_known else ()
    causes = () if _is_over(row) else (*causes_of(row), *wrong, *no_start, *no_sides)
    room = fields.get("room") or reader.as_written(row, "room", wrong)
    case = None
    if start is not None and room:
        made = fields | {
            "room": room,
            "start": start,
            "surgeon": fields.get("surgeon") or reader.as_written(row, "surgeon", wrong),
            "procedures": procedures,
            "side": sum_up_sides(sides),
            "sides": sides if len(set(sides)) > 1 else (),
            "alerts": tuple(alert.casefold() for alert in fields.get("alerts", ())),
            "patient_size": fold(fields.get("patient_size", "")),
        }
        case = Case(**{"minutes": 0} | made)
    return ReadCase(number=number, case=case, causes=tuple(dict.fromkeys(causes)), row=row)


def _sides_per_procedure(reader: SiteReader, row: Row, procedures: tuple[str, ...]) -> Causes:
    """More than one side: there must be one for each procedure, in their order."""
    sides = row.values.get("side") or ()
    if len(sides) < 2 or len(sides) == len(procedures):
        return ()
    listed = "; ".join(procedures)
    stated = f"{len(sides)} sides are stated for {counted(len(procedures), 'procedure')}"
    message = f"{stated} ({listed}), so it is not clear which is on which side"
    expected = "one side for all, or one for each procedure in their order, 'none' for one that has no side"
    return (reader.wrong(row, "side", "sides and procedures", message, expected=expected, see=("procedures",)),)


def _is_over(row: Row) -> bool:
    return row.values.get("status") in ("done", "cancelled")


def _start(reader: SiteReader, row: Row) -> tuple[datetime | None, Causes]:
    if not row.has("day", "start"):
        return None, ()
    return reader.instant(row, "start", datetime.combine(row.values["day"], row.values["start"]))


def read_past_cases(reader: SiteReader) -> tuple[PastCase, ...]:
    """Finished cases; a row that cannot be read is left out. A surgeon who has left is no problem."""
    made: list[PastCase] = []
    staff = reader.index("Staff")
    for row in reader.rows("Past cases"):
        fields, wrong = reader.fields(row, "Past cases", PastCase)
        if not wrong and not row.bad:
            surgeon = fields["surgeon"]
            starts = _past_starts(reader, row)
            made.append(PastCase(**fields | {"surgeon": staff.known.get(fold(surgeon), surgeon)} | starts))
    return tuple(made)


def _past_starts(reader: SiteReader, row: Row) -> dict[str, datetime | None]:
    """The planned and the actual start of a past case; none where they cannot belong together."""
    planned, no_plan = reader.instant(row, "planned start", row.values.get("planned start"))
    actual, not_known = reader.instant(row, "actual start", row.values.get("actual start"))
    if planned is None or actual is None or no_plan or not_known:
        return {"planned_start": None if no_plan else planned, "actual_start": None if not_known else actual}
    apart = abs(minutes_between(planned, actual))
    if apart <= MOST_LATE:
        return {"planned_start": planned, "actual_start": actual}
    reader.ledger.report(
        "far apart",
        row.where("actual start"),
        f"the actual start is {counted(round(apart / 1440), 'day')} from the planned start; neither counts",
        expected="a start within 12 hours of the planned one",
        related=(row.where("planned start"),),
    )
    return {"planned_start": None, "actual_start": None}
