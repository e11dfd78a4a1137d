"""The board as HTML: one file that asks nothing of any network."""

from __future__ import annotations

import hashlib
from base64 import b64encode
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from picklist.documents.board.view import BoardView
from picklist.documents.templates import isolated, template_folder
from picklist.model.known import NO_REPORTS, CartReport
from picklist.model.plan import Plan

FONTS = (("400", "Inter-Regular-latin.woff2"), ("600", "Inter-SemiBold-latin.woff2"))


def _folder() -> Path:
    return template_folder() / "board"


@cache
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(_folder()),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=isolated,
        trim_blocks=True,
        lstrip_blocks=True,
    )


@cache
def _parts() -> dict[str, object]:
    """Style, script and letters, which are the same on every board."""
    script = (_folder() / "board.js").read_text(encoding="utf-8")
    style = (_folder() / "board.css").read_text(encoding="utf-8")
    digest = b64encode(hashlib.sha256(script.encode()).digest()).decode()
    fonts = tuple((weight, b64encode((_folder() / file).read_bytes()).decode()) for weight, file in FONTS)
    return {"script": Markup(script), "style": Markup(style), "script_hash": digest, "fonts": fonts}


def board_html(plan: Plan, reported: Mapping[str, CartReport] = NO_REPORTS) -> str:
    """The board of a plan as one page with its style, letters and script inside.

    ``reported`` says how far carts are, by case.

    Names are escaped; only the page's own script may run, and nothing is fetched. Deep links are
    ``#conflict=ID``, ``#case=NUMBER`` and ``#tray=ID``, each per cent encoded.
    """
    return _environment().get_template("board.html.j2").render(view=BoardView(plan, reported), **_parts())
