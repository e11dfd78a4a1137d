"""What is wrong with a cell, said without what it holds: a cell that was refused could hold anything."""

from __future__ import annotations

from picklist.tables.cells import CellFlaw, Fault, Raw
from picklist.tables.columns import CellType

# By the kind of a fault. One that is not here is said as OTHER, so that no new one can quote a cell.
WORDS = {
    "ambiguous date": "this date can be read in two ways",
    "below zero": "this is below zero",
    "date for number": "this is a date, not a number; a program makes a date of what is typed like 2-1 or 1/2",
    "date out of range": "this day is not in this century",
    "date with time": "this is a day and a time",
    "left out": "one of the words here is left out",
    "listed twice": "something is listed twice here",
    "lost zeros": "this was typed as a number, while others here are texts with zeros in front",
    "name and number differ": "the number here belongs to another name",
    "near word": "a word here is close to a known one and is not spelled like it",
    "no day": "this has no day",
    "no such day": "this day is not in the calendar",
    "no time": "this has no time",
    "not a choice": "this is not one of the words that are allowed here",
    "not a condition": "this is not a condition",
    "not a date": "this is not a day",
    "not a number": "this is not a number as it is wanted here",
    "not a stamp": "this is not a day and time",
    "not a time": "this is not a time of day",
    "not a weekday": "this is not a weekday",
    "not whole": "this is not a whole number",
    "not yes or no": "this is neither yes nor no",
    "past midnight": "this time is past midnight",
    "several things": "several things of the catalogue are called so",
    "shortened number": "this is a long number that a spreadsheet has shortened",
    "time for number": "this is a time, not a number",
    "too large": "this number is too large",
    "too small": "this number is too small",
    "turned into date": "a spreadsheet has turned this id into a date or time",
    "two date orders": "this stands in a column in which dates are typed in two orders",
    "unit in number": "this number has a unit in it",
    "unknown thing": "nothing in the catalogue is called so",
}
OTHER = "what is written here cannot be read"
PRIVATE = "private text"
# The message of these says nothing of the content.
OF_THE_CELL = frozenset({"empty cell", "too long", PRIVATE})
# Types whose nearest values are made of what was typed; those of the others come from a list.
GUESSED = frozenset(
    {
        CellType.WHOLE,
        CellType.NUMBER,
        CellType.DATE,
        CellType.EXPIRY,
        CellType.TIME,
        CellType.TIMES,
        CellType.STAMP,
        CellType.CODE,
        CellType.CODES,
        CellType.CONDITIONS,
    }
)


def unquoted(fault: Fault, raw: Raw) -> str:
    """The message of a fault without what the cell holds."""
    if fault.kind.replace("-", " ") in OF_THE_CELL or isinstance(raw, CellFlaw):
        return fault.message
    return WORDS.get(fault.kind.replace("-", " "), OTHER)
