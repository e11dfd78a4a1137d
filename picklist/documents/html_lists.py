"""A pick list as print-ready HTML, whose look a site may alter."""

from __future__ import annotations

import re
from difflib import get_close_matches
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, TemplateError
from jinja2.sandbox import SandboxedEnvironment
from jinja2.utils import missing

from picklist.documents.templates import isolated, template_folder
from picklist.documents.views.finished_words import View
from picklist.documents.views.pick_list import PickListView
from picklist.problems import did_you_mean

TEMPLATE = "pick-list.html.j2"
PAIRS = "remarks, whose lines are pairs of what each is about and its sentence"
TIME = re.compile(r"(\d:\d\d) ([ap]m)\b")
FORMER_NAMES = {"notices": PAIRS, "pending": PAIRS}


class OwnTemplateError(Exception):
    """A site's template for the HTML pick list is wrong; says where and why."""


class _Unknown(StrictUndefined):
    """A name that no view has: the error says which one is meant, or what the name has become."""

    @property
    def _undefined_message(self) -> str:
        name = str(self._undefined_name)
        if self._undefined_obj is missing:
            return f"{name} is not known there; the list is named view"
        if name in FORMER_NAMES:
            return f"{name} is no longer there; it is now in {FORMER_NAMES[name]}"
        known = vars(self._undefined_obj) if isinstance(self._undefined_obj, View) else ()
        near = get_close_matches(name, known, n=2)
        return f"there is no {name}{did_you_mean(near)}"


def _whole_times(value: object) -> object:
    """A text whose times of the 12 hour clock are not torn from their am or pm, and names from right to left apart."""
    return isolated(TIME.sub("\\1\u00a0\\2", value) if type(value) is str else value)


@cache
def _environment(own: Path | None) -> Environment:
    folders = [folder for folder in (own, template_folder() / "html") if folder]
    return SandboxedEnvironment(
        loader=FileSystemLoader(folders),
        autoescape=True,
        undefined=_Unknown,
        finalize=_whole_times,
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
