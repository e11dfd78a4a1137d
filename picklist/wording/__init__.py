"""Every sentence and every time in words: how kinds and numbers read, wherever a person reads them.

Quantities stand here for everyone. The modules beside this one make sentences out of what the engines return,
one module an engine; papers, board, page and command line place what they say.
"""

from picklist.clock import full_day, short_day
from picklist.wording.quantities import (
    PACE_WORDS,
    at_pace,
    capital,
    counted,
    listed,
    per_cent,
    span,
    to_spare,
)

__all__ = [
    "PACE_WORDS",
    "at_pace",
    "capital",
    "counted",
    "full_day",
    "listed",
    "per_cent",
    "short_day",
    "span",
    "to_spare",
]
