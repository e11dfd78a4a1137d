"""Problems fixed on the page: the nearest value or a typed one into the cell, and undone again."""

from __future__ import annotations

from starlette.responses import Response

from picklist.server.visit import NotHere, Visit
from picklist.tasks.errors import WrongUse
from picklist.tasks.fix_cell import fix_cell, undo_fix


def fix_problem(visit: Visit) -> Response:
    """Write a value into the cell of a problem, as long as the page is about the files as they lie there."""
    desk = visit.desk
    checked = desk.checked()
    number = visit.form.get("problem", "")
    problems = checked.problems if checked else ()
    if not (number.isdigit() and int(number) < len(problems)):
        raise WrongUse("the files were changed since this page was shown; look at the problems again")
    problem = problems[int(number)]
    if str(problem.where) != visit.form.get("where", ""):
        raise WrongUse("the files were changed since this page was shown; look at the problems again")
    right = visit.form.get("right", "").strip()
    if not right:
        raise WrongUse("no value was typed; nothing was written")
    desk.fixed.append(fix_cell(desk.folder, problem, right, desk.now()))
    return visit.go("input")


def undo_problem_fix(visit: Visit) -> Response:
    """Undo a fix of this run."""
    number = visit.path["number"]
    fixed = visit.desk.fixed
    if not (number.isdigit() and int(number) < len(fixed)):
        raise NotHere
    undo_fix(visit.desk.folder, fixed[int(number)])
    one = fixed.pop(int(number))
    visit.note(f"{one.file} is as it was before.")
    return visit.go("input")
