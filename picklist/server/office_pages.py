"""The page of the surgeons' offices: their workbooks out and back, and what waits for approval."""

from __future__ import annotations

from pathlib import Path

from starlette.responses import Response

from picklist import wording
from picklist.letters import whole_number
from picklist.server.paper_pages import TYPES
from picklist.server.records_pages import zipped
from picklist.server.visit import NotHere, Visit, to_save
from picklist.server.work import Lane, LongTask
from picklist.tasks.errors import WrongUse
from picklist.tasks.office_desk import (
    OfficeDesk,
    answer_office,
    card_history,
    look_at_offices,
    mark_of_offices,
    reject_waiting,
)
from picklist.tasks.offices import (
    ApprovalResult,
    ApprovedBy,
    TakenBack,
    approve_cards,
    send_all_cards,
    send_cards,
    show_proposal,
    take_cards,
    tidy_cards,
    undo_cards,
)
from picklist.tasks.take_file import plain_name

READING, COMPARING = "Reading the cards", "Comparing "


def show_offices(visit: Visit) -> Response:
    """Who keeps cards, what waits, and what was changed."""
    desk = visit.desk
    key = (*desk.files(), *mark_of_offices(desk.folder))
    known = desk.known(READING, key, lambda: look_at_offices(desk.folder, desk.now()))
    refused = known.refused if isinstance(known, LongTask) and not known.running else ""
    office_desk = known if isinstance(known, OfficeDesk) else None
    return visit.show(
        "offices",
        "offices",
        work=known if isinstance(known, LongTask) and known.running else None,
        refused=refused,
        offices=office_desk,
    )


def send_office_workbook(visit: Visit) -> Response:
    """An office's workbook, made now."""
    place = visit.desk.new_place() / "office.xlsx"
    sent = send_cards(visit.desk.folder, visit.form.get("office", ""), place, visit.desk.now())
    return to_save(place.read_bytes(), f"{sent.name}.xlsx", TYPES[".xlsx"])


def send_all_workbooks(visit: Visit) -> Response:
    """A workbook for each office, made now."""
    desk, out = visit.desk, visit.desk.new_place()
    return visit.wait_for(
        "Writing the workbooks of all offices",
        Lane.CHECK,
        lambda: tuple(one.name for one in send_all_cards(desk.folder, out, desk.now())),
        "offices/sent/{}",
        out=out,
    )


def show_sent_all(visit: Visit) -> Response:
    """The offices whose workbooks are ready."""
    visit.about("out")
    return visit.show("offices-sent", "offices", work=visit.path["work"], names=visit.result(tuple))


def send_sent_all(visit: Visit) -> Response:
    """The workbooks of all offices in one file."""
    return zipped(visit.about("out"), "workbooks of offices")


def show_card_history(visit: Visit) -> Response:
    """All that became of cards: of all of them, or those of a procedure or an office."""
    procedure, owner = (visit.asked.get(name, "").strip()[:120] for name in ("procedure", "owner"))
    lines = card_history(visit.desk.folder, procedure or None, owner or None, visit.desk.now())
    return visit.show("history", "offices", procedure=procedure, owner=owner, lines=lines)


def start_tidying(visit: Visit) -> Response:
    """Look which cards should be cleaned up."""
    desk = visit.desk
    return visit.wait_for(
        "Looking through the cards",
        Lane.CHECK,
        lambda: tidy_cards(desk.folder, desk.now()),
        "offices/tidy/{}",
    )


def show_tidied(visit: Visit) -> Response:
    """The cards to clean up."""
    return visit.show("tidy", "offices", lines=visit.result(tuple))


def take_office_workbook(visit: Visit) -> Response:
    """Take a return in and compare it."""
    upload = visit.files.get("file")
    if upload is None or not upload.filename:
        raise WrongUse("no file was chosen")
    name = plain_name(upload.filename)
    return start_taking(visit, visit.save(upload), name)


def start_taking(visit: Visit, file: Path, name: str, *, ours: bool = False) -> Response:
    """Compare a file that came in with what was sent and with the cards."""
    desk = visit.desk
    named = file.rename(desk.new_place() / name)
    back = desk.new_place() / f"{Path(name).stem}, to fix.xlsx"
    return visit.wait_for(
        f"{COMPARING}{name}",
        Lane.CHECK,
        lambda: take_cards(desk.folder, named, desk.now(), back, ours=ours),
        "offices/back/{}",
    )


def show_taken_back(visit: Visit) -> Response:
    """What a return came to."""
    taken, work = visit.result(TakenBack), visit.desk.workshop.find(visit.path["work"])
    return visit.show(
        "taken-back",
        "offices",
        taken=taken,
        name=work.title.removeprefix(COMPARING) if work else "",
        work=visit.path["work"],
    )


