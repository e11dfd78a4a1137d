"""The text of printed pages, workbooks and the board, as lines."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pypdfium2
from openpyxl import load_workbook


def page_lines(path: Path) -> list[str]:
    """Every line of every page of a PDF, each page under a heading."""
    with pypdfium2.PdfDocument(path) as document:
        lines = []
        for number, page in enumerate(document, 1):
            lines += [f"=== page {number}", *page.get_textpage().get_text_range().splitlines()]
    return [line.rstrip() for line in lines]


def cell_lines(path: Path) -> list[str]:
    """Every row of every sheet that holds something, its cells joined by bars."""
    book = load_workbook(path)
    lines = []
    for sheet in book.worksheets:
        lines.append(f"=== {sheet.title} ({sheet.sheet_state})")
        rows = (["" if value is None else str(value) for value in row] for row in sheet.iter_rows(values_only=True))
        lines += [" | ".join(row).rstrip(" |") for row in rows if any(row)]
    return lines


def html_lines(path: Path) -> list[str]:
    """The words of a page of the web as they would be read, without its script, style and drawing."""
    text = path.read_text(encoding="utf-8")
    text = re.sub(r"<(script|style|head)\b.*?</\1>", "", text, flags=re.DOTALL)
    lines = (" ".join(unescape(line).split()) for line in re.split(r"<[^>]+>", text))
    return [line for line in lines if line]
