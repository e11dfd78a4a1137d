"""The commands, named and in the order in which an evening needs them."""

from __future__ import annotations

from typing import Annotated

import typer

from picklist import __version__
from picklist.cli import after, building, evening, looking, serving
from picklist.cli.offices import cards_app

HELP = """Case-cart pick lists for tomorrow, the trays that one set cannot serve in time, and by when each must move.

A site is a folder of workbooks and CSV files.

\b
picklist blank SITE            empty workbooks to fill in
picklist check SITE            all that is wrong in them, with its cell
picklist build SITE --out OUT  the evening's lists, labels and sheets

Exit codes: 0 fine, 1 problems in the input, 2 wrong use.

A planning aid; device instructions, local policy and licensed staff decide.
"""

app = typer.Typer(
    help=HELP,
    no_args_is_help=True,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


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


app.command("build")(building.build)
app.command("check")(building.check)
app.command("why")(looking.why)
app.command("try")(looking.try_out)
app.command("blank")(building.blank)
app.command("tables")(building.tables)
app.command("carts")(evening.carts)
app.command("scan")(evening.scan)
app.command("morning")(evening.morning)
app.command("records")(evening.records)
app.command("open")(serving.open_page)
app.command("used")(after.used)
app.command("settle")(after.settle)
app.command("suggest")(after.suggest)
app.add_typer(cards_app, name="cards")


def main() -> None:
    """Run the command line."""
    app()
