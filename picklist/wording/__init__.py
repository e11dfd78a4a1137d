"""Every sentence and every time in words: how kinds and numbers read, wherever a person reads them.

Quantities stand here for everyone. The modules beside this one make sentences out of what the engines return,
one module an engine; papers, board, page and command line place what they say.
"""

from picklist.clock import full_day, short_day
from picklist.wording.lists import (
    KIND_MEANS,
    NONE,
    SIDE_WORDS,
    amount_of,
    beside,
    case_side,
    check_expiry,
    expiry,
    joined,
    moment,
    open_and_hold,
    procedures_with_sides,
    quantity,
    side_on_list,
    side_says,
    small_side,
)
from picklist.wording.quantities import (
    PACE_WORDS,
    at_pace,
    capital,
    counted,
    listed,
    more,
    per_cent,
    span,
    to_spare,
)

__all__ = [
    "KIND_MEANS",
    "NONE",
    "PACE_WORDS",
    "SIDE_WORDS",
    "amount_of",
    "at_pace",
    "beside",
    "capital",
    "case_side",
    "check_expiry",
    "counted",
    "expiry",
    "full_day",
    "joined",
    "listed",
    "moment",
    "more",
    "open_and_hold",
    "per_cent",
    "procedures_with_sides",
    "quantity",
    "short_day",
    "side_on_list",
    "side_says",
    "small_side",
    "span",
    "to_spare",
]
