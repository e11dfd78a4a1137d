"""What the codes of another system mean here: the rows of the table Codes."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from enum import StrEnum

from picklist.problems import NOWHERE, Where


class Means(StrEnum):
    """What a code stands for."""

    ROOM = "room"
    SURGEON = "surgeon"
    TEAM = "team"
    PROCEDURE = "procedure"
    SIDE = "side"
    ALERT = "alert"
    STATUS = "status"
    CASE_NUMBER = "case number"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """One code of one field, and the value that it has here; an empty system is any."""

    field: str
    code: str
    system: str
    means: Means
    value: str
    where: Where = dataclasses.field(default=NOWHERE, compare=False, repr=False)
