"""What the command line says: problems, summaries and errors as plain lines."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import date, datetime
from typing import Any, NoReturn

import typer

from picklist.problems import Problem, Severity, must_be_fixed
from picklist.tasks.errors import WrongUse, refusals
from picklist.wording.steps import WorkStep

OVER = "\r\033[K"  # writes over the last line of a terminal
BAR = 20  # characters
YEARS = (2000, 2100)  # those that dates in sheets may have


@contextmanager
def wrong_use_ends() -> Iterator[None]:
    """Turn a wrong use, and what the computer refuses, into a sentence and exit code 2."""
    try:
        with refusals():
            yield
    except WrongUse as wrong:
        typer.echo(f"picklist: {wrong}", err=True)
        raise typer.Exit(2) from None


def parse_now(text: str | None, *, far: bool = False) -> datetime:
    """The moment asked for, naive for the site's wall time; the machine's clock when none is.

    ``far``: it is meant, however far from the schedule it lies. Raises WrongUse, with the nearest moment.
    """
    from picklist.tasks.moment import EXAMPLE, Meant, typed_moment

    moment = datetime.now().astimezone() if text is None else typed_moment(text)
    if not YEARS[0] <= moment.year <= YEARS[1]:
        whose = "the computer clock" if text is None else f'--now "{text}"'
        raise WrongUse(f'{whose} is in the year {moment.year}; use --now with a time such as "{EXAMPLE}"')
    return Meant.of(moment) if far else moment


def day_option(option: str, about: str) -> Any:
    """An option that is a day, ``about`` it as its help. A wrong one raises WrongUse, with the nearest day."""

    def parse(text: str) -> date:
        from picklist.tasks.moment import typed_day

        return typed_day(text, option)

    return typer.Option(option, help=about, parser=parse, metavar="<day>")


def parse_answers(written: list[str]) -> dict[str, str]:
    """Answers to questions about cases, each NEW=OLD, or NEW= for a case that is new."""
    for one in written:
        if not one.partition("=")[0].strip() or "=" not in one:
            raise WrongUse(f'--same "{one}" is not NEW=OLD (two case numbers), or NEW= for a new case')
    pairs = (one.partition("=") for one in written)
    return {new.strip(): old.strip() for new, _, old in pairs}


def say_problems(problems: tuple[Problem, ...]) -> None:
    """Print problems on standard error, one a line, those that must be fixed first."""
    order = list(Severity)
    for problem in sorted(problems, key=lambda p: order.index(p.severity)):
        cases = f" [case {', '.join(problem.cases)}]" if problem.cases else ""
        place = f"{problem.where}: " if str(problem.where) else ""
        typer.echo(f"{problem.severity.value}: {place}{problem.sentence_on_screen()}{cases}", err=True)


def end(problems: tuple[Problem, ...]) -> NoReturn:
    """End a command: with exit code 1 where any of the problems must be fixed."""
    raise typer.Exit(int(must_be_fixed(problems)))


@contextmanager
def progress_line(quiet: bool) -> Iterator[Callable[[str], None]]:
    """A function that shows how far the work is on standard error, with a bar where that is counted; or is silent.

    Where somebody watches, the line is taken away in the end, also before what refused the work is said.
    Where nobody watches (a log file), each kind of work is said once, without its count.
    """
    said = ""

    def show(stage: str) -> None:
        nonlocal said
        if quiet:
            return
        with suppress(BrokenPipeError):  # that nobody watches any more is no reason to stop the work
            if sys.stderr.isatty():
                line = f"{_bar(stage)}{stage} ..."  # one that goes on below could not be written over
                typer.echo(f"{OVER}{line[: shutil.get_terminal_size().columns - 1]}", err=True, nl=False)
            elif (name := stage.doing if isinstance(stage, WorkStep) else stage) != said:
                said = name
                typer.echo(f"{name} ...", err=True)

    try:
        yield show
    finally:
        with suppress(BrokenPipeError):
            if sys.stderr.isatty():
                typer.echo(OVER, err=True, nl=False)


def _bar(stage: str) -> str:
    """How much of the work is done as a bar of plain characters; nothing where that is not counted."""
    if not isinstance(stage, WorkStep) or stage.share is None:
        return ""
    done = int(BAR * stage.share)
    return f"[{'#' * done}{'.' * (BAR - done)}] "


def say_news(line: str) -> None:
    """Print a line on standard error that stays, in the place of the one that shows how far the work is."""
    with suppress(BrokenPipeError):
        typer.echo(f"{OVER if sys.stderr.isatty() else ''}{line}", err=True)
