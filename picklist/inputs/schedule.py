"""Procedures, cases and past cases."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from picklist.inputs.desk import Causes, Desk, causes_of, escalate, fold, value
from picklist.inputs.far_days import report_far, span_of
from picklist.model.catalogue import Procedure
from picklist.model.schedule import Case, CaseStatus, PastCase, Side, sum_up_sides
from picklist.problems import Severity, Where
from picklist.tables.rows import Row


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


def read_procedures(desk: Desk) -> dict[str, Procedure]:
    """Procedures by id; one whose pack cannot be told is broken."""
    made: dict[str, Procedure] = {}
    names = desk.index("Procedures")
    for one, row, again in desk.keyed("Procedures", "procedure"):
        if again is not None:
            continue
        names.add(one, value(row, "name", ""))
        pack, wrong = desk.refer(row, "pack", "Packs")
        if wrong:
            names.break_(one, wrong)
            continue
        made[one] = Procedure(
            id=one,
            name=value(row, "name", one),
            service=value(row, "service", ""),
            pack=pack,
            where=row.where(),
        )
    desk.seal("Procedures")
    return made


def read_cases(desk: Desk) -> list[ReadCase]:
    """All cases with a number. One with anything wrong in its row is stopped, and said so."""
    read: dict[str, ReadCase] = {}
    names = desk.index("Schedule")
    for row in desk.rows("Schedule"):
        if "case" in row.bad:
            row.bad["case"].severity = Severity.STOPS_CASE
            row.bad["case"].message += "; no list is printed for this row"
            continue
        number = row.values["case"]
        before = read.get(fold(number))
        if before is not None:
            _stop_both(desk, row, before)
            continue
        names.add(number)
        one = _case(desk, number, row)
        read[fold(number)] = one
        escalate(one.causes, number)
    desk.seal("Schedule")
    return _near_ones(desk, list(read.values()))


def _near_ones(desk: Desk, read: list[ReadCase]) -> list[ReadCase]:
    """The cases; a live one on a day far from the others is stopped and has no place in the plan."""
    days = {one.number: one.case.day for one in read if one.case is not None and one.case.is_live}
    span = span_of(days.values())
    if span is None:
        return read
    far = {number: day for number, day in days.items() if span.is_far(day, "day")}
    desk.case_days = tuple(sorted(day for number, day in days.items() if number not in far))
    near = []
    for one in read:
        if one.number not in far:
            near.append(one)
            continue
        draft = report_far(desk, span, one.row.where("day"), far[one.number], "day")
        draft.stop(one.number)
        near.append(replace(one, case=None, causes=(*one.causes, draft)))
    return near


def _stop_both(desk: Desk, row: Row, before: ReadCase) -> None:
    draft = desk.ledger.report(
        "doubled key",
        row.where("case"),
        f"the case '{before.number}' stands in two rows, so it is not certain which one counts",
        value=before.number,
        expected="each case once",
        related=(before.where,),
    )
    draft.stop(before.number)


def _case(desk: Desk, number: str, row: Row) -> ReadCase:
    room, no_room = desk.refer(row, "room", "Rooms")
    surgeon, no_surgeon = desk.refer(row, "surgeon", "Staff")
    procedures, no_procedures = desk.refer_all(row, "procedures", "Procedures")
    team, no_team = desk.refer_all(row, "team", "Staff")
    start, no_start = _start(desk, row)
    no_sides = () if no_procedures else _sides_per_procedure(desk, row, procedures)
    wrong = (*causes_of(row), *no_room, *no_surgeon, *no_procedures, *no_team, *no_start, *no_sides)
    if _is_over(row):
        wrong = ()
    room = room or desk.as_written(row, "room", no_room)
    case = None
    if start is not None and room:
        case = replace(
            _made(row, number, start, room),
            surgeon=surgeon or desk.as_written(row, "surgeon", no_surgeon),
            procedures=procedures,
            team=team,
            notes=row.values.get("notes") or "",
            alerts=tuple(alert.casefold() for alert in row.values.get("alerts") or ()),
        )
    return ReadCase(number=number, case=case, causes=tuple(dict.fromkeys(wrong)), row=row)


def _sides_per_procedure(desk: Desk, row: Row, procedures: tuple[str, ...]) -> Causes:
    """More than one side: there must be one for each procedure, in their order."""
    sides = row.values.get("side") or ()
    if len(sides) < 2 or len(sides) == len(procedures):
        return ()
    listed = "; ".join(procedures)
    stated = f"{len(sides)} sides are stated for {len(procedures)} procedure{'s' if len(procedures) != 1 else ''}"
    draft = desk.ledger.report(
        "sides and procedures",
        row.where("side"),
        f"{stated} ({listed}), so it is not certain which is on which side",
        value="; ".join(sides),
        expected="one side for all, or one for each procedure in their order, 'none' for one that has no side",
        related=(row.where("procedures"),),
    )
    return (draft,)


def _is_over(row: Row) -> bool:
    return row.values.get("status") in ("done", "cancelled")


def _start(desk: Desk, row: Row) -> tuple[datetime | None, Causes]:
    if not row.has("day", "start"):
        return None, ()
    return desk.instant(row, "start", datetime.combine(row.values["day"], row.values["start"]))


def _made(row: Row, number: str, start: datetime, room: str) -> Case:
    sides = tuple(Side(side) for side in row.values.get("side") or ())
    return Case(
        number=number,
        day=row.values["day"],
        room=room,
        start=start,
        minutes=value(row, "minutes", 0),
        surgeon="",
        procedures=(),
        side=sum_up_sides(sides),
        sides=sides if len(set(sides)) > 1 else (),
        patient_size=fold(value(row, "patient size", "")),
        fields=value(row, "fields", 1),
        status=CaseStatus(value(row, "status", "planned")),
        may_move=value(row, "may move", True),
        priority=value(row, "priority", 1),
        where=row.where(),
    )


def read_past_cases(desk: Desk) -> tuple[PastCase, ...]:
    """Finished cases; a row that cannot be read is left out. A surgeon who has left is no problem."""
    made: list[PastCase] = []
    staff = desk.index("Staff")
    for row in desk.rows("Past cases"):
        procedure, wrong = desk.refer(row, "procedure", "Procedures")
        if wrong or row.bad:
            continue
        surgeon = row.values["surgeon"]
        made.append(
            PastCase(
                procedure=procedure,
                surgeon=staff.known.get(fold(surgeon), surgeon),
                planned_minutes=row.values["planned minutes"],
                actual_minutes=row.values["actual minutes"],
                where=row.where(),
            )
        )
    return tuple(made)
