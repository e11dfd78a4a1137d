"""A pick list as print-ready HTML, whose look a site may alter."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from picklist.documents.templates import template_folder
from picklist.documents.views.pick_list import PickListView


@cache
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(template_folder() / "html"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def pick_list_html(view: PickListView) -> str:
    """One cart's list as a page of its own, with its style inside."""
    return _environment().get_template("pick-list.html.j2").render(view=view)
