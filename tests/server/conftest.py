from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from picklist.server.desk import Desk
from tests.kept import folder_once, in_outline
from tests.server.site import build, desk_of
from tests.small_hospital import small_hospital


@pytest.fixture(scope="session")
def built_evening() -> Path:
    """A small site whose papers are built once; tests work on copies."""

    def make(base: Path) -> None:
        base.mkdir()
        desk = desk_of(small_hospital(base / "north"))
        with in_outline():
            build(desk)

    return folder_once("small evening", make)


@pytest.fixture
def evening(built_evening: Path, tmp_path: Path) -> Desk:
    """The small site with its papers and its state."""
    shutil.copytree(built_evening, tmp_path / "evening")
    return desk_of(tmp_path / "evening" / "north")


@pytest.fixture
def fresh(built_evening: Path, tmp_path: Path) -> Desk:
    """The small site before its first build."""
    shutil.copytree(built_evening / "north", tmp_path / "north")
    return desk_of(tmp_path / "north")
