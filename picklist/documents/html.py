"""A pick list as print-ready HTML, whose look a site may alter."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, TemplateError
from jinja2.sandbox import SandboxedEnvironment

from picklist.documents.templates import template_folder
from picklist.documents.views.pick_list import PickListView

TEMPLATE = "pick-list.html.j2"


class OwnTemplateError(Exception):
    """A site's template for the HTML pick list is wrong; says where and why."""


@cache
def _environment(own: Path | None) -> Environment:
    folders = [folder for folder in (own, template_folder() / "html") if folder]
    return SandboxedEnvironment(
        loader=FileSystemLoader(folders),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def pick_list_html(view: PickListView, own: Path | None = None) -> str:
    """One cart's list as a page of its own, with its style inside.

    ``own`` is a site's folder whose ``pick-list.html.j2`` or ``pick-list.css`` goes before ours.
    Raises OwnTemplateError when the site's template cannot be used.
    """
    try:
        return _environment(own).get_template(TEMPLATE).render(view=view)
    except (TemplateError, UnicodeDecodeError) as wrong:
        line = getattr(wrong, "lineno", None)
        place = f"{own or template_folder() / 'html'}{f', line {line}' if line else ''}"
        raise OwnTemplateError(f"the pick list's template in {place} cannot be used: {wrong}") from wrong
