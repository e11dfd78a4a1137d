"""Work out from a case and its cards what its cart must hold, with the reasons."""

from picklist.resolve.case import find_card_faults, gather_problems, resolve_case, resolve_cases
from picklist.resolve.idle import PlainCards, find_idle_lines
from picklist.resolve.latex import latex_in_pack, suspects_text

__all__ = [
    "PlainCards",
    "find_card_faults",
    "find_idle_lines",
    "gather_problems",
    "latex_in_pack",
    "resolve_case",
    "resolve_cases",
    "suspects_text",
]
