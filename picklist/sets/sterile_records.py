"""When a set's sterility record ends: a set put back unopened keeps the record that it had."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from picklist.clock import shift
from picklist.model.uses import Use
from picklist.sets.states import Availability


def first_beyond(state: Availability, uses: Collection[Use], held: Collection[Use], put_back: int) -> datetime | None:
    """The first start that a set's record does not cover; None when no use could pass the set on to one unopened.

    ``held`` are the uses that have it on hold, ``put_back`` the minutes that free it after one of them.
    Sets with the same answer may take each other's place: their records cover the same uses.
    """
    ends = state.recorded_until
    if not state.on_shelf or ends is None:
        return None
    free = [shift(use.leaves_room, put_back) for use in held if use.starts <= ends]
    beyond = [use for use in uses if use.starts > ends] if free else []
    if not beyond or max(use.needed for use in beyond) < min(free):
        return None
    return min(use.starts for use in beyond)


def record_after(record: datetime | None, use: Use) -> datetime | None:
    """When the record ends of a set that comes back unopened from a use; None when it has a new one by then.

    ``record`` is what it had before the use; where that ended before the use began, it ran its route for it.
    """
    is_new = not use.on_hold or (record is not None and use.starts > record)
    return None if is_new else record
