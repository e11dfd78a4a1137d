"""What was decided and what became of it, as paper and page say it."""

from __future__ import annotations

from picklist.documents.views.lookup import Lookup
from picklist.model.known import Decision, Seen
from picklist.wording import say_decisions as words


def became_of(found: Lookup, said: Decision, *, stands: bool) -> str:
    """Since when a decision is in the schedule, or that it is not, or no longer; ``stands``: so does its conflict."""
    then = words.renumbered(said.number_then) if said.decided and said.number_then else ""
    return "; ".join(part for part in (_shown(found, said, stands=stands), then) if part)


def _shown(found: Lookup, said: Decision, *, stands: bool) -> str:
    """What the plans show of a decision; empty where there is nothing to say."""
    by_moves = bool(said.moves)
    if said.since:
        return words.carried_out(_plan(found, said.since), by_moves=by_moves, stands=stands)
    if said.undone:
        return words.not_kept(_plan(found, said.undone), stands=stands)
    return words.waiting(by_moves=by_moves, stands=stands) if said.decided else ""


def informed(found: Lookup, said: Decision) -> str:
    """``ward 4, 19:12``: who was informed and when; empty when nobody is named."""
    return f"{said.told}, {found.when(said.told_at or said.at)}" if said.told else ""


def _plan(found: Lookup, seen: Seen) -> str:
    return words.of_revision(seen.revision, seen.plan_day, found.day)
