"""Commands that take in scheduling messages of other systems."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from picklist.cli.build_commands import Far, Folder, Now
from picklist.cli.terminal_lines import end, parse_now, say_problems
from picklist.tasks.errors import WrongUse, refusals
from picklist.wording import counted

if TYPE_CHECKING:
    from picklist.problems import Problem
    from picklist.tasks.message_files import Received

LOOK_EVERY = 5.0  # seconds between two looks into a watched folder
RENEW_AFTER = 5.0  # seconds after a message until the schedule is written


class AckMode(StrEnum):
    """How a listener answers."""

    STANDARD = "standard"  # by MSH-15 and MSH-16
    ORIGINAL = "original"  # always AA, AE or AR


def receive(
    folder: Folder,
    source: Annotated[Path, typer.Argument(help="A file of messages, or a folder of such files.", show_default=False)],
    watch: Annotated[bool, typer.Option(help="Go on, and take in each file that comes into the folder.")] = False,
    now: Now = None,
    far: Far = False,
) -> None:
    """Take in scheduling messages from files: HL7 v2 (SIU) and FHIR appointments (JSON).

    The files are left as they are. The cases stand in "Schedule from messages.csv" in the site's folder; the
    table Codes says which code means which room, person and procedure. Nothing about a patient is kept.
    """
    from picklist.tasks.message_files import WatchedFiles, of_messages, receive_from
    from picklist.tasks.read_folder import load_folder

    watched = WatchedFiles(source)

    def take_in(files: list[Path]) -> tuple[Problem, ...]:
        done = receive_from(folder, files, datetime.now(UTC))
        _say(done)
        problems = of_messages(load_folder(folder, parse_now(now, far=far)).problems)
        watched.took(files)
        say_problems(problems)
        return (*problems, *done.problems)

    found = take_in(watched.new_files())
    said = ""
    while watch:
        time.sleep(LOOK_EVERY)
        try:
            with refusals():
                if files := watched.new_files(settled=True):
                    take_in(files)
            said = ""
        except WrongUse as wrong:  # the next look may find the folder, or the table, as it should be
            if str(wrong) != said:
                typer.echo(f"picklist: {wrong}; trying again until it works", err=True)
            said = str(wrong)
    end(found)


def _say(done: Received) -> None:
    say_problems(done.problems)
    typer.echo(f"{counted(done.new, 'new message')}, {done.repeated} that came before, {done.refused} refused.")


def listen(
    folder: Folder,
    port: Annotated[int, typer.Option(help="Port to listen on; a free one when 0.", min=0, max=65535)] = 2575,
    host: Annotated[
        str, typer.Option(help="Address to listen on. The usual one is reached from this computer only.")
    ] = "127.0.0.1",
    acks: Annotated[
        AckMode, typer.Option(help="standard: answer as MSH-15 and MSH-16 ask; original: always AA, AE or AR.")
    ] = AckMode.STANDARD,
) -> None:
    """Listen for HL7 v2 scheduling messages (MLLP) and acknowledge each once it is stored.

    Ends with Ctrl+C. MLLP has no password and no encryption: leave the address as it is, or let a tunnel or
    an interface engine stand between.
    """
    import asyncio

    from picklist.tasks.listen import run_listener

    try:
        asyncio.run(run_listener(folder, host, port, acks is AckMode.ORIGINAL, _line, RENEW_AFTER))
    except KeyboardInterrupt:
        _line("stopped; every acknowledged message is stored")


def _line(text: str) -> None:
    import sys

    typer.echo(text)
    sys.stdout.flush()
