"""Card lines in words, and what made a line of a list what it is."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from picklist.model.cards import CardLine, Change, Condition, ConditionKind, Counted
from picklist.model.catalogue import ItemClass
from picklist.model.schedule import Case, StaffMember
from picklist.model.suggestion import Suggestion, SuggestionKind
from picklist.wording.lists import open_and_hold
from picklist.wording.quantities import first_listed

OWN_PACK = "; it is the procedure's own pack"
TAKES_OVER = "; with the quantities of what it replaces"
LATER_VERSION = "; a later version counts"
UNREAD_CONTENT = "a row of its contents that could not be read"


def line_words(line: CardLine, replaced: str) -> str:
    """Whose line it is, what it changes, how many, when and under which condition; ``replaced``: by name."""
    words = [f"{_owner(line)}: {line.change} {line.kind} {line.thing}"]
    if line.change is Change.REPLACE and line.instead_of:
        words.append(f"instead of {line.instead_of}{f' ({replaced})' if replaced else ''}")
    if line.change is not Change.REMOVE and (line.open or line.hold):
        words.append(f"({open_and_hold(line.open, line.hold)})")
    if line.begins:
        words.append(f"from {line.begins.isoformat()}")
    if line.ends:
        words.append(f"until {line.ends.isoformat()}")
    if line.side:
        words.append(f"for side {line.side}")
    if line.only_if:
        words.append(f"only if {' and '.join(condition_words(c) for c in line.only_if)}")
    return " ".join(words)


def _owner(line: CardLine) -> str:
    """Whose line it is: of the house, of a procedure, of a surgeon, or of a surgeon for a procedure."""
    if line.procedure is None:
        return "house line" if line.surgeon is None else f"{line.surgeon}, every procedure"
    return f"{line.procedure}, {line.surgeon or 'every surgeon'}"


def condition_words(condition: Condition) -> str:
    """The condition as a card says it."""
    return f"{'not ' if condition.negated else ''}{condition.kind} {condition.value}"


def what_case_says(kind: ConditionKind, case: Case) -> str:
    """What the schedule says of a case where a card asks for it."""
    if kind is ConditionKind.ALERT:
        return f"the case's alerts: {', '.join(case.alerts) or 'none'}"
    if kind is ConditionKind.SIDE:
        return f"the {'procedure' if case.sides else 'case'}'s side: {case.side}"
    return f"the case's patient size: {case.patient_size}"


def procedures_pack(procedure: str, pack: str) -> str:
    """The custom pack that a procedure names itself."""
    return f"{procedure}: its custom pack is {pack}"


def one_pack(procedure: str) -> str:
    """Why a later procedure's pack is not on the list."""
    return f"one custom pack for the case, that of {procedure}"


def in_pack(pack: str, holds: int, left: int) -> str:
    """What a pack holds of an item, and what the lines before have left of it."""
    rest = "" if left == holds else f", {left or 'none'} of them left by the lines before"
    return f"pack {pack} holds {holds}{rest}"


def merged(asked: Iterable[tuple[str, int, int]], counted: Collection[Counted], teams: int) -> str:
    """What several procedures ask for, and by which rule it became one line."""
    parts = [f"{procedure} asks for {open_and_hold(opened, held)}" for procedure, opened, held in asked]
    if teams > 1:
        rule = f"{teams} teams at once add up"
    elif set(counted) == {Counted.PER_PROCEDURE}:
        rule = "counted per procedure, so it adds up"
    elif Counted.PER_PROCEDURE in counted:
        rule = "one team takes the larger, and what is counted per procedure is added"
    else:
        rule = "one team takes the larger, open before hold"
    return f"{', '.join(parts)}; {rule}"


def worn_by(person: StaffMember, item_class: ItemClass, size: str, others: Sequence[str]) -> str:
    """Gloves or a gown for a person; ``others``: what else there is in that size."""
    also = f"; in this size there is also {', '.join(others)}" if others else ""
    return f"{person.name} ({person.role}): {item_class} of size {size}{also}"


def listed_by_person(share: int) -> str:
    """Why a card's quantity of gloves or gowns is smaller than the card says."""
    return f"{share} of these are listed by person"


def twin_instead(twin: str) -> str:
    """Why a thing of latex is not on the list."""
    return f"latex alert: {twin} goes in its place"


def twin_of(thing: str, name: str, *, stated: bool) -> str:
    """Why a latex-free twin is on the list; ``stated``: that the thing itself holds latex."""
    unsaid = "" if stated else ", of which Items does not state whether it holds latex"
    return f"latex alert: latex-free twin of {thing} ({name}){unsaid}"


def latex_in(sure: Sequence[str], unsaid: Sequence[str]) -> str:
    """``holds latex: Drain (1002); it holds things of which latex is not stated: Drape (1003)``."""
    parts = [f"holds latex: {first_listed(sure, 180)}"] if sure else []
    parts += [f"holds things of which latex is not stated: {first_listed(unsaid, 180)}"] if unsaid else []
    return "; it ".join(parts)


def marked_in_items(name: str) -> str:
    """A pack that the table Items marks as latex itself."""
    return f"{name}, as it is marked in Items"


def suggestion_words(one: Suggestion) -> str:
    """The counts behind a suggestion, ready to be read to the office."""
    share = f"in all {one.cases} reported cases"
    if one.kind is SuggestionKind.OPENED_NEVER_USED:
        return f"{share}: {one.opened} opened, none used"
    if one.kind is SuggestionKind.HELD_ALWAYS_OPENED:
        return f"{share} something on hold was opened: {one.planned_hold} on hold, {one.held_opened} of them opened"
    return f"{share} it was asked for beyond the list: {one.added} added"
