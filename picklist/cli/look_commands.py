"""Commands that explain and try, and write nothing."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from picklist.cli.build_commands import AsJson, Far, Folder, Now
from picklist.cli.terminal_lines import day_option, parse_now, say_problems

CaseNumber = Annotated[
    str, typer.Argument(help="Case number as on the schedule, or the id of a set.", show_default=False)
]


def why(
    folder: Folder,
    case: CaseNumber,
    thing: Annotated[
        str | None,
        typer.Argument(help="Id, or words of the name, of a tray, pack, item or instrument.", show_default=False),
    ] = None,
    now: Now = None,
    far: Far = False,
    as_json: AsJson = False,
) -> None:
    """Explain why an item is (or is not) on a list.

    Each card line, rule and swap behind it, with file, sheet and row; for a tray also what is listed in it, for an
    instrument the trays on the list that hold it. For a case alone: what its cart lacks
    or waits for. For a set: its way through the department, and what it waits for.
    """
    at = parse_now(now, far=far)
    if thing is None:
        from picklist.tasks.why import why_alone  # loads the engines, which take as long as the answer below

        answer = why_alone(folder, case, at)
    else:
        from picklist.tasks.why_listed import why_thing

        answer = why_thing(folder, case, thing, at)
    if answer.exit_code:
        say_problems(answer.problems)
    typer.echo(json.dumps({"lines": answer.lines}, indent=1) if as_json else "\n".join(answer.lines))
    raise typer.Exit(answer.exit_code)


def try_out(
    folder: Folder,
    changes: Annotated[
        list[str], typer.Argument(help='Changes in words, as "move C-1041 to 13:20".', show_default=False)
    ],
    day: Annotated[date | None, day_option("--day", "Day of the times named, as 2026-11-26.")] = None,
    now: Now = None,
    far: Far = False,
) -> None:
    """Try a change; nothing is written.

    Shows which conflicts go, appear, get worse or milder, and whether rooms, people or hours rule it out;
    then it ends with exit code 1. Figures alone name a case, as 1041 for C-1041; times may be typed as 3pm or 1320.

    \b
    "move C-1041 to 13:20"      "swap C-1041 C-1042"
    "room C-1041 to OR 3"       "cancel C-1041"
    "extra T-KNEE by 10:00"     "faster C-1041 T-KNEE washer 15"
    "without T-KNEE for C-1041" "complete KNEE-03 by 10:00 for C-1041"
    """
    from picklist.tasks.try_out import try_words

    answer = try_words(folder, changes, parse_now(now, far=far), day)
    typer.echo("\n".join(answer.lines))
    raise typer.Exit(1 if answer.tried.objection else 0)


def calibrate(
    folder: Folder,
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for a page with a diagram of it (calibration.pdf); default: nothing is written."),
    ] = None,
    now: Now = None,
    far: Far = False,
    as_json: AsJson = False,
) -> None:
    """Compare the risk figures with past cases.

    Learns from the earlier two thirds of the table Past cases, forecasts for the rest how late each case ends,
    and compares with what happened. Needs 90 past cases, better with room, planned and actual start of each.
    """
    from picklist.tasks.calibrate import calibrate_site

    calibrated = calibrate_site(folder, parse_now(now, far=far))
    printed = calibrated.write(out) if out is not None else None
    lines = (*calibrated.lines(), *((f"The page: {printed.file}", *printed.notices) if printed else ()))
    typer.echo(json.dumps(calibrated.facts(), indent=1) if as_json else "\n".join(lines))
