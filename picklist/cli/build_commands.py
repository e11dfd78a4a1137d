"""Commands that make things: the evening's folder, the check of a site, blank workbooks."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from picklist.cli.terminal_lines import (
    day_option,
    parse_answers,
    parse_now,
    progress_line,
    say_news,
    say_problems,
)
from picklist.problems import Problem

Folder = Annotated[Path, typer.Argument(help="The site's folder of workbooks and CSV files.", show_default=False)]
Now = Annotated[
    str | None, typer.Option(help='Site time to use as now, as "2026-11-25 18:00"; default: the computer clock.')
]
Far = Annotated[
    bool, typer.Option("--far", help="Confirm a time that is more than half a year from the cases of the schedule.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as JSON, for scripts.")]


def build(
    folder: Folder,
    out: Annotated[
        Path,
        typer.Option(help="Folder for the papers. Filled-in forms in it are read; other people's files stay."),
    ],
    day: Annotated[
        date | None, day_option("--day", "Day of the carts, as 2026-11-26; default: the next day with cases.")
    ] = None,
    now: Now = None,
    far: Far = False,
    paper: Annotated[str | None, typer.Option(help="A4 or Letter, instead of the site's setting.")] = None,
    clock: Annotated[int | None, typer.Option(help="12 or 24, instead of the site's setting.")] = None,
    chance: Annotated[bool, typer.Option(help="Simulate case overruns to estimate the risk of late sets.")] = True,
    same: Annotated[
        list[str] | None, typer.Option(help="Confirm a renumbered case: NEW=OLD, or NEW= for a new case.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Print pick lists, labels and sheets.

    A pick list for each cart, labels, and the bulk, department, conflict and shortage sheets.

    A problem in one case's data puts only that case's list on hold, and its paper says so.
    """
    from picklist.cli.summary import build_facts, build_lines, handed_out_line
    from picklist.tasks.build import Built, Wanted, build_day

    def handed_out(first: Built) -> None:
        if not as_json:
            say_news(handed_out_line(first))

    wanted = Wanted(
        folder=folder,
        out=out,
        now=parse_now(now, far=far),
        day=day,
        paper=paper,
        clock=clock,
        with_chance=chance,
        answers=parse_answers(same or []),
    )
    with progress_line(quiet=as_json) as progress:
        built = build_day(wanted, progress, handed_out)
    say_problems(built.problems)
    typer.echo(json.dumps(build_facts(built), indent=1) if as_json else "\n".join(build_lines(built)))
    if built.plan is None and not as_json:
        _say_next(folder, built.problems, None, "")
    raise typer.Exit(built.exit_code)


def check(folder: Folder, now: Now = None, far: Far = False, as_json: AsJson = False) -> None:
    """List every problem in the input.

    With file, sheet and cell, what was expected, and the nearest valid value.
    """
    from picklist.cli.summary import problem_facts
    from picklist.problems_report import write_report
    from picklist.tasks.read_folder import cases_over, days_ahead, load_folder

    loaded = load_folder(folder, parse_now(now, far=far))
    facts = [problem_facts(problem) for problem in loaded.problems]
    typer.echo(json.dumps(facts, indent=1) if as_json else write_report(loaded.problems))
    if not as_json:
        _say_next(folder, loaded.problems, days_ahead(loaded), cases_over(loaded))
    raise typer.Exit(loaded.exit_code)


def _say_next(folder: Path, problems: tuple[Problem, ...], days: tuple[date, ...] | None, over: str) -> None:
    """Say what to do next where something that every evening needs is not there yet."""
    from picklist.tasks.errors import as_typed
    from picklist.tasks.new_site import next_step
    from picklist.wording.next_steps import in_terminal

    step = next_step(folder, problems, days)
    if step is not None:
        typer.echo(in_terminal(step, as_typed(folder), over))


NewFolder = Annotated[Path, typer.Argument(help="A new folder for the workbooks.", show_default=False)]


def blank(folder: NewFolder, now: Now = None) -> None:
    """Write blank workbooks for a new site.

    With drop-downs, a note on each header, and one example line in each table.
    """
    from picklist.tasks.errors import as_typed
    from picklist.tasks.new_site import make_blank

    files = make_blank(folder, parse_now(now))
    typer.echo(
        f"Wrote {len(files)} workbooks to {folder}. Replace the example lines, then: picklist check {as_typed(folder)}"
    )


def demo(folder: NewFolder, now: Now = None) -> None:
    """Write a small made-up hospital to try picklist on.

    Its cases are tomorrow. One cart is on hold, one lacks something, one tray is wanted twice.
    """
    from picklist.tasks.errors import as_typed
    from picklist.tasks.new_site import make_demo
    from picklist.tasks.papers import default_out

    files = make_demo(folder, parse_now(now))
    site, out = as_typed(folder), as_typed(folder.with_name(default_out(folder).name))
    typer.echo(
        f"Wrote a made-up hospital to {folder} ({len(files)} workbooks). Next:\n"
        f"  picklist build {site} --out {out}   tomorrow's papers\n"
        f"  picklist open {site}   the same in your web browser"
    )


def tables(
    as_json: Annotated[bool, typer.Option("--json", help="A JSON schema of tables, settings and forms.")] = False,
) -> None:
    """Print a reference of all tables.

    Their columns, what goes in, and an example of each.
    """
    from picklist.tasks.new_site import describe_tables

    typer.echo(describe_tables(as_json=as_json))
