from __future__ import annotations

import pytest

from tests.hard.evening import Evening, make_evening


@pytest.fixture(scope="session")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Evening:
    """An evening that tests copy."""
    return make_evening(tmp_path_factory.mktemp("hard") / "evening")
