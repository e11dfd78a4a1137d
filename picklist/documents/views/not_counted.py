"""The warning that goes with every count of trays and conflicts while some lists are stopped."""

from __future__ import annotations

from picklist import wording
from picklist.documents.views.lookup import Lookup
from picklist.letters import natural_key

MOST_NAMED = 12


def not_counted(found: Lookup) -> str:
    """Which cases' trays no figure of the plan counts, as their lists are stopped; empty when there are none."""
    stopped = sorted(found.plan.uncounted, key=natural_key)
    if not stopped:
        return ""
    if len(stopped) == 1:
        return (
            f"Case {stopped[0]} is on hold: its trays are not counted here. Once fixed, it may take sets from others."
        )
    named = stopped if len(stopped) <= MOST_NAMED else [*stopped[:MOST_NAMED], f"{len(stopped) - MOST_NAMED} more"]
    return (
        f"Cases {wording.listed(named)} are on hold: their trays are not counted here. "
        "Once fixed, they may take sets from others."
    )
