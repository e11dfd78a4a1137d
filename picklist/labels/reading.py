"""One label, whichever standard it follows, from a scan, a cell or a box of the page; and what a scanner meant."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date

from picklist.labels.gs1 import looks_like_gs1, read_gs1
from picklist.labels.hibc import check_character, looks_like_hibc, read_hibc
from picklist.labels.label import Label, is_gtin

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


# Scans that came through a keyboard of another country. A scanner that acts as a keyboard sends keys, not letters.
# Where it is set to one layout and the computer to another, each key gives the wrong sign: ``C-4123`` is typed as
# ``Cß4123`` on a German computer. The rows below are the printable keys of each layout in the same order, without
# and with the shift key (from memory).
_UNITED_STATES = (
    "`1234567890-=qwertyuiop[]\\asdfghjkl;'zxcvbnm,./",
    '~!@#$%^&*()_+QWERTYUIOP{}|ASDFGHJKL:"ZXCVBNM<>?',
)
_OTHERS = {
    "German": (
        "^1234567890ß´qwertzuiopü+#asdfghjklöäyxcvbnm,.-",
        "°!\"§$%&/()=?`QWERTZUIOPÜ*'ASDFGHJKLÖÄYXCVBNM;:_",
    ),
    "French": (
        "²&é\"'(-è_çà)=azertyuiop^$*qsdfghjklmùwxcvbn,;:!",
        "~1234567890°+AZERTYUIOP¨£µQSDFGHJKLM%WXCVBN?./§",
    ),
    "Spanish": (
        "º1234567890'¡qwertyuiop`+çasdfghjklñ´zxcvbnm,.-",
        'ª!"·$%&/()=?¿QWERTYUIOP^*ÇASDFGHJKLÑ¨ZXCVBNM;:_',
    ),
    "British": (
        "`1234567890-=qwertyuiop[]#asdfghjkl;'zxcvbnm,./",
        '¬!"£$%^&*()_+QWERTYUIOP{}~ASDFGHJKL:@ZXCVBNM<>?',
    ),
}


def _table(typed: tuple[str, str], meant: tuple[str, str]) -> dict[int, str]:
    pairs = [(one, other) for row, to in zip(typed, meant, strict=True) for one, other in zip(row, to, strict=True)]
    return {ord(one): other for one, other in pairs}


_TABLES = {
    **{(name, True): _table(other, _UNITED_STATES) for name, other in _OTHERS.items()},
    **{(name, False): _table(_UNITED_STATES, other) for name, other in _OTHERS.items()},
}
LAYOUTS = tuple(_TABLES)  # the name of a layout, and whether it is the computer's (else the scanner's)
Layout = tuple[str, bool]


def as_meant(text: str, layout: Layout) -> str:
    """What a scanner meant whose computer, or which itself, has this layout and the other the American one."""
    return text.translate(_TABLES[layout])


def other_readings(text: str) -> Iterator[tuple[Layout, str]]:
    """What a text would be if scanner and computer had not the same layout; only readings that differ from it."""
    for layout in LAYOUTS:
        meant = as_meant(text, layout)
        if meant != text:
            yield layout, meant
