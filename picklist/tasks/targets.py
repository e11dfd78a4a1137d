"""Files that a user asks for by name: looked at before the work, so that nothing of anybody is written over."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from picklist.clock import SiteClock
from picklist.documents.missing_characters import CharacterCheck
from picklist.documents.pages import Sheet, draw
from picklist.documents.templates import fonts_of_sheets
from picklist.documents.views.finished_words import View, as_data
from picklist.tables.files import check_file, keep_former, real_path, write_file
from picklist.tasks.errors import WrongUse, refusals


def check_target(site_folder: Path, out: Path, endings: tuple[str, ...], never: Path | None = None) -> None:
    """Raise WrongUse when ``out`` cannot be written, has another ending, or is a file of the site or ``never``."""
    if out.suffix.lower() not in endings:
        raise WrongUse(f"{out} must end in {' or '.join(endings)}")
    with refusals():
        check_file(out)
        real = real_path(out)
        if real.exists() and real.parent == site_folder.resolve():
            raise WrongUse(f"{out} is one of the site's own files; choose another name or folder")
        if never is not None and real == real_path(never):
            raise WrongUse(f"{out} is the file that came in; choose another name, so that it stays as it came")


def keep_what_is_there(site_folder: Path, out: Path, stamp: datetime) -> Path | None:
    """Keep a file that is about to be written over where former files of the site are kept; where that is."""
    with refusals():
        real = real_path(out)
        return keep_former(site_folder, real.name, real.read_bytes(), stamp) if real.is_file() else None


def kept_as(out: Path, former: Path) -> str:
    """What is said of a file that was written over."""
    return f"{out.name} was there before; the former one is kept as {former}"


class PrintedPage(NamedTuple):
    """A page that was printed, and what is to be said of its printing."""

    file: Path
    notices: tuple[str, ...]


def print_page(
    site_folder: Path, view: View, template: str, out: Path, made: datetime, clock: SiteClock
) -> PrintedPage:
    """Print one view as a PDF, with what is to be said of it: characters that it lacks, and a file that was there.

    It is put in place whole; a file that is there already is kept, and stays when this fails. Raises WrongUse.
    """
    characters = CharacterCheck(fonts_of_sheets())
    data = characters.everywhere(as_data(view))
    pdf = draw(Sheet(file=out.name, template=template, data=data, made=made))
    former = keep_what_is_there(site_folder, out, clock.wall(made))
    with refusals():
        write_file(out, pdf)
    return PrintedPage(out, (*characters.report(), *((kept_as(out, former),) if former else ())))
