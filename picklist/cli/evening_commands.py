"""Commands for what happens while the evening goes on."""

from __future__ import annotations

import sys
from datetime import date
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TextIO

import typer

from picklist.cli.build_commands import Far, Folder, Now
from picklist.cli.terminal_lines import day_option, end, parse_now, say_problems
from picklist.wording import counted

if TYPE_CHECKING:
    from picklist.tasks.crew import ReportResult

Day = Annotated[date | None, day_option("--day", "Day of the carts, as 2026-11-26; default: the next one.")]


def carts(
    folder: Folder,
    workbook: Annotated[Path, typer.Argument(help="The carts.xlsx of a build, filled in.", show_default=False)],
    day: Day = None,
    now: Now = None,
    far: Far = False,
) -> None:
    """Record which carts are built.

    Also what was missing, which stand-in or set was taken, and counts found. Lines add to or correct what was
    reported before. The next build leaves these carts as they are unless a conflict forces a change, and says why.
    """
    from picklist.tasks.crew import tell_by_workbook

    told = tell_by_workbook(folder, workbook, parse_now(now, far=far), day)
    _say_told(told)


def scan(
    folder: Folder,
    lines: Annotated[
        Path | None, typer.Argument(help="A file of scanned lines; default: standard input.", show_default=False)
    ] = None,
    day: Day = None,
    now: Now = None,
    far: Far = False,
) -> None:
    """Record carts from a barcode scanner.

    Every scan is saved and answered at once.

    \b
    C-1041.R3           a cart's label opens that cart
    KNEE-02             this set is on the cart
    TIMES 3             it was three of the item scanned last, all together
    MISSING 100245 2    two of it did not come
    FOUND 100245 1      one of what was missing is on the cart now
    INSTEAD x y 1       one of y was taken in place of x; without a number, all
    COUNT 100245 14     the shelf held fourteen
    BY mk               who built it
    DONE                the cart is built
    UNDO                undoes the last line, on this cart only
    """
    from picklist.tasks.crew import scan_carts, tell_by_scan_file

    moment = parse_now(now, far=far)
    if lines is not None:
        told = tell_by_scan_file(folder, lines, moment, day)
    else:
        scans = iter(_standard_input().readline, "")
        told = scan_carts(folder, scans, lambda: moment if now else parse_now(None, far=far), day, _answer)
    _say_told(told, said=lines is None)


def _standard_input() -> TextIO:
    """Standard input, read line by line; what is no text becomes a mark that no scan has."""
    if isinstance(sys.stdin, TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")
    return sys.stdin


def _answer(text: str) -> None:
    """One answer, at once also into a pipe."""
    typer.echo(text)
    sys.stdout.flush()


def morning(
    folder: Folder,
    out: Annotated[Path, typer.Option(help="The PDF to write.")] = Path("morning.pdf"),
    day: Annotated[
        date | None, day_option("--day", "Day of the carts, as 2026-11-26; default: the one built last.")
    ] = None,
    now: Now = None,
    far: Far = False,
) -> None:
    """Print what is open at the end of the shift.

    Missing items with case and time, sets still in process with their deadlines, decisions waiting,
    unfinished carts, and what is still to be put back.
    """
    from picklist.tasks.morning import print_morning

    done = print_morning(folder, out, parse_now(now, far=far), day)
    points = done.points
    typer.echo(
        f"{out}: {counted(len(points.decisions), 'decision')}, {len(points.to_enter)} to put into the schedule, "
        f"{len(points.missing)} missing, "
        f"{counted(len(points.sets), 'set')} in process, {counted(len(points.carts), 'cart')} to finish, "
        f"{len(points.stopped)} on hold"
    )
    for notice in done.notices:
        typer.echo(notice)


def calendar(
    folder: Folder,
    out: Annotated[Path, typer.Option(help="A folder for the calendars (iCalendar files).")],
    now: Now = None,
    far: Far = False,
) -> None:
    """Write the deadlines as calendars to subscribe to.

    One for the department, one for the coordinator and one for each room, with the days whose lists were
    built: case number, set, tray and kind of conflict, nothing else. Write them again after a build: what changed
    moves in the calendars of those who subscribed, and what is no longer asked for is cancelled.
    """
    from picklist.tasks.exports import write_calendars

    files, aside = write_calendars(folder, out, parse_now(now, far=far))
    typer.echo(f"Wrote {', '.join(files)} to {out}")
    for one in aside:
        typer.echo(f"{one.file} was changed since it was written; it is kept as {one.to}")


def records(
    folder: Folder,
    out: Annotated[Path, typer.Option(help="Folder for the tables (CSV) and plans (JSON).")],
) -> None:
    """Export picklist's records as CSV and JSON.

    Plans and their lists, built carts, put-backs and decisions.
    """
    from picklist.tasks.exports import write_records

    written = write_records(folder, out)
    typer.echo(f"Wrote {written.files} files to {out}")
    for one in written.aside:
        typer.echo(f"{one.file} was changed since it was written; your version is kept as {one.to}")


def _say_told(told: ReportResult, *, said: bool = False) -> None:
    """The carts and what is wrong; ``said``: each line was answered when it came."""
    from picklist.wording.say_carts import cart_state, report_lines

    if not said:
        say_problems(told.problems)
    for cart in told.kept:
        typer.echo(f"{cart.case}: {cart_state(cart, by=cart.by)}")
        for line in () if said else report_lines(cart):
            typer.echo(f"  {line}")
    typer.echo(f"{counted(len(told.kept), 'cart')} recorded.")
    end(told.problems)
