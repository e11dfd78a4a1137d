"""Published files that may be read but not kept here, from a folder of whoever runs the tests."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

FOLDER = "PICKLIST_PUBLISHED"


def local(name: str) -> Path:
    """The folder of that name in the one that the environment names; the test is skipped where there is none."""
    folder = Path(os.environ.get(FOLDER, "")) / name
    if FOLDER not in os.environ or not folder.is_dir():
        pytest.skip(f"{FOLDER} names no folder with {name}: see tests/outside/README.md")
    return folder
