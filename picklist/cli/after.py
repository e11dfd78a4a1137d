"""Commands for the day after: what was used, what that does to stock and sets, what the cards might learn."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from picklist.cli.building import Folder, Now
from picklist.cli.words import parse_needed_day, parse_now, say_problems, wrong_use_ends

OfDay = Annotated[str, typer.Option("--day", help="Day of the operations, as 2026-11-26.")]


def used(
    folder: Folder,
    form: Annotated[Path, typer.Argument(help="The used.xlsx of a build, filled in, or a CSV file.")],
    day: OfDay,
    now: Now = None,
) -> None:
    """Take down what was used.

    And what came back unopened or was asked for beyond the list.
    """
    from picklist.tasks.after import tell_used

    with wrong_use_ends():
        told = tell_used(folder, form, parse_needed_day(day), parse_now(now))
    say_problems(told.problems)
    typer.echo(f"{len(told.lines)} lines of {len({line.case for line in told.lines})} cases taken down.")
    raise typer.Exit(told.exit_code)


def settle(
    folder: Folder,
    day: OfDay,
    write: Annotated[
        bool, typer.Option(help="Write the cells into the site's files; the former files are kept.")
    ] = False,
    now: Now = None,
) -> None:
    """Let stock and set states follow a day.

    Shows each cell of Lots and Sets that changes, from what to what and why; with --write it is written.
    A case counts once: run it again when late or corrected forms come in, and only the difference is counted.
    """
    from picklist.problems import must_be_mended
    from picklist.tasks.after import settle_day

    with wrong_use_ends():
        settled = settle_day(folder, parse_needed_day(day), parse_now(now), write=write)
    say_problems(settled.problems)
    for change in settled.changes.all:
        key = " ".join(change.key)
        typer.echo(f"{change.table} {key}, {change.column}: {change.was} -> {change.becomes} ({change.why})")
    for sentence, cases in (
        ("Counted before, nothing new", settled.changes.counted_before),
        ("Not recorded yet what was used in", settled.changes.untold),
        ("Not counted, as nobody reported the cart built", settled.changes.unbuilt),
    ):
        if cases:
            typer.echo(f"{sentence}: {', '.join(cases)}")
    typer.echo(f"{len(settled.done)} cells written." if write else "Nothing was written; --write does.")
    for former in settled.kept:
        typer.echo(f"The former file is kept: {former}")
    raise typer.Exit(int(must_be_mended(settled.problems)))


def suggest(
    folder: Folder,
    least_cases: Annotated[int, typer.Option(help="Say nothing of fewer cases than this.", min=1)] = 5,
) -> None:
    """Say what the past suggests for the cards.

    Lines opened yet never used, held yet always opened, or always added by hand, with the counts behind them.
    """
    from picklist.tasks.after import suggest_changes

    with wrong_use_ends():
        found = suggest_changes(folder, least_cases)
    for one in found:
        procedures = " + ".join(one.procedures)
        typer.echo(f"{one.surgeon}, {procedures}: {one.thing_kind.value} {one.thing}: {one.sentence}")
    typer.echo(f"{len(found)} suggestions; a card is changed by the surgeon's office.")
