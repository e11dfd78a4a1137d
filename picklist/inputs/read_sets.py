"""Physical sets, and what they show of their trays: a set that names a side makes its tray sided."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from picklist.inputs.far_days import Span, report_far, span_of
from picklist.inputs.known_ids import Causes, fold
from picklist.inputs.site_reader import SiteReader, value
from picklist.inputs.unstated import NAMED, Unstated, report_unstated
from picklist.model.catalogue import Tray
from picklist.model.routes import Route
from picklist.model.schedule import ONE_SIDE
from picklist.model.sets import NO_END, InstrumentSet, SetState
from picklist.tables.columns import CellType
from picklist.tables.nearest import Candidates
from picklist.tables.rows import Row
from picklist.tables.schema import SETS

UNTIL = "recorded sterile until"
STAMPS = tuple(column for column in SETS.columns if column.type is CellType.STAMP)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetRow:
    """A row of Sets with the tray that it names; ``wrong`` says why there is none."""

    id: str
    row: Row
    tray: str
    wrong: Causes


def read_sets(
    reader: SiteReader, trays: Mapping[str, Tray], routes: Mapping[str, Route]
) -> tuple[dict[str, Tray], dict[str, InstrumentSet]]:
    """The trays, sided where a set of theirs names a side, and the sets by id.

    A set with a cell that cannot be trusted is left out, as is one that is in two rows.
    """
    rows: list[SetRow] = []
    twice: set[str] = set()
    for one, row, again in reader.keyed("Sets", "set"):
        tray, wrong = reader.refer(row, "tray", "Trays")
        rows.append(SetRow(id=one, row=row, tray=tray, wrong=wrong))
        if again is not None:
            twice.add(fold(one))
            message = f"the set '{one}' is in two rows; it was left out, as it is not clear where it is"
            again.change(kind="set in two places", message=message)
    trays = _with_sides(reader, trays, rows)
    made: dict[str, InstrumentSet] = {}
    span = span_of(reader.case_days)
    for set_row in rows:
        copy = _set(reader, set_row, trays, routes, span)
        if copy is not None and fold(copy.id) not in twice:
            made[copy.id] = copy
    _say_unstated(reader, trays, [(made[one.id], one.row) for one in rows if one.id in made])
    return trays, made


def _with_sides(reader: SiteReader, trays: Mapping[str, Tray], rows: list[SetRow]) -> dict[str, Tray]:
    """A set that names a side makes its tray sided, whatever the tray says of itself."""
    naming: dict[str, list[Row]] = defaultdict(list)
    for one in rows:
        if _names_a_side(one.row):
            naming[one.tray].append(one.row)
    for tray in trays.values():
        if tray.sided is False and tray.id in naming:
            reader.ledger.report(
                "sided contradicts",
                replace(tray.where, column="sided"),
                f"the tray '{tray.id}' is stated to have no left and right, but {len(naming[tray.id])} of its sets "
                "name a side; it counts as sided",
                value="no",
                expected="yes, or no side at its sets",
                related=tuple(row.where("side") for row in naming[tray.id][:NAMED]),
            )
    _say_sided(reader, trays, naming)
    return {one: replace(tray, sided=True) if one in naming else tray for one, tray in trays.items()}


def _names_a_side(row: Row) -> bool:
    """Whether a set says left or right, be it with a typing mistake."""
    bad = row.bad.get("side")
    return bool(row.values.get("side") or (bad and set(ONE_SIDE).intersection(bad.problem.nearest)))


def _say_sided(reader: SiteReader, trays: Mapping[str, Tray], naming: Container[str]) -> None:
    blank = [tray for tray in trays.values() if tray.sided is None]
    found = Unstated(
        column="sided",
        of=len(trays),
        what="trays",
        assumed="those of which a set names a side count as sided, the others as having no left and right",
        expected="yes when its sets are left or right, else no",
        harmless=not any(tray.id in naming for tray in blank),
    )
    report_unstated(reader, found, [(tray.id, replace(tray.where, column="sided")) for tray in blank])


def _say_unstated(reader: SiteReader, trays: dict[str, Tray], sets: list[tuple[InstrumentSet, Row]]) -> None:
    """What the sets that can be planned with leave blank, each column once with its count."""
    sided = [pair for pair in sets if trays[pair[0].tray].sided]
    shelf = [pair for pair in sets if pair[0].state is SetState.ON_SHELF]
    loans = [pair for pair in sets if pair[0].state is SetState.ON_LOAN]
    for column, group, what, assumed, expected, kind in (
        ("state", sets, "sets", "they count as unknown and are given to no case", "the state now", "not stated"),
        ("side", sided, "sets of sided trays", "they are given to no case", "left or right", "set without side"),
        (
            "place",
            shelf,
            "sets on a shelf",
            "lists say 'place not recorded'",
            "the place where it is stored",
            "not stated",
        ),
        ("return by", loans, "sets on loan", "they count as staying", "when it must leave again", "not stated"),
    ):
        blank = [(one.id, row.where(column)) for one, row in group if not row.values.get(column) and row.has(column)]
        found = Unstated(column=column, of=len(group), what=what, assumed=assumed, expected=expected, kind=kind)
        report_unstated(reader, found, blank)
    if any(row.values.get(UNTIL) for _, row in sets):  # a column without any content is reported as such
        _say_no_end(reader, shelf)


def _say_no_end(reader: SiteReader, shelf: list[tuple[InstrumentSet, Row]]) -> None:
    """Sets on a shelf of which some record no end of their sterility, while others do."""
    found = Unstated(
        column=UNTIL,
        of=len(shelf),
        what="sets on a shelf",
        assumed="they count without an end, and the list of a case that gets one names it",
        expected=f"the last day of the record, or '{NO_END}' where only an event ends it",
        harmless=True,
    )
    report_unstated(reader, found, [(one.id, row.where(UNTIL)) for one, row in shelf if not one.end_recorded])


def _set(
    reader: SiteReader, one: SetRow, trays: Mapping[str, Tray], routes: Mapping[str, Route], span: Span | None
) -> InstrumentSet | None:
    row = one.row
    fields, no_case = reader.fields(row, "Sets", InstrumentSet, id=one.id, tray=one.tray)
    if one.wrong or no_case or one.tray not in trays or not _all_but_place(row):
        return None
    tray = trays[one.tray]
    if tray.route not in routes:  # only when the Routes themselves could not be read
        return None
    moments = _moments(reader, row, span)
    if moments is None:
        return None
    state: SetState = value(row, "state", SetState.UNKNOWN)
    step = _step(reader, row, state, routes[tray.route])
    if step is None or not _state_is_whole(reader, row, state):
        return None
    return InstrumentSet(
        **fields
        | moments
        | {
            "size": fold(fields.get("size", "")),
            "state": state,
            "step": step,
            "recorded_until": _end_of(reader, row.values.get(UNTIL)),
            "end_recorded": bool(row.values.get(UNTIL)),
        }
    )


def _all_but_place(row: Row) -> bool:
    return all(column in ("place", "missing") for column in row.bad)


def _moments(reader: SiteReader, row: Row, span: Span | None) -> dict[str, datetime | None] | None:
    """The instants of a set by field; None when one of them cannot be meant."""
    found: dict[str, datetime | None] = {}
    for column in STAMPS:
        wall = row.values.get(column.name)
        if wall is not None and _is_far(reader, row, span, column.name, wall.date()):
            return None
        found[column.field], wrong = reader.instant(row, column.name, wall)
        if wrong:
            return None
    until = row.values.get(UNTIL)
    if isinstance(until, date) and _is_far(reader, row, span, UNTIL, until):
        return None
    return found


def _is_far(reader: SiteReader, row: Row, span: Span | None, column: str, day: date) -> bool:
    """Whether a day is too far from those of the schedule, and says so."""
    if span is None or not span.is_far(day, column):
        return False
    report_far(reader, span, row.where(column), day, column)
    return True


def _end_of(reader: SiteReader, day: date | str | None) -> datetime | None:
    """The instant at which a day ends; None for the word that there is no end."""
    return reader.clock.at_or_after(day + timedelta(days=1), time(0)) if isinstance(day, date) else None


def _step(reader: SiteReader, row: Row, state: SetState, route: Route) -> str | None:
    """The step in the route's spelling; None when it is needed and not there, or unknown."""
    written = value(row, "step", "")
    steps = {fold(step.name): step.name for step in route.steps}
    if written and fold(written) in steps:
        return steps[fold(written)]
    if not written and state is not SetState.AT_STEP:
        return ""
    kind, message = "step missing", "which step the set is at is missing"
    if written:
        kind, message = "step not in route", f"the route '{route.id}' of this set has no step of this name"
    expected, nearest = "one of " + ", ".join(steps.values()), Candidates(tuple(steps.values())).nearest(written)
    reader.wrong(row, "step", kind, message, expected=expected, nearest=nearest, related=(route.where,))
    return None


NEEDED = {
    SetState.AT_STEP: ("step since", "when the step began"),
    SetState.IN_USE: ("in case", "the running case"),
    SetState.AWAY: ("back at", "when it comes back"),
    SetState.ON_LOAN: ("back at", "when it arrives or arrived"),
}


def _state_is_whole(reader: SiteReader, row: Row, state: SetState) -> bool:
    """A set whose state lacks the moment or the case that it needs cannot be planned with."""
    column, what = NEEDED.get(state, ("", ""))
    if not column or row.values.get(column):
        return True
    reader.ledger.report(
        "state incomplete",
        row.where(column),
        f"the state '{state.value}' needs {what}; the set was left out",
        expected=what,
        related=(row.where("state"),),
    )
    return False
