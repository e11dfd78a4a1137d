"""The first page: how the evening stands, and the button that builds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from starlette.responses import Response

from picklist import wording
from picklist.model.known import NOTHING_KNOWN, Known, MatchQuestion
from picklist.model.plan import Plan, RemedySearch
from picklist.problems import Problem
from picklist.problems_report import count_line
from picklist.server.conflict_entries import conflict_entries
from picklist.server.desk import Desk, HowToBuild
from picklist.server.problem_rows import SheetProblems, problem_sheets
from picklist.server.visit import Visit
from picklist.server.work import Lane
from picklist.tasks.cart_reports import carts_told
from picklist.tasks.errors import WrongUse
from picklist.tasks.new_site import next_step
from picklist.tasks.shown import CAUTION, Lookup, cover, look_up
from picklist.wording.next_steps import NextStep, on_page
from picklist.wording.say_carts import reports_on
from picklist.wording.say_remedies import COMING

ANSWER = "answer-"


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Is this case one that had another number? The candidates with what agrees and what differs."""

    case: str
    about: str
    choices: tuple[tuple[str, str], ...]


def show_tonight(visit: Visit) -> Response:
    """The evening as it is now."""
    desk = visit.desk
    plan, checking, checked = desk.plan(), desk.check(), desk.checked()
    step = next_step(desk.folder, checked.problems, checked.ahead) if checked and not checked.refused else None
    told = carts_told(desk.folder, plan.day) if plan else NOTHING_KNOWN
    return visit.show(
        "tonight",
        "",
        cover=cover(plan, reports_on(told, plan.settings.site_clock)) if plan else None,
        site=plan.settings.site if plan else "",
        conflicts=conflict_entries(look_up(plan), told.decided) if plan else (),
        caution=CAUTION,
        coming=COMING if plan and plan.search is RemedySearch.GOING_ON else "",
        changed=wording.listed(desk.changed_since_built()) if plan else "",
        building=desk.workshop.running(Lane.PLAN),
        checking=checking if checked is None else None,
        input_count=(checked.refused or count_line(checked.problems)) if checked else "",
        days=_days(plan, checked.days if checked else ()),
        built=_built(desk, plan),
        questions=_questions(plan, told),
        next_step=on_page(step, checked.over) if step and checked else "",
        empty=step is NextStep.NO_FILES,
    )


def start_build(visit: Visit) -> Response:
    """Begin a build of the day that was chosen."""
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


def _days(plan: Plan | None, days: tuple[date, ...]) -> tuple[tuple[str, str, bool], ...]:
    """Days that can be built: as sent, in words, and whether it is the one shown."""
    return tuple((day.isoformat(), wording.full_day(day), bool(plan and plan.day == day)) for day in days)


@dataclass(frozen=True, slots=True, kw_only=True)
class LastBuild:
    """What the last build of this run came to."""

    nothing: bool
    problems: tuple[SheetProblems, ...]
    count: str
    lists: str
    notices: tuple[str, ...]


def _built(desk: Desk, plan: Plan | None) -> LastBuild | None:
    built = desk.built
    if built is None:
        return None
    problems: tuple[Problem, ...] = built.problems
    lists = ""
    if plan and built.change and built.change.old_revision is not None:
        new = f"New or changed lists: {wording.listed(built.new_lists)}" if built.new_lists else "No list changed"
        lists = f"{new}; {wording.counted(len(built.unchanged_lists), 'list')} kept as printed before."
    return LastBuild(
        nothing=built.plan is None,
        problems=problem_sheets(problems),
        count=count_line(problems),
        lists=lists,
        notices=built.written.notices if built.written else (),
    )


def _questions(plan: Plan | None, told: Known) -> tuple[Question, ...]:
    if plan is None:
        return ()
    found = look_up(plan)
    return tuple(_question(found, one) for one in told.questions if one.new_case in found.cases)


def _question(found: Lookup, one: MatchQuestion) -> Question:
    case = found.cases[one.new_case]
    return Question(
        case=one.new_case,
        about=f"{case.room}, {found.when(case.start)}, {case.surgeon}",
        choices=tuple(
            (
                candidate.old_case,
                f"{candidate.old_case}: the same {wording.listed(candidate.agrees)}"
                + (f"; different {wording.listed(candidate.differs)}" if candidate.differs else ""),
            )
            for candidate in one.candidates
        ),
    )
