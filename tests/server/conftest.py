from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from picklist.server.desk import Desk
from tests.server.site import build, desk_of
from tests.small_hospital import small_hospital


@pytest.fixture(scope="session")
def built_evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small site whose papers are built once; tests work on copies."""
    base = tmp_path_factory.mktemp("evening")
    desk = desk_of(small_hospital(base / "north"))
    build(desk)
    return base


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
