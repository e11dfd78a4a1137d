"""Names and ids of a site that papers cannot show, because their fonts lack the characters."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

from picklist.documents.missing_characters import CharacterCheck
from picklist.documents.templates import fonts_of_sheets
from picklist.model.site import Site
from picklist.problems import Problem, Severity
from picklist.wording.say_characters import not_on_paper, writable


def check_names(site: Site) -> Iterator[Problem]:
    """Each cell whose text is printed and holds characters that no paper can show."""
    characters = CharacterCheck(fonts_of_sheets())
    for things, columns in _printed(site):
        for thing in things:
            for field, column in columns:
                text = getattr(thing, field)
                if text and not text.isascii() and (missing := characters.lacking(text)):
                    yield Problem(
                        kind="not on paper",
                        severity=Severity.TO_FIX,
                        where=replace(thing.where, column=column),
                        message=not_on_paper(missing),
                        value=text,
                        expected=writable(),
                    )


def _printed(site: Site) -> Iterator[tuple[Iterable[Any], tuple[tuple[str, str], ...]]]:
    """What is printed of each table: the fields, and the columns that they come from."""
    yield site.cases, (("number", "case"), ("notes", "notes"))
    yield site.procedures.values(), (("name", "name"),)
    yield site.staff.values(), (("name", "name"),)
    yield site.rooms.values(), (("id", "room"),)
    yield site.card_lines, (("note", "note"),)
    yield site.items.values(), (("id", "item"), ("name", "name"), ("unit", "unit"), ("brought_by", "brought by"))
    yield site.packs.values(), (("id", "pack"), ("name", "name"))
    yield site.trays.values(), (("id", "tray"), ("name", "name"))
    yield site.sets.values(), (("id", "set"), ("missing", "missing"))
    yield site.lots, (("lot", "lot"),)
    yield site.places.values(), (("id", "place"),)
    yield (step for route in site.routes.values() for step in route.steps), (("name", "step"),)
    yield site.stations.values(), (("id", "station"),)
