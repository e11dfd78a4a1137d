"""Why a change that is tried cannot be: what forbids it, and what the plan lacks of what it names."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

from picklist.model.schedule import Case


class ObjectionKind(StrEnum):
    """What keeps a case from where a change puts it."""

    FIXED = "may not move"
    STARTED = "has started"
    DUE = "should have started"
    CART_DUE = "cart due before now"
    NOT_OPEN = "room not open"
    CLOSES = "room closes before it ends"
    ROOM_TAKEN = "room taken"
    PERSON_BUSY = "person in another case"


class Objection(NamedTuple):
    """Why a case may not go where a change puts it, with the other case and the person that keep it from there."""

    kind: ObjectionKind
    case: Case
    other: str = ""
    person: str = ""


class Lack(StrEnum):
    """What a change names, or takes for granted, that the plan does not have."""

    CASE = "planned case"
    ENDED = "case that is still to come"
    TRAY = "tray"
    SET = "set"
    NEED = "case that needs the tray"
    ON_HOLD = "tray on hold"
    MADE_READY = "set being made ready"
    NOT_COUNTED = "set not counted with yet"
    ONE_ROOM = "two cases of one room and day"
