"""One label, whichever standard it follows, from a scan, a cell or a box of the page."""

from __future__ import annotations

import re
from datetime import date

from picklist.labels.gs1 import looks_like_gs1, read_gs1
from picklist.labels.gtin import is_gtin
from picklist.labels.hibc import check_character, looks_like_hibc, read_hibc
from picklist.labels.label import Label

_MARK = re.compile(r"\][A-Za-z][0-9A-Za-z](?=.)")


def without_marks(line: str) -> str:
    """What a scan says, without the end of its line and the mark of a symbol that holds no element strings.

    The separators of GS1 stay, and so does the last blank of a HIBC label, which may be its check character.
    """
    text = line.strip("\ufeff\r\n\t ")
    mark = _MARK.match(text)
    if mark and not looks_like_gs1(text):
        text = text[mark.end() :]
    if looks_like_hibc(text):
        return text + " " * line.rstrip("\r\n\t").endswith(" ")
    return text


def claims_label(text: str) -> bool:
    """Whether a text can be nothing but a maker's label; a plain number may be a GTIN, and anything else too."""
    return looks_like_hibc(text) or looks_like_gs1(text)


def item_text(label: Label) -> str:
    """The shortest label that names the item of this one; empty where it names none."""
    if label.hibc:
        primary = f"+{label.hibc}"
        return primary + check_character(primary).replace(" ", "_")
    return f"(01){label.gtin}" if label.gtin else ""


def read_label(text: str, today: date) -> Label | None:
    """What a maker's label says; None for a text that claims to be none. Raises LabelError."""
    if looks_like_hibc(text):
        return read_hibc(text, today)
    if is_gtin(text):
        return Label(gtin=text.zfill(14))
    return read_gs1(text, today) if looks_like_gs1(text) else None
