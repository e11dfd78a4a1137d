"""Physical sets and where each of them is now."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from picklist.model.schedule import Side
from picklist.problems import NOWHERE, Where


class SetState(StrEnum):
    """The recorded state of a set."""

    ON_SHELF = "on shelf"
    DIRTY = "dirty"
    AT_STEP = "at step"
    IN_USE = "in use"
    AWAY = "away"
    ON_LOAN = "on loan"
    INCOMPLETE = "incomplete"
    UNKNOWN = "unknown"  # also of a set whose row does not state it


NO_END = "no end"  # what a site writes where sterility ends only with an event, and not on a day
NEVER_AVAILABLE = frozenset({SetState.INCOMPLETE, SetState.UNKNOWN})


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentSet:
    """One physical copy of a tray.

    ``step`` is the step of its route that it is at, ``step_since`` when that step began;
    ``in_case`` the running case that uses it; ``back_at`` when an away or loan set arrives;
    ``recorded_until`` when its recorded sterility ends, and ``end_recorded`` whether its row says that
    at all, be it that there is none; ``return_by`` when a loan goes back; ``missing`` what an incomplete set lacks.
    ``off_cart_of``: the case on whose cart it stands and which does not need it, so that it must be put back first;
    this is no cell of its row but follows from what the crew reported.
    """

    id: str
    tray: str
    side: Side | None = None
    size: str = ""
    state: SetState = SetState.ON_SHELF
    step: str = ""
    step_since: datetime | None = None
    in_case: str = ""
    back_at: datetime | None = None
    return_by: datetime | None = None
    place: str = ""
    recorded_at: datetime | None = None
    recorded_until: datetime | None = None
    end_recorded: bool = True
    missing: str = ""
    off_cart_of: str = ""
    where: Where = field(default=NOWHERE, compare=False, repr=False)

    @property
    def is_in_process(self) -> bool:
        """Whether it is in use or being made ready again."""
        return self.state in (SetState.DIRTY, SetState.AT_STEP, SetState.IN_USE)

    def serves_side(self, side: Side | None) -> bool:
        """Whether it is of this side or for both."""
        return self.side in (side, Side.BOTH)
