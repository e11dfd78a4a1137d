"""What others made and this repository holds is named in LICENSE, with the licence it is under."""

from __future__ import annotations

import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]
FOLDERS = ("picklist", "templates", "tests", "benchmarks", "sample_inputs")
TEXTS = (".py", ".txt", ".csv", ".md", ".js", ".css", ".typ", ".j2")
FONTS = (".otf", ".ttf", ".woff", ".woff2")
LICENCES = ("Apache License", "Open Font License", "Creative Commons", "BSD License")


def files() -> list[Path]:
    return [path for folder in FOLDERS for path in sorted((ROOT / folder).rglob("*")) if path.is_file()]


def of_others() -> list[Path]:
    """Fonts, and texts that name a licence which is not ours."""
    marked = [
        path
        for path in files()
        if path.suffix in TEXTS
        and path != Path(__file__)
        and any(one in path.read_text(encoding="utf-8") for one in LICENCES)
    ]
    return [*marked, *(path for path in files() if path.suffix in FONTS)]


def test_that_whatever_comes_from_others_is_named_with_its_licence() -> None:
    named = (ROOT / "LICENSE").read_text(encoding="utf-8")
    found = of_others()
    assert ROOT / "tests" / "labels" / "gs1_identifiers.txt" in found
    assert [path.relative_to(ROOT).as_posix() for path in found if path.name not in named] == []


def test_that_each_licence_is_there_in_full_and_in_the_metadata() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert set(project["license"].split(" AND ")) == {"MIT", "OFL-1.1", "Apache-2.0"}
    texts = [(ROOT / name).read_text(encoding="utf-8") for name in project["license-files"]]
    for words in ("MIT License", "TERMS AND CONDITIONS FOR USE, REPRODUCTION, AND DISTRIBUTION", "SIL OPEN FONT"):
        assert any(words in text for text in texts), words
