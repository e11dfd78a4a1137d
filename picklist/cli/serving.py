"""The command that opens the local page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from picklist.cli.building import Far, Folder, Now
from picklist.cli.words import parse_now, wrong_use_ends


def open_page(
    folder: Folder,
    out: Annotated[Path | None, typer.Option(help="Folder for the papers; default: beside the site's folder.")] = None,
    port: Annotated[int, typer.Option(help="Port on this computer; 0 takes a free one.", min=0, max=65535)] = 0,
    browser: Annotated[bool, typer.Option(help="Open the default browser.")] = True,
    now: Now = None,
    far: Far = False,
) -> None:
    """Open picklist in your web browser (this computer only).

    Load files, see problems, build, print papers, use the board, try changes and report carts.
    """
    from picklist.server.desk import Desk
    from picklist.server.run import serve
    from picklist.tasks.papers import default_out

    with wrong_use_ends():
        fixed = parse_now(now, far=far) if now else None
        desk = Desk(folder, out or default_out(folder), lambda: fixed or parse_now(None, far=far))
        serve(desk, port, typer.echo, browser=browser)
