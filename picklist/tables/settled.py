"""Workbooks whose bytes depend on their content only, not on when they were saved."""

from __future__ import annotations

import io
import zipfile
from datetime import datetime
from pathlib import Path

from openpyxl import Workbook

from picklist.tables.files import write_file

LONG_AGO = (1980, 1, 1, 0, 0, 0)  # the earliest a ZIP entry can carry


def save_settled(workbook: Workbook, path: Path) -> None:
    """Save a workbook, whole or not at all; the same content gives the same bytes. Raises OSError, BusyError."""
    raw, settled = io.BytesIO(), io.BytesIO()
    workbook.properties.creator = "picklist"
    workbook.properties.created = datetime(*LONG_AGO)  # noqa: DTZ001 (the format has no zone)
    workbook.save(raw)
    with zipfile.ZipFile(raw) as source, zipfile.ZipFile(settled, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            entry = zipfile.ZipInfo(name, LONG_AGO)
            entry.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(entry, _without_saving_time(name, source.read(name)))
    write_file(path, settled.getvalue())


def _without_saving_time(name: str, content: bytes) -> bytes:
    if name != "docProps/core.xml":
        return content
    head, tag, rest = content.partition(b"<dcterms:modified")
    if not tag:
        return content
    return head + rest.partition(b"</dcterms:modified>")[2]
