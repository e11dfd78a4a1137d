"""The command for a hospital's own schedule export."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from picklist.cli.build_commands import Folder, Now
from picklist.cli.terminal_lines import parse_now
from picklist.tasks.errors import WrongUse, as_typed
from picklist.wording import counted

if TYPE_CHECKING:
    from picklist.tasks.own_export import ExportLook


def headers(
    folder: Folder,
    export: Annotated[Path, typer.Argument(help="The export: a CSV file or workbook.", show_default=False)],
    means: Annotated[
        list[str] | None,
        typer.Option(help='What a header means, as "Theatre=room"; "Remarks=nothing" for one that is not read.'),
    ] = None,
    code: Annotated[
        list[str] | None, typer.Option(help='What a code in the column of a header means, as "Theatre:OR 03=OR 3".')
    ] = None,
    keep: Annotated[
        bool, typer.Option("--keep", help="Write this into the table Export, and take the export into the site.")
    ] = False,
    now: Now = None,
) -> None:
    """Learn what the headers of the hospital's own schedule export mean.

    Shows which column of Schedule each header fills, by the table Export or as guessed. With --keep it is written
    into Export, once, and the export is kept as "Schedule from export.csv" without the columns that mean nothing
    here: they may be about patients.
    """
    from picklist.tasks.own_export import learn_export, look_at_export, take_export, with_codes

    look = look_at_export(folder, export, _means(means or []))
    codes = with_codes(look, _codes(code or []))
    for line in _lines(export, look):
        typer.echo(line)
    if not keep:
        typer.echo("Nothing was written. Correct it with --means and --code, then use --keep.")
        raise typer.Exit(int(bool(look.lacking)))
    rows = learn_export(folder, look, codes, parse_now(now))
    kept = take_export(folder, look, parse_now(now))
    typer.echo(f"{counted(rows, 'new row')} in Export; kept as {kept.name}. Next: picklist check {as_typed(folder)}")


def _means(written: list[str]) -> dict[str, tuple[str, ...]]:
    from picklist.tasks.own_export import CHOICES, nearest_choice

    found: dict[str, tuple[str, ...]] = {}
    for one in written:
        header, _, what = one.rpartition("=")
        what = what.strip().casefold()
        if not header or what not in CHOICES:
            near = nearest_choice(what)
            hint = f"; did you mean {near}?" if near else f": one of {', '.join(CHOICES)}"
            raise WrongUse(f'--means "{one}" is not HEADER=COLUMN{hint}')
        found[header.strip()] = (*found.get(header.strip(), ()), what)
    return found


def _codes(written: list[str]) -> dict[tuple[str, str], str]:
    found: dict[tuple[str, str], str] = {}
    for one in written:
        left, equals, value = one.rpartition("=")
        header, colon, text = left.partition(":")
        if not (equals and colon and header.strip() and text.strip()):
            raise WrongUse(f'--code "{one}" is not HEADER:CODE=VALUE, as "Theatre:OR 03=OR 3"')
        found[header.strip(), text.strip()] = value.strip()
    return found


def _lines(export: Path, look: ExportLook) -> list[str]:
    """What was found, header by header."""
    lines = [f"{export.name}{': ' if look.dialect else ''}{', '.join(look.dialect)}"]
    for one in look.columns:
        lines.append(f"  {one.name}: {' and '.join(one.means) or 'not read'}{' (known)' if one.learned else ''}")
        for guess in (guess for guess in look.guesses if guess.header == one.name):
            doubt = "" if guess.sure else f'?  confirm with --code "{guess.header}:{guess.code}={guess.value}"'
            lines.append(f"    {guess.code}: {guess.value}{doubt}")
        lines += (
            f"    {counted(count, 'more code')} without a match here"
            for name, count in look.unknown
            if name == one.name
        )
    if look.lacking:
        lines.append(f'Still needed: {", ".join(look.lacking)}. Say which header, as --means "Theatre=room"')
    return lines
