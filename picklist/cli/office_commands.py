"""Commands for preference cards: to offices and back, approved, rejected, undone, cleaned up."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from picklist.cli.build_commands import Far, Folder, Now
from picklist.cli.terminal_lines import day_option, end, parse_now, say_problems

if TYPE_CHECKING:
    from picklist.problems import Problem

cards_app = typer.Typer(
    help="Preference cards: send to offices, take back, approve, reject, undo, clean up.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
ProposalId = Annotated[str, typer.Argument(help="The proposal, as 'cards take' named it.", show_default=False)]
By = Annotated[str, typer.Option(help="Name of the person who approves.")]
Because = Annotated[str, typer.Option(help="The reason, for the log.")]
From = Annotated[date, day_option("--from", "First day of cases it applies to, as 2026-12-01.")]


@cards_app.command("send")
def send(
    folder: Folder,
    who: Annotated[str, typer.Argument(help="A surgeon (id or name) or a service.", show_default=False)],
    out: Annotated[Path, typer.Option(help="The workbook to write.")],
    now: Now = None,
    far: Far = False,
) -> None:
    """Write an office's workbook.

    One sheet for each procedure, to edit in any spreadsheet program.
    """
    from picklist.tasks.offices import send_cards
    from picklist.tasks.targets import kept_as

    sent = send_cards(folder, who, out, parse_now(now, far=far))
    typer.echo(f"Wrote {out} for {sent.name}.")
    if sent.former:
        typer.echo(kept_as(out, sent.former))


@cards_app.command("take")
def take(
    folder: Folder,
    file: Annotated[Path, typer.Argument(help="What the office sent back, xlsx or CSV.", show_default=False)],
    back: Annotated[Path | None, typer.Option(help="Where to write the marked copy if something needs fixing.")] = None,
    ours: Annotated[bool, typer.Option("--ours", help="Accept it although no record says that it was sent.")] = False,
    now: Now = None,
    far: Far = False,
) -> None:
    """Take an office's workbook back.

    Clear changes become a proposal; mistakes and clashes are marked in a copy for the office.
    Its requests stay open until answered.
    """
    from picklist.tasks.errors import as_typed
    from picklist.tasks.offices import take_cards
    from picklist.tasks.targets import kept_as

    taken = take_cards(folder, file, parse_now(now, far=far), back, ours=ours)
    say_problems(taken.problems)
    typer.echo("\n".join(taken.lines) or "No changes to approve.")
    if taken.back:
        typer.echo(f"To fix, marked in the cells: {taken.back}")
    if taken.back and taken.former:
        typer.echo(kept_as(taken.back, taken.former))
    if taken.proposal:
        typer.echo(f"Waits for approval: picklist cards show {as_typed(folder)} {taken.proposal.id}")
    for one in taken.requests:
        state = f"answer it: picklist cards answer {as_typed(folder)} {one.number}" if one.is_open else "answered"
        typer.echo(f"Request {one.number}, {one.asked.text}; {state}")
    end(taken.problems)


@cards_app.command("show")
def show(
    folder: Folder,
    proposal: ProposalId,
    begins: Annotated[date | None, day_option("--from", "First day of cases it would apply to.")] = None,
    now: Now = None,
    far: Far = False,
) -> None:
    """Show a proposal and its effect.

    Trays that get scarcer, carts of the coming days that change, conflicts it would cause or solve.
    """
    from picklist.tasks.offices import show_proposal

    lines = show_proposal(folder, proposal, begins, parse_now(now, far=far))
    typer.echo("\n".join(lines))


@cards_app.command("approve")
def approve(
    folder: Folder,
    proposal: ProposalId,
    by: By,
    reason: Because,
    begins: From,
    lines: Annotated[str | None, typer.Option(help="Only these changes, as 1,3,4; default: all.")] = None,
    now: Now = None,
    far: Far = False,
) -> None:
    """Approve a proposal, whole or by line.

    All changes are written or none; the former workbook is kept.
    """
    from picklist.tasks.offices import ApprovedBy, approve_cards, describe_applied

    approved = ApprovedBy(name=by, reason=reason, effective=begins, numbers=_numbers(lines))
    applied, loaded = approve_cards(folder, proposal, approved, parse_now(now, far=far))
    _say_applied(applied.problems, describe_applied(applied, loaded))


@cards_app.command("list")
def list_(folder: Folder, now: Now = None, far: Far = False) -> None:
    """List what is waiting: proposals to approve or reject, requests to answer."""
    from picklist.tasks.office_desk import list_waiting

    lines = list_waiting(folder, parse_now(now, far=far))
    typer.echo("\n".join(lines) or "Nothing is waiting.")


@cards_app.command("reject")
def reject(
    folder: Folder,
    proposal: ProposalId,
    by: Annotated[str, typer.Option(help="Name of the person who rejects.")],
    reason: Annotated[str, typer.Option(help="The reason, for the office and the log.")],
    now: Now = None,
    far: Far = False,
) -> None:
    """Reject a proposal.

    The cards stay as they are. The office sees the reason in its next workbook.
    """
    from picklist.tasks.office_desk import reject_waiting

    reject_waiting(folder, proposal, by, reason, parse_now(now, far=far))
    typer.echo(f"Rejected {proposal}; the cards are unchanged.")


@cards_app.command("answer")
def answer(
    folder: Folder,
    number: Annotated[int, typer.Argument(help="Number of the request, as 'cards list' shows it.", show_default=False)],
    by: Annotated[str, typer.Option(help="Name of the person who answers.")],
    text: Annotated[str, typer.Option("--answer", help="The answer, for the office.")],
    now: Now = None,
    far: Far = False,
) -> None:
    """Answer what an office asked for.

    The office sees the answer in its next workbook.
    """
    from picklist.tasks.office_desk import answer_office

    lines = answer_office(folder, number, by, text, parse_now(now, far=far))
    typer.echo("\n".join(lines))


@cards_app.command("undo")
def undo(
    folder: Folder,
    number: Annotated[int, typer.Argument(help="Number of the change in the history.", show_default=False)],
    by: Annotated[str, typer.Option(help="Name of the person who undoes it.")],
    reason: Because,
    begins: From,
    whole: Annotated[bool, typer.Option("--whole", help="Also all changes approved together with it.")] = False,
    now: Now = None,
    far: Far = False,
) -> None:
    """Undo a change, or a whole approval.

    From the day given, the cards are as if it had never been made. Other changes stay.
    """
    from picklist.tasks.offices import ApprovedBy, describe_applied, undo_cards

    approved = ApprovedBy(name=by, reason=reason, effective=begins)
    applied, loaded = undo_cards(folder, number, approved, parse_now(now, far=far), whole=whole)
    _say_applied(applied.problems, describe_applied(applied, loaded))


@cards_app.command("history")
def history(
    folder: Folder,
    procedure: Annotated[str | None, typer.Option(help="Only cards of this procedure (id or name).")] = None,
    surgeon: Annotated[str | None, typer.Option(help="Only cards of this surgeon or service (id or name).")] = None,
    now: Now = None,
    far: Far = False,
) -> None:
    """Show who changed what, when and why, what was asked for and answered, and what was rejected."""
    from picklist.tasks.office_desk import card_history

    lines = card_history(folder, procedure, surgeon, parse_now(now, far=far))
    typer.echo("\n".join(lines) or "No card has been changed yet.")


@cards_app.command("tidy")
def tidy(folder: Folder, now: Now = None, far: Far = False) -> None:
    """Find cards to clean up.

    Faulty and unused lines, cards not reviewed for long, surgeons who could share a card, trays always together.
    """
    from picklist.tasks.offices import tidy_cards

    lines = tidy_cards(folder, parse_now(now, far=far))
    typer.echo("\n".join(lines) or "Nothing to clean up.")


def _numbers(lines: str | None) -> tuple[int, ...] | None:
    from picklist.tasks.errors import WrongUse

    if lines is None:
        return None
    try:
        return tuple(int(number) for number in lines.split(","))
    except ValueError:
        raise WrongUse(f'--lines "{lines}" is not numbers such as 1,3,4') from None


def _say_applied(problems: tuple[Problem, ...], lines: tuple[str, ...]) -> None:
    say_problems(problems)
    typer.echo("\n".join(lines))
    end(problems)
