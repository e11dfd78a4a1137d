"""Routes: their steps in an order in which each is after those that it waits for."""

from __future__ import annotations

from picklist.inputs.known_ids import Causes, fold
from picklist.inputs.site_reader import SiteReader, causes_of, value
from picklist.model.routes import Route, Step
from picklist.tables.drafts import Draft
from picklist.tables.nearest import Candidates
from picklist.tables.rows import Row
from picklist.wording import span

NOTHING_BEFORE = "start"


def read_routes(reader: SiteReader) -> dict[str, Route]:
    """Routes by id. A route with any step that cannot be read is broken as a whole."""
    names = reader.index("Routes")
    grouped: dict[str, list[Row]] = {}
    spelled: dict[str, str] = {}
    for row in reader.rows("Routes"):
        if row.has("route"):
            grouped.setdefault(spelled.setdefault(fold(row.values["route"]), row.values["route"]), []).append(row)
    made: dict[str, Route] = {}
    for one, rows in grouped.items():
        names.add(one)
        route, wrong = _route(reader, one, rows)
        if wrong:
            names.break_(one, wrong)
        else:
            made[one] = route
    reader.seal("Routes")
    return made


def _route(reader: SiteReader, one: str, rows: list[Row]) -> tuple[Route, Causes]:
    steps: dict[str, Step] = {}
    wrong: Causes = ()
    above = ""
    spelled = {fold(row.values["step"]): row.values["step"] for row in rows if row.has("step")}
    for row in rows:
        step, causes = _step(reader, row, above, spelled)
        if step.name in steps:
            message = f"the step '{step.name}' is in the route '{one}' twice"
            causes = (*causes, reader.doubled(steps[step.name].where, row, "step", message, "each step once"))
        wrong += causes
        above = step.name
        steps[step.name] = step
    if not wrong:
        wrong = _check_minutes(reader, one, rows, steps)
    ordered = () if wrong else _in_order(tuple(steps.values()))
    if not wrong and not ordered:
        wrong = (_circular(reader, one, rows),)
    return Route(id=one, steps=ordered, where=rows[0].where()), wrong


def _step(reader: SiteReader, row: Row, above: str, spelled: dict[str, str]) -> tuple[Step, Causes]:
    fields, wrong = reader.fields(row, "Routes", Step, run="", after=())
    run, no_run = reader.refer(row, "run", "Departures")
    after, no_after = _after(reader, row, above, spelled)
    usual, least = value(row, "usual minutes", 0), value(row, "least minutes", 0)
    if row.has("usual minutes", "least minutes") and least > usual:
        message = f"the usual {span(usual)} is less than the minimum {span(least)}; {span(least)} was taken for both"
        expected, see = f"{least} or more", ("least minutes",)
        reader.wrong(row, "usual minutes", "usual below least", message, expected=expected, see=see)
    made = fields | {
        "name": spelled[fold(row.values["step"])] if row.has("step") else "",
        "after": after,
        "usual_minutes": max(usual, least),
        "least_minutes": least,
        "run": run,
        "in_room": row.values.get("begins in") == "room",
    }
    return Step(**made), tuple(dict.fromkeys((*causes_of(row), *wrong, *no_run, *no_after)))


def _after(reader: SiteReader, row: Row, above: str, spelled: dict[str, str]) -> tuple[tuple[str, ...], Causes]:
    written = row.values.get("after") or ()
    if not written:
        return ((above,) if above else ()), ()
    if tuple(fold(one) for one in written) == (NOTHING_BEFORE,) and NOTHING_BEFORE not in spelled:
        return (), ()
    found = []
    wrong: list[Draft] = []
    for one in written:
        step = spelled.get(fold(one))
        if step is None:
            wrong.append(_unknown_step(reader, row, one, spelled))
        else:
            found.append(step)
    return tuple(found), tuple(wrong)


def _unknown_step(reader: SiteReader, row: Row, written: str, spelled: dict[str, str]) -> Draft:
    return reader.ledger.report(
        "unknown step",
        row.where("after"),
        "the route has no step of this name",
        value=written,
        expected="steps of the same route, or 'start'",
        nearest=Candidates(tuple(spelled.values())).nearest(written),
    )


def _check_minutes(reader: SiteReader, one: str, rows: list[Row], steps: dict[str, Step]) -> Causes:
    if any(step.usual_minutes > 0 for step in steps.values()):
        return ()
    return (
        reader.ledger.report(
            "route without minutes",
            rows[0].where("usual minutes"),
            f"no step of the route '{one}' takes any minutes",
            expected="the minutes that each step takes",
        ),
    )


def _in_order(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """Steps so that each is after those it waits for, file order kept where possible; empty when circular."""
    placed: dict[str, Step] = {}
    waiting = list(steps)
    while waiting:
        free = next((step for step in waiting if all(name in placed for name in step.after)), None)
        if free is None:
            return ()
        placed[free.name] = free
        waiting.remove(free)
    return tuple(placed.values())


def _circular(reader: SiteReader, one: str, rows: list[Row]) -> Draft:
    return reader.ledger.report(
        "circular route",
        rows[0].where("after"),
        f"steps of the route '{one}' wait for each other in a circle, so it never ends",
        expected="steps that wait only for earlier ones",
        related=tuple(row.where("after") for row in rows if row.values.get("after")),
    )
