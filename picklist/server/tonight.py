"""The first page: how the evening stands, and the button that builds."""

from __future__ import annotations

from starlette.responses import Response

from picklist import wording
from picklist.model.known import NOTHING_KNOWN
from picklist.model.plan import Plan
from picklist.problems_report import count_line
from picklist.server.conflict_entries import conflict_entries
from picklist.server.desk import BUILDING, HowToBuild
from picklist.server.visit import Visit
from picklist.server.work import Lane
from picklist.tasks.build import Built
from picklist.tasks.cart_reports import carts_told
from picklist.tasks.errors import WrongUse
from picklist.tasks.new_site import next_step
from picklist.tasks.shown import CAUTION, Lookup, cover
from picklist.wording.next_steps import NextStep, on_page
from picklist.wording.say_carts import reports_on
from picklist.wording.say_remedies import COMING, while_sought

ANSWER = "answer-"


def show_tonight(visit: Visit) -> Response:
    """The evening as it is now."""
    desk = visit.desk
    plan, checking, checked = desk.plan(), desk.check(), desk.checked()
    step = next_step(desk.folder, checked.problems, checked.ahead) if checked and not checked.refused else None
    told = carts_told(desk.folder, plan.day) if plan else NOTHING_KNOWN
    found = Lookup(plan) if plan else None
    return visit.show(
        "tonight",
        "",
        cover=cover(plan, reports_on(told, plan.settings.site_clock)) if plan else None,
        site=plan.settings.site if plan else "",
        conflicts=conflict_entries(found, found.plan.conflicts, told.decided) if found else (),
        caution=CAUTION,
        coming=while_sought(plan.search, COMING) if plan else "",
        changed=wording.listed(desk.changed_since_built()) if plan else "",
        building=desk.workshop.running(Lane.PLAN),
        checking=checking if checked is None else None,
        input_count=(checked.refused or count_line(checked.problems)) if checked else "",
        days=checked.days if checked else (),
        shown=plan.day if plan else None,
        built=desk.built,
        built_lists=_built_lists(desk.built, plan),
        questions=[(one, found.cases[one.new_case]) for one in told.questions if one.new_case in found.cases]
        if found
        else (),
        when=found.when if found else None,
        next_step=on_page(step, checked.over) if step and checked else "",
        empty=step is NextStep.NO_FILES,
    )


def start_build(visit: Visit) -> Response:
    """Begin a build of the day that was chosen; while one runs, say that nothing else was started."""
    running = visit.desk.workshop.running_titled(BUILDING)
    if running:
        visit.note("Lists are being built already; no other build was started. When it is done, build again.")
        return visit.go("" if running.first else f"work/{running.id}")
    day = visit.day("day") if visit.form.get("day") else None
    answers = {
        name.removeprefix(ANSWER): said.removeprefix("old:")
        for name, said in visit.form.items()
        if name.startswith(ANSWER) and said
    }
    answers = {case: "" if said == "new" else said for case, said in answers.items()}
    how = HowToBuild(
        paper=visit.form.get("paper") or None,
        clock=_clock(visit.form.get("clock", "")),
        with_chance=visit.form.get("chance", "yes") == "yes",
    )
    return visit.go(f"work/{visit.desk.build(day, answers, how).id}")


def _clock(said: str) -> int | None:
    if said not in ("", "12", "24"):
        raise WrongUse("the clock has 12 or 24 hours")
    return int(said) if said else None


def _built_lists(built: Built | None, plan: Plan | None) -> str:
    """Which lists the last build of this run printed, and how many stay."""
    if not (built and plan and built.change) or built.change.old_revision is None:
        return ""
    new = f"New or changed lists: {wording.listed(built.new_lists)}" if built.new_lists else "No list changed"
    return f"{new}; {wording.counted(len(built.unchanged_lists), 'list')} kept as printed before."
