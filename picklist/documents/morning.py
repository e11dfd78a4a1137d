"""The page for the morning as a PDF."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from picklist.documents.glyphs import Signs
from picklist.documents.pages import Sheet, draw, fonts_of_sheets
from picklist.documents.views.lookup import look_up
from picklist.documents.views.morning import morning
from picklist.evening.morning import OpenPoints
from picklist.model.plan import Plan
from picklist.tables.files import write_file


def write_morning(plan: Plan, points: OpenPoints, path: Path) -> tuple[str, ...]:
    """Print what is open of a plan; notices of signs that could not be printed. Raises OSError, BusyError.

    The file is put in place whole: a page that lies there already stays when this fails.
    """
    signs = Signs(fonts_of_sheets())
    data = signs.everywhere(asdict(morning(look_up(plan), points)))
    pdf = draw(Sheet(file=path.name, template="morning", data=data, made=points.at))
    write_file(path, pdf)
    return signs.report()
