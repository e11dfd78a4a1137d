"""The commands, named and in the order in which an evening needs them."""

from __future__ import annotations

import gc
import os
import sys
from contextlib import suppress
from io import TextIOWrapper
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from picklist import __version__
from picklist.cli import (
    build_commands,
    day_after_commands,
    evening_commands,
    export_commands,
    look_commands,
    message_commands,
)
from picklist.cli.build_commands import Far, Folder, Now
from picklist.cli.office_commands import cards_app
from picklist.cli.terminal_lines import parse_now, wrong_use_ends

HELP = """Case-cart pick lists for tomorrow, the trays without a set in time, and when each set must move.

A site is a folder of workbooks and CSV files.

\b
picklist demo SITE             a small made-up hospital to try it on
picklist blank SITE            empty workbooks to fill in
picklist check SITE            every problem in them, with its cell
picklist build SITE --out OUT  pick lists, labels and sheets

Exit codes: 0 fine, 1 problems in the input, 2 wrong use or nothing can be written there, 70 a fault of picklist,
130 stopped with Ctrl+C.

A planning aid; device instructions, local policy and licensed staff decide.
"""

WRONG_USE = 2
INTERRUPTED = 130  # as every shell has it for Ctrl+C: 128 + SIGINT
SELDOM = (50_000, 20, 50)  # what is read and planned stays: to look for garbage as often as usual takes a tenth longer
NOBODY_READS = 141  # 128 + SIGPIPE


class Commands(TyperGroup):
    """The commands: a wrong use, and what the computer refuses, ends each of them in a sentence and exit code 2."""

    def invoke(self, ctx: Any) -> Any:
        """Run a command."""
        with wrong_use_ends():
            return super().invoke(ctx)


app = typer.Typer(
    cls=Commands,
    help=HELP,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,  # they show the values of variables, and so data of the site
    context_settings={"help_option_names": ["-h", "--help"]},
)


def open_page(
    folder: Folder,
    out: Annotated[Path | None, typer.Option(help="Folder for the papers; default: beside the site's folder.")] = None,
    port: Annotated[int, typer.Option(help="Port on this computer; 0 takes a free one.", min=0, max=65535)] = 0,
    browser: Annotated[bool, typer.Option(help="Open the default browser.")] = True,
    now: Now = None,
    far: Far = False,
) -> None:
    """Open picklist in your web browser (this computer only).

    The whole evening: load files, fix problems, build, print, scan and report carts, use the board, try changes,
    settle the day after, and deal with the offices.
    """
    from picklist.server.desk import Desk
    from picklist.server.run import serve
    from picklist.tasks.papers import check_whose, default_out

    fixed, papers = parse_now(now, far=far) if now else None, out or default_out(folder)
    check_whose(folder, papers)
    desk = Desk(folder, papers, lambda: fixed or parse_now(None, far=far))
    serve(desk, port, typer.echo, browser=browser)


def _say_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"picklist {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_say_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass


app.command("build")(build_commands.build)
app.command("check")(build_commands.check)
app.command("why")(look_commands.why)
app.command("try")(look_commands.try_out)
app.command("calibrate")(look_commands.calibrate)
app.command("demo")(build_commands.demo)
app.command("blank")(build_commands.blank)
app.command("tables")(build_commands.tables)
app.command("carts")(evening_commands.carts)
app.command("scan")(evening_commands.scan)
app.command("morning")(evening_commands.morning)
app.command("calendar")(evening_commands.calendar)
app.command("records")(evening_commands.records)
app.command("headers")(export_commands.headers)
app.command("receive")(message_commands.receive)
app.command("listen")(message_commands.listen)
app.command("open")(open_page)
app.command("used")(day_after_commands.used)
app.command("settle")(day_after_commands.settle)
app.command("suggest")(day_after_commands.suggest)
app.add_typer(cards_app, name="cards")


def main() -> None:
    """Run the command line; whatever goes wrong ends in a sentence and an exit code, never in a traceback."""
    _print_any_sign()
    gc.set_threshold(*SELDOM)
    code = 0
    try:
        try:
            app()
        finally:
            _flush()
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else int(end.code is not None)
        if isinstance(end.__context__, BrokenPipeError):
            code = NOBODY_READS
    except KeyboardInterrupt:
        code = INTERRUPTED
    except BrokenPipeError:
        code = NOBODY_READS
    except Exception as error:
        code = _say_failure(error)
    if code == INTERRUPTED:
        with suppress(OSError):
            typer.echo("\npicklist: stopped; what was finished before is kept", err=True)
    sys.exit(code)


def _say_failure(error: Exception) -> int:
    """Say what the computer refused outside any command's work, or that the program has a fault; the exit code."""
    from picklist.tasks.crash import EXIT_CODE, report_crash
    from picklist.tasks.errors import WrongUse, refusals

    said, code = "", EXIT_CODE
    try:
        with refusals():
            raise error
    except WrongUse as refused:
        said, code = str(refused), WRONG_USE
    except Exception:
        said = report_crash(error)
    with suppress(OSError):
        typer.echo(f"picklist: {said}", err=True)
    return code


def _print_any_sign() -> None:
    """Let a terminal that lacks a sign show its number instead; it is no reason to fail."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _flush() -> None:
    """Bring out what was printed. Raises OSError when that is refused, as when nobody reads on behind ``head``."""
    try:
        for stream in (sys.stdout, sys.stderr):
            if stream is not None:
                stream.flush()
    except OSError:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        for number in (1, 2):  # else Python complains of it once more when it ends
            os.dup2(nowhere, number)
        raise
