"""A clinic's folder, and the workbook that one of its offices was sent."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.upkeep.clinic import write_clinic
from tests.upkeep.office import send


@pytest.fixture
def clinic(tmp_path: Path) -> Path:
    """The clinic's tables as workbooks."""
    return write_clinic(tmp_path / "clinic")


@pytest.fixture
def book(clinic: Path, tmp_path: Path) -> Path:
    """The workbook of one office, as sent."""
    return send(clinic, tmp_path / "quill.xlsx")
