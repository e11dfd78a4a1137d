"""What a whole run is searched for, and where: the texts of whatever is printed or kept."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pypdfium2

from tests.privacy.seeds import TRACES

NOW = "2026-11-25 18:00"
PERSON = "WRENFIELD, Oda F72, MRN 4829130, born 1952-03-04, tel. 312 555-0142"
# A mark of contents: of so many figures some four are "1952" by chance.
DIGEST = re.compile(r"(?<![0-9a-f])[0-9a-f]{64}(?![0-9a-f])")


def traces(text: str) -> list[str]:
    """What of the patient a text has."""
    return [trace for trace in TRACES if trace in text]


def text_of(path: Path) -> str:
    """What can be read in a file, whatever its format."""
    if path.suffix == ".pdf":
        return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(path))
    if path.suffix == ".xlsx":
        return "\n".join(_parts(path))
    return DIGEST.sub("", path.read_bytes().decode("latin-1"))


def _parts(path: Path) -> Iterator[str]:
    with zipfile.ZipFile(path) as archive:
        yield from (archive.read(name).decode("utf-8", "replace") for name in archive.namelist())
