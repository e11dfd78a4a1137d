"""Scans that came through a keyboard of another country: what the scanner meant.

A scanner that acts as a keyboard sends keys, not letters. Where it is set to one layout and the computer to
another, each key gives the wrong sign: ``C-4123`` is typed as ``Cß4123`` on a German computer. The rows below are
the printable keys of each layout in the same order, without and with the shift key (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator

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
