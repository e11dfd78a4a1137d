"""Views to PDF: one constant template for each sheet, the data beside it as JSON, never as source."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from importlib.metadata import version
from io import BytesIO
from typing import Any

import pypdfium2
import typst

from picklist.documents.templates import fonts_of_sheets, template_folder


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A document to print: its file, its template, and its finished data; ``made`` is its stated time."""

    file: str
    template: str
    data: dict[str, Any]
    made: datetime


@cache
def _fonts() -> typst.Fonts:
    folder = str(template_folder() / "fonts")
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[folder])


@cache
def drawing_digest() -> str:
    """Changes when a template, a font or the typesetter changes, so that kept pages are drawn anew."""
    digest = hashlib.sha256(version("typst").encode())
    folder = template_folder()
    for path in sorted((*(folder / "typst").glob("*.typ"), *fonts_of_sheets())):
        digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def sheet_digest(sheet: Sheet) -> str:
    """Of all that decides how a sheet's pages come out."""
    return _digest([drawing_digest(), sheet.template, sheet.data, int(sheet.made.timestamp())])


def _digest(value: Any) -> str:
    return hashlib.sha256(json.dumps(value, sort_keys=True).encode()).hexdigest()


def draw(sheet: Sheet, *, accessible_only: bool = False) -> bytes:
    """The PDF of one sheet; the same sheet gives the same bytes.

    ``accessible_only`` refuses (TypstError) what PDF/UA-1 forbids, as a sign without a glyph; for tests.
    """
    return typeset(sheet, accessible_only=accessible_only)


def typeset(sheet: Sheet, *, accessible_only: bool) -> bytes:
    """What ``draw`` does; tests put pages that they know in its place."""
    folder = template_folder() / "typst"
    pdf = typst.compile(
        str(folder / f"{sheet.template}.typ"),
        root=str(folder),
        font_paths=_fonts(),
        sys_inputs={"data": json.dumps(sheet.data)},
        timestamp=int(sheet.made.timestamp()),
        pdf_standards="ua-1" if accessible_only else None,
    )
    return bytes(pdf)


def join(pdfs: Sequence[bytes], made: datetime) -> bytes:
    """One PDF with the pages of all, in order; each keeps its own numbering. Same bytes for same input."""
    whole = pypdfium2.PdfDocument.new()
    for pdf in pdfs:
        part = pypdfium2.PdfDocument(pdf)
        whole.import_pages(part)
        part.close()
    buffer = BytesIO()
    whole.save(buffer)
    whole.close()
    return _without_clock(buffer.getvalue(), made)


def _without_clock(pdf: bytes, made: datetime) -> bytes:
    """Put the plan's time and a digest where the joiner wrote the machine's time and a random id.

    Both replacements have the length of what they replace, so that no offset in the file moves.
    """
    stamp = made.strftime("D:%Y%m%d%H%M%S+00'00'").encode()
    pdf = re.sub(rb"/CreationDate\(D:\d{14}\+00'00'\)", b"/CreationDate(" + stamp + b")", pdf, count=1)
    head, mark, tail = pdf.rpartition(b"/ID[<")
    name = hashlib.sha256(head).hexdigest()[:32].upper().encode()
    return head + mark + name + b"><" + name + tail[66:] if mark else pdf
