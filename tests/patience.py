"""How much the tests try, and when one gives up on something that does not come.

No test takes a time for how long a thing may take: what is waited for is an event, on a slow machine as
on a quick one. With ``PICKLIST_TESTS=thorough`` in the environment more is tried: examples, kills, seeds.
"""

from __future__ import annotations

import os

PATIENCE = 600.0  # seconds
LONG = 180_000  # milliseconds, for what a page shows
THOROUGH = os.environ.get("PICKLIST_TESTS") == "thorough"


def tries(thorough: int, quick: int | None = None) -> int:
    """How many examples to try: that many in a thorough run, else ``quick``, or a quarter and ten at least."""
    return thorough if THOROUGH else quick or min(thorough, max(10, thorough // 4))
