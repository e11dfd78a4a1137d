"""The command that opens the local page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from picklist.cli.building import Folder, Now
from picklist.cli.words import parse_now, wrong_use_ends


def open_page(
    folder: Folder,
    out: Annotated[
        Path | None, typer.Option(help="The folder of the papers; beside the site's folder when left out.")
    ] = None,
    port: Annotated[int, typer.Option(help="Port on this computer; a free one when 0.", min=0, max=65535)] = 0,
    browser: Annotated[bool, typer.Option(help="Whether to open the default browser.")] = True,
    now: Now = None,
) -> None:
    """Open the page for those who use no terminal.

    Files in, problems, building, papers, the board, trying changes and carts, in the browser of this
    computer and of nobody else.
    """
    from picklist.server.desk import Desk
    from picklist.server.run import serve
    from picklist.tasks.papers import default_out

    with wrong_use_ends():
        fixed = parse_now(now) if now else None
        desk = Desk(folder, out or default_out(folder), lambda: fixed or parse_now(None))
        serve(desk, port, typer.echo, browser=browser)
