"""Where the templates lie, in a checkout and in an installed package alike."""

from __future__ import annotations

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
