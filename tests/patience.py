"""When a test gives up on something that does not come.

No test waits for so long where all is well, and none takes it for how long a thing may take: what is
waited for is an event, on a slow machine as on a quick one.
"""

from __future__ import annotations

PATIENCE = 600.0  # seconds
LONG = 180_000  # milliseconds, for what a page shows