def take_unrecorded(visit: Visit) -> Response:
    """Somebody says that a workbook without a record was sent from here: take it after all."""
    taken = visit.result(TakenBack)
    if taken.unknown is None or not taken.unknown.is_file():
        raise NotHere
    return start_taking(visit, taken.unknown, taken.unknown.name, ours=True)


def send_marked_workbook(visit: Visit) -> Response:
    """The office's own workbook with its cells marked."""
    taken = visit.result(TakenBack)
    if taken.back is None or not taken.back.is_file():
        raise NotHere
    return to_save(taken.back.read_bytes(), taken.back.name, TYPES[".xlsx"])


def weigh_proposal(visit: Visit) -> Response:
    """Work out what a waiting proposal would do."""
    desk, proposal = visit.desk, _proposal(visit)
    since = visit.day("effective") if visit.form.get("effective") else None
    return visit.wait_for(
        f"Recalculating with {proposal}",
        Lane.PLAN,
        lambda: show_proposal(desk.folder, proposal, since, desk.now()),
        "offices/effect/{}",
        proposal=proposal,
    )


def show_effect(visit: Visit) -> Response:
    """What a waiting proposal would do to the coming days."""
    return visit.show("effect", "offices", proposal=visit.about("proposal"), lines=visit.result(tuple))


def approve_waiting(visit: Visit) -> Response:
    """Apply the chosen changes of a proposal."""
    desk, proposal = visit.desk, _proposal(visit)
    chosen = visit.lists.get("number", ())
    if not chosen:
        raise WrongUse("choose at least one change to approve")
    numbers = tuple(_number(one, "a change") for one in chosen)
    said = ApprovedBy(
        name=visit.form.get("by", ""),
        reason=visit.form.get("reason", ""),
        effective=visit.day("effective"),
        numbers=numbers,
    )
    return visit.wait_for(
        f"Applying {proposal}",
        Lane.CHECK,
        lambda: approve_cards(desk.folder, proposal, said, desk.now())[0],
        "offices/applied/{}",
    )


def show_applied(visit: Visit) -> Response:
    """What was written, and what was not and why."""
    applied = visit.result(ApprovalResult)
    already = f"{_changes(len(applied.already))} on the card already." if applied.already else ""
    if (applied.done or already) and not applied.problems:
        files = ", ".join(applied.files)
        done = f"{_changes(len(applied.done))} in the cards ({files}). Build again to update the lists."
        visit.note(f"{done if applied.done else ''} {already}".strip())
        return visit.go("offices")
    return visit.show(
        "applied",
        "offices",
        done=_changes(len(applied.done)) if applied.done else "",
        already=already,
        problems=applied.problems,
    )


def _changes(number: int) -> str:
    return f"{wording.counted(number, 'change')} {'is' if number == 1 else 'are'}"


def reject_proposal(visit: Visit) -> Response:
    """Reject a proposal by name, with a reason."""
    proposal = _proposal(visit)
    reject_waiting(
        visit.desk.folder, proposal, visit.form.get("by", ""), visit.form.get("reason", ""), visit.desk.now()
    )
    visit.note(f"Proposal {proposal} is rejected. The cards are unchanged; the office will see the reason.")
    return visit.go("offices")


def answer_waiting(visit: Visit) -> Response:
    """Answer what an office asked for."""
    number = _number(visit.path["request"], "a request")
    answer_office(visit.desk.folder, number, visit.form.get("by", ""), visit.form.get("answer", ""), visit.desk.now())
    visit.note(f"Request {number} is answered; the office will see it in its next workbook.")
    return visit.go("offices")


def undo_changes(visit: Visit) -> Response:
    """Undo a change, or the whole approval that it came with."""
    desk = visit.desk
    number = _number(visit.form.get("number", ""), "a change")
    said = ApprovedBy(
        name=visit.form.get("by", ""), reason=visit.form.get("reason", ""), effective=visit.day("effective")
    )
    whole = visit.form.get("whole", "") == "yes"
    return visit.wait_for(
        f"Undoing change {number}",
        Lane.CHECK,
        lambda: undo_cards(desk.folder, number, said, desk.now(), whole=whole)[0],
        "offices/applied/{}",
    )


def _number(text: str, what: str) -> int:
    number = whole_number(text)
    if number is None:
        raise WrongUse(f"{what} is chosen by its number")
    return number


def _proposal(visit: Visit) -> str:
    return visit.path["proposal"]
