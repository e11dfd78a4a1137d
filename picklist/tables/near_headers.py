"""Which column an unknown header was meant for: slips of the keyboard, abbreviations, more or fewer words."""

from __future__ import annotations

from collections.abc import Sequence

from picklist.tables.nearest import Candidates, plain

# Words of headers as people shorten them or say them otherwise (common practice, no source).
MEANT = {
    "exp": "expiry",
    "expires": "expiry",
    "expiration": "expiry",
    "expire": "expiry",
    "qty": "quantity",
    "quant": "quantity",
    "amount": "quantity",
    "count": "quantity",
    "pcs": "quantity",
    "min": "minutes",
    "mins": "minutes",
    "duration": "minutes",
    "lbs": "lb",
    "pounds": "lb",
    "proc": "procedure",
    "procs": "procedure",
    "operation": "procedure",
    "surg": "surgeon",
    "physician": "surgeon",
    "doctor": "surgeon",
    "dr": "surgeon",
    "loc": "place",
    "location": "place",
    "shelf": "place",
    "bin": "place",
    "bldg": "building",
    "pt": "patient",
    "prio": "priority",
    "stat": "status",
    "alert": "alerts",
    "allergy": "alerts",
    "allergies": "alerts",
    "laterality": "side",
    "comment": "note",
    "comments": "note",
    "remark": "note",
    "remarks": "note",
    "substitute": "stand-ins",
    "replaces": "instead",
    "approval": "approved",
    "inactive": "retired",
    "machine": "machines",
}
FILLERS = frozenset({"date", "id", "code", "no", "number", "nr", "of", "the", "a", "is", "for", "value", "yes", "in"})
# A header that says nothing else: what the first such column of a table is called.
STANDS_FOR = {"quantity": ("open", "quantity"), "note": ("note", "notes"), "equal": ("stand-ins",)}


def nearest_column(written: str, absent: Sequence[str]) -> tuple[str, ...]:
    """The absent column that a header was meant for; none when it is like none of them."""
    words = _words(written)
    for name in absent:
        if words and words == _words(name):
            return (name,)
    if len(words) == 1:
        for name in STANDS_FOR.get(next(iter(words)), ()):
            if name in absent:
                return (name,)
    slip = Candidates(absent).nearest(written, 1)
    return slip or _partly(words, absent)


def _words(text: str) -> frozenset[str]:
    """A header's words in one spelling, without those that say little."""
    parted = text.replace("_", " ").replace("-", " ").replace("(", " ").replace(".", " ").replace("/", " ").split()
    words = [MEANT.get(plain(word), plain(word)) for word in parted]
    return frozenset(word.rstrip("s") if len(word) > 3 else word for word in words if word and word not in FILLERS)


def _partly(words: frozenset[str], absent: Sequence[str]) -> tuple[str, ...]:
    """The column whose words are all in the header, or the header's all in it; the one with most of them in common."""
    best, share = "", 0.5
    for name in absent:
        mine = _words(name)
        both = words & mine
        if both and both in (words, mine) and len(both) / len(words | mine) >= share:
            best, share = name, len(both) / len(words | mine)
    return (best,) if best else ()
