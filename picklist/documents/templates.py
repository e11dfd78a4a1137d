"""Where the templates lie, in a checkout and in an installed package alike, and how they print what runs leftwards."""

from __future__ import annotations

import re
from pathlib import Path


def template_folder() -> Path:
    """The folder of templates: inside the installed package, else beside it in a checkout.

    Raises FileNotFoundError when the package was installed without them.
    """
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "_templates", package.parent / "templates"):
        if (folder / "typst" / "common.typ").is_file():
            return folder
    raise FileNotFoundError(f"the templates are missing beside {package}")


def fonts_of_sheets() -> tuple[Path, ...]:
    """The font files that travel with the program."""
    return tuple(sorted((template_folder() / "fonts").glob("*.otf")))


# A browser sets "Gloves for <name>: 1 open" with the 1 on the other side of a Hebrew or Arabic name, where it reads as
# part of it. So the name stands between marks of Unicode's bidirectional algorithm (UAX #9: first strong isolate, its
# end), and no number of the sentence moves over it.
ISOLATE, END = "\u2068", "\u2069"
LETTER = r"\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefe"  # of scripts from right to left
NAME = re.compile(rf"[{LETTER}](?:[^A-Za-z{ISOLATE}{END}]*[{LETTER}])?")


def isolated(value: object) -> object:
    """What a template prints: of a text each stretch from right to left, digits and gaps within it, by itself."""
    if type(value) is not str or value.isascii() or ISOLATE in value:
        return value
    return NAME.sub(lambda found: f"{ISOLATE}{found[0]}{END}", value)


def as_typed(text: str) -> str:
    """A text that comes back from a form, without the marks that it was shown with."""
    return text if text.isascii() else text.replace(ISOLATE, "").replace(END, "")
