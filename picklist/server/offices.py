"""The page of the surgeons' offices: their workbooks out and back, and what waits for approval."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar
from urllib.parse import quote

from starlette.responses import Response

from picklist.documents.views import words
from picklist.problems_report import count_line
from picklist.server.papers import TYPES
from picklist.server.problem_rows import problem_sheets
from picklist.server.visit import NotHere, Visit
from picklist.server.work import Lane, Work
from picklist.tasks.errors import WrongUse
from picklist.tasks.office_desk import OfficeDesk, let_go, look_at_offices
from picklist.tasks.offices import ApprovedBy, TakenBack, approve_cards, send_cards, show_proposal, take_cards
from picklist.tasks.take_file import plain_name
from picklist.upkeep import Applied
from picklist.upkeep.safe_files import KEPT_FOLDER

READING, COMPARING = "Reading the cards", "Comparing "
Result = TypeVar("Result")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """A proposal's effect, when it was asked for."""

    proposal: str
    lines: tuple[str, ...]


def show_offices(visit: Visit) -> Response:
    """Who keeps cards, what waits, and what was changed."""
    desk = visit.desk
    key = (*desk.files(), *_proposal_files(desk.folder))
    known = desk.known(READING, key, lambda: look_at_offices(desk.folder, desk.now()))
    refused = known.refused if isinstance(known, Work) and not known.running else ""
    office_desk = known if isinstance(known, OfficeDesk) else None
    return visit.show(
        "offices",
        "offices",
        work=known if isinstance(known, Work) and known.running else None,
        refused=refused,
        offices=office_desk,
    )


def send_office_workbook(visit: Visit) -> Response:
    """An office's workbook, made now."""
    place = visit.desk.new_place() / "office.xlsx"
    name = send_cards(visit.desk.folder, visit.form.get("office", ""), place, visit.desk.now())
    return _attached(place.read_bytes(), f"{name}.xlsx")


def take_office_workbook(visit: Visit) -> Response:
    """Take a return in and compare it."""
    upload = visit.files.get("file")
    if upload is None or not upload.filename:
        raise WrongUse("no file was chosen")
    name = plain_name(upload.filename)
    return start_taking(visit, visit.save(upload), name)


def start_taking(visit: Visit, file: Path, name: str) -> Response:
    """Compare a file that came in with what was sent and with the cards."""
    desk = visit.desk
    named = file.rename(desk.new_place() / name)
    back = desk.new_place() / f"{Path(name).stem}, to mend.xlsx"
    work = desk.workshop.start(
        f"{COMPARING}{name}",
        Lane.CHECK,
        lambda _progress: take_cards(desk.folder, named, desk.now(), back),
        "offices",
    )
    work.next = f"offices/back/{work.id}"
    return visit.go(f"work/{work.id}")


def show_taken_back(visit: Visit) -> Response:
    """What a return came to."""
    taken = _result(visit, TakenBack)
    return visit.show(
        "taken-back",
        "offices",
        taken=taken,
        name=_work(visit).title.removeprefix(COMPARING),
        work=visit.path["work"],
        sheets=problem_sheets(taken.problems),
        count=count_line(taken.problems),
    )


def send_marked_workbook(visit: Visit) -> Response:
    """The office's own workbook with its cells marked."""
    taken = _result(visit, TakenBack)
    if taken.back is None or not taken.back.is_file():
        raise NotHere
    return _attached(taken.back.read_bytes(), taken.back.name)


def weigh_proposal(visit: Visit) -> Response:
    """Reckon what a waiting proposal would do."""
    desk, proposal = visit.desk, _proposal(visit)
    work = desk.workshop.start(
        f"Reckoning {proposal}",
        Lane.PLAN,
        lambda _progress: Wait(proposal=proposal, lines=show_proposal(desk.folder, proposal, None, desk.now())),
        "offices",
    )
    work.next = f"offices/effect/{work.id}"
    return visit.go(f"work/{work.id}")


def show_effect(visit: Visit) -> Response:
    """What a waiting proposal would do to the coming days."""
    found = _result(visit, Wait)
    return visit.show("effect", "offices", proposal=found.proposal, lines=found.lines)


def approve_waiting(visit: Visit) -> Response:
    """Apply the chosen changes of a proposal."""
    desk, proposal = visit.desk, _proposal(visit)
    chosen = visit.lists.get("number", ())
    if not chosen:
        raise WrongUse("choose at least one change to approve")
    if not all(one.isascii() and one.isdigit() for one in chosen):
        raise WrongUse("a change is chosen by its number")
    said = ApprovedBy(
        name=visit.form.get("by", ""),
        reason=visit.form.get("reason", ""),
        effective=visit.day("effective"),
        numbers=tuple(int(one) for one in chosen),
    )
    work = desk.workshop.start(
        f"Applying {proposal}",
        Lane.CHECK,
        lambda _progress: approve_cards(desk.folder, proposal, said, desk.now())[0],
        "",
    )
    work.next = f"offices/applied/{work.id}"
    return visit.go(f"work/{work.id}")


def show_applied(visit: Visit) -> Response:
    """What was written, and what was not and why."""
    applied = _result(visit, Applied)
    if applied.done and not applied.problems:
        visit.desk.note(
            f"{_changes(len(applied.done))} in the cards ({', '.join(applied.files)}). "
            "The lists follow at the next build."
        )
        return visit.go("offices")
    return visit.show(
        "applied",
        "offices",
        done=_changes(len(applied.done)) if applied.done else "",
        sheets=problem_sheets(applied.problems),
        count=count_line(applied.problems),
    )


def _changes(number: int) -> str:
    return f"{words.counted(number, 'change')} {'is' if number == 1 else 'are'}"


def reject_waiting(visit: Visit) -> Response:
    """Let a proposal go."""
    proposal = _proposal(visit)
    let_go(visit.desk.folder, proposal)
    visit.desk.note(f"Proposal {proposal} waits no longer; the cards are as they were.")
    return visit.go("offices")


def _proposal(visit: Visit) -> str:
    return visit.path["proposal"]


def _work(visit: Visit) -> Work:
    work = visit.desk.workshop.find(visit.path["work"])
    if work is None:
        raise NotHere
    return work


def _result(visit: Visit, kind: type[Result]) -> Result:
    result = _work(visit).result
    if not isinstance(result, kind):
        raise NotHere
    return result


def _proposal_files(folder: Path) -> tuple[tuple[str, int, int], ...]:
    place = folder / KEPT_FOLDER / "proposals"
    return tuple(sorted((path.name, path.stat().st_mtime_ns, path.stat().st_size) for path in place.glob("*.json")))


def _attached(content: bytes, name: str) -> Response:
    return Response(
        content,
        media_type=TYPES[".xlsx"],
        headers={"content-disposition": f"attachment; filename*=UTF-8''{quote(name)}"},
    )
