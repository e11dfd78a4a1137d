"""The page of the day after: forms of what was used, stock and sets that follow, and what the past suggests."""

from __future__ import annotations

from functools import partial

from starlette.responses import Response

from picklist.model.suggestion import LEAST_CASES
from picklist.server.visit import Visit
from picklist.server.work import Lane
from picklist.tasks.calibrate import Calibrated, calibrate_site
from picklist.tasks.day_after import Settled, mark_of, settle_day, suggest_changes
from picklist.tasks.errors import WrongUse
from picklist.tasks.take_form import built_days
from picklist.wording.card_words import suggestion_words
from picklist.wording.say_carts import NOT_COUNTED, cell_words


def show_after(visit: Visit) -> Response:
    """The drop field for used forms, the days that can be settled, and the suggestions."""
    desk, plan = visit.desk, visit.desk.plan()
    days = built_days(desk.folder) if plan else ()
    least = int(said) if (said := visit.asked.get("least", "")).isascii() and said.isdigit() and len(said) < 4 else 0
    least = least or LEAST_CASES
    found = suggest_changes(desk.folder, least) if plan else ()
    names = {one.id: one.name for one in plan.items} | {one.id: one.name for one in plan.trays} if plan else {}
    return visit.show(
        "after",
        "after",
        least=least,
        days=days,
        shown=plan.day if plan else None,
        suggestions=found,
        names=names,
        words=suggestion_words,
    )


def start_judging(visit: Visit) -> Response:
    """Judge by past cases whether the risk figures come true."""
    desk = visit.desk
    return visit.wait_for(
        "Comparing forecasts of past cases with what happened",
        Lane.CHECK,
        lambda: calibrate_site(desk.folder, desk.now()),
        "after/calibration/{}",
    )


def show_judged(visit: Visit) -> Response:
    """The diagram and the table of the judgement, as they are printed."""
    return visit.show("calibration", "after", page=visit.result(Calibrated).page(), work=visit.path["work"])


def print_judged(visit: Visit) -> Response:
    """The printed page of the judgement."""
    file = visit.result(Calibrated).write(visit.desk.new_place()).file
    headers = {"content-disposition": f'inline; filename="{file.name}"'}
    return Response(file.read_bytes(), media_type="application/pdf", headers=headers)


def start_settling(visit: Visit) -> Response:
    """Work out what a day changes in stock and sets; nothing is written."""
    return _settle(visit, "Working out what the day changes", "")


def write_settled(visit: Visit) -> Response:
    """Write what was looked at."""
    seen = visit.form.get("seen", "")
    if not seen:
        raise WrongUse("look at the changes before they are written")
    return _settle(visit, "Writing the changes", seen)


def _settle(visit: Visit, title: str, seen: str) -> Response:
    desk, day = visit.desk, visit.day("day")
    return visit.wait_for(
        title,
        Lane.CHECK,
        lambda: settle_day(desk.folder, day, desk.now(), write=bool(seen), seen=seen),
        "after/settle/{}",
        day=day,
    )


def show_settled(visit: Visit) -> Response:
    """What a day changes, before it is written; or what was written."""
    settled = visit.result(Settled)
    return visit.show(
        "settled",
        "after",
        day=visit.about("day"),
        settled=settled,
        not_counted=NOT_COUNTED,
        seen=mark_of(settled.changes),
        cell=partial(cell_words, clock=settled.clock),
    )
