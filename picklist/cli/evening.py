"""Commands for what happens while the evening goes on."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from picklist.cli.building import Folder, Now
from picklist.cli.words import parse_day, parse_now, say_problems, wrong_use_ends

if TYPE_CHECKING:
    from picklist.tasks.crew import Told

Day = Annotated[str | None, typer.Option(help="Day of the carts, as 2026-11-26; the next one when left out.")]


def carts(
    folder: Folder,
    workbook: Annotated[Path, typer.Argument(help="The carts.xlsx of a build, filled in.", show_default=False)],
    day: Day = None,
    now: Now = None,
) -> None:
    """Take down which carts are built.

    With what was missing, what stood in, which set was really taken, and counts found. The next build
    leaves these carts as they are unless a conflict forces a change, and says why.
    """
    from picklist.tasks.crew import tell_by_workbook

    with wrong_use_ends():
        told = tell_by_workbook(folder, workbook, parse_now(now), parse_day(day))
    _say_told(told)


def scan(
    folder: Folder,
    lines: Annotated[
        Path | None, typer.Argument(help="A file of scanned lines; standard input when left out.", show_default=False)
    ] = None,
    day: Day = None,
    now: Now = None,
) -> None:
    """Take down carts from a scanner, line by line.

    \b
    C-1041.R3           a cart's label opens that cart
    KNEE-02             this set is on the cart
    MISSING 100245 2    two of it did not come
    INSTEAD x y         y was taken in place of x
    COUNT 100245 14     the shelf held fourteen
    BY mk               who built it
    DONE                the cart is built
    UNDO                takes back the line before
    """
    from picklist.tasks.crew import tell_by_scans
    from picklist.tasks.errors import WrongUse

    with wrong_use_ends():
        if lines is not None and not lines.is_file():
            raise WrongUse(f"there is no file {lines}")
        text = sys.stdin.read() if lines is None else lines.read_text(encoding="utf-8-sig", errors="replace")
        told = tell_by_scans(folder, text.splitlines(), parse_now(now), parse_day(day))
    _say_told(told)


def morning(
    folder: Folder,
    out: Annotated[Path, typer.Option(help="The PDF to write.")] = Path("morning.pdf"),
    day: Annotated[
        str | None, typer.Option(help="Day of the carts, as 2026-11-26; the one built last when left out.")
    ] = None,
    now: Now = None,
) -> None:
    """Print what is open at the end of the shift.

    Missing things with case and hour, sets still in process with their deadlines, decisions waiting,
    carts that are not told built, and what is still to be put back.
    """
    from picklist.tasks.morning import print_morning

    with wrong_use_ends():
        done = print_morning(folder, out, parse_now(now), parse_day(day))
    points = done.points
    typer.echo(
        f"{out}: {len(points.decisions)} decisions, {len(points.missing)} missing, {len(points.sets)} sets in process, "
        f"{len(points.carts)} carts not told built, {len(points.stopped)} stopped"
    )
    for notice in done.notices:
        typer.echo(notice)


def records(
    folder: Folder,
    out: Annotated[Path, typer.Option(help="A folder for the tables (CSV) and plans (JSON).")],
) -> None:
    """Write all that picklist remembers as tables.

    Plans and their lists, built carts, put-backs and decisions, as CSV and JSON files.
    """
    from picklist.evening.export import export_csv
    from picklist.tasks.crew import opened_state
    from picklist.tasks.errors import WrongUse

    with wrong_use_ends():
        if not folder.is_dir():
            raise WrongUse(f"there is no folder {folder}")
        with opened_state(folder) as state:
            files = export_csv(state, out)
    typer.echo(f"Wrote {len(files)} files to {out}")


def _say_told(told: Told) -> None:
    say_problems(told.problems)
    for cart in told.kept:
        typer.echo(f"{cart.case}: {'built' if cart.done else 'begun'}{f' by {cart.by}' if cart.by else ''}")
    typer.echo(f"{len(told.kept)} carts taken down.")
    raise typer.Exit(told.exit_code)
