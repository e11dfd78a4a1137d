"""From a case and its cards to what its cart must hold, with the reasons."""

from picklist.resolve.case import resolve_case, resolve_cases

__all__ = ["resolve_case", "resolve_cases"]
