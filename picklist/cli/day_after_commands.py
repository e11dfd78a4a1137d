"""Commands for the day after: what was used, what that does to stock and sets, what the cards might learn."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from picklist.cli.build_commands import Far, Folder, Now
from picklist.cli.terminal_lines import day_option, end, parse_now, say_problems
from picklist.wording import counted

OfDay = Annotated[date, day_option("--day", "Day of the operations, as 2026-11-26.")]


def used(
    folder: Folder,
    form: Annotated[Path, typer.Argument(help="The used.xlsx of a build, filled in, or a CSV file.")],
    day: OfDay,
    now: Now = None,
    far: Far = False,
) -> None:
    """Record what was used in the operations.

    Also what came back unopened, and what was asked for beyond the list.
    """
    from picklist.tasks.day_after import tell_used

    told = tell_used(folder, form, day, parse_now(now, far=far))
    say_problems(told.problems)
    typer.echo(
        f"{counted(len(told.lines), 'line')} of {counted(len({line.case for line in told.lines}), 'case')} recorded."
    )
    end(told.problems)


def settle(
    folder: Folder,
    day: OfDay,
    write: Annotated[
        bool, typer.Option(help="Write the changes to the site's files; the former files are kept.")
    ] = False,
    now: Now = None,
    far: Far = False,
) -> None:
    """Update stock and set status after a day's cases.

    Shows every change to Lots and Sets, and why; --write writes them.
    A case counts once. Run it again after late or corrected forms; only the difference is counted.
    """
    from picklist.tasks.day_after import settle_day
    from picklist.wording.say_carts import NOT_COUNTED, cell_words

    settled = settle_day(folder, day, parse_now(now, far=far), write=write)
    say_problems(settled.problems)
    for change in settled.changes.all:
        key = " ".join(change.key)
        was, becomes = (cell_words(value, settled.clock) for value in (change.was, change.becomes))
        typer.echo(f"{change.table} {key}, {change.column}: {was} -> {becomes} ({change.why})")
    for name, sentence in NOT_COUNTED.items():
        if cases := getattr(settled.changes, name):
            typer.echo(f"{sentence}: {', '.join(cases)}")
    left = "Nothing was written. Use --write to write it." if settled.changes.all else "Lots and Sets stay as they are."
    typer.echo(f"{counted(len(settled.done), 'cell')} written." if write else left)
    for former in settled.kept:
        typer.echo(f"The former file is kept: {former}")
    end(settled.problems)


def suggest(
    folder: Folder,
    least_cases: Annotated[int, typer.Option(help="Suggest nothing from fewer cases than this.", min=1)] = 5,
) -> None:
    """Suggest card changes from past usage.

    Lines opened but never used, held but always opened, or always added by hand, with the counts behind them.
    """
    from picklist.tasks.day_after import suggest_changes
    from picklist.wording.card_words import suggestion_words

    found = suggest_changes(folder, least_cases)
    for one in found:
        procedures = " + ".join(one.procedures)
        typer.echo(f"{one.surgeon}, {procedures}: {one.thing_kind.value} {one.thing}: {suggestion_words(one)}")
    typer.echo(f"{counted(len(found), 'suggestion')}. The surgeon's office decides on changes to its cards.")
