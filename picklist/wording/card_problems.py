"""What is wrong with a card, or with a case that its cards need to know more of: one function a problem."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from picklist.model.cards import CardLine, Change, ConditionKind
from picklist.model.catalogue import Item, ItemClass, Tray
from picklist.model.schedule import Case, StaffMember
from picklist.problems import Problem, Severity, Where, to_fix
from picklist.wording.lists import open_and_hold
from picklist.wording.quantities import counted, first_listed

_SIDES = "left, right, both or none"
_NAMED = 350  # characters of names in one reason: a row of a page holds the whole of it then
_MOST_LINES = 6  # that are pointed at where the number of them is said


def _to_fix(kind: str, where: Where, message: str, expected: str = "", related: Iterable[Where] = ()) -> Problem:
    related = tuple(dict.fromkeys(related))
    return to_fix(kind, where, message, expected=expected, related=related)


# Cases.


def unknown_procedure(case: Case, procedure: str) -> Problem:
    """A procedure of the schedule that the catalogue does not have."""
    where, message = case.where.at("procedures"), f"procedure {procedure} is not in Procedures"
    return replace(_to_fix("unknown procedure", where, message, "the id of a procedure"), value=procedure)


def procedure_without_card(case: Case, procedure: str) -> Problem:
    """A procedure for which no card line is written."""
    message = f"no card line is for procedure {procedure}"
    return _to_fix("procedure without a card", case.where.at("procedures"), message)


def one_procedure_for_teams(case: Case) -> Problem:
    """Several teams at once, but one procedure."""
    where = case.where.at("procedures")
    message = f"{case.fields} teams at once are stated, but one procedure; the list is for one"
    return _to_fix("one procedure for several teams", where, message, "a procedure for each team")


def unknown_alerts(case: Case, alerts: Sequence[str]) -> Problem:
    """Alerts that no card and no rule knows; they change nothing."""
    return _unknown_word(case, "alerts", "an alert of the case" if len(alerts) == 1 else "alerts of the case")


def unknown_size(case: Case) -> Problem:
    """A patient size that no card knows; it changes nothing."""
    return _unknown_word(case, "patient size", "the patient size")


def _unknown_word(case: Case, column: str, what: str) -> Problem:
    message = f"no card and no rule knows {what}, so nothing on the list was changed for it; the list prints it large"
    return replace(_to_fix("unknown word", case.where.at(column), message), severity=Severity.NOTICE)


def nothing_asked(case: Case) -> Problem:
    """A case for which no card asks for anything."""
    return _to_fix("nothing asked for", case.where, "no card line in force asks for anything for this case")


def several_packs(case: Case, packs: Sequence[str]) -> Problem:
    """Cards that ask for more than one custom pack."""
    return _to_fix("several packs", case.where, f"the cards ask for {len(packs)} custom packs: {', '.join(packs)}")


def not_stated(case: Case, kind: ConditionKind, lines: Iterable[Where]) -> Problem:
    """A blank side or patient size on which card lines depend."""
    related = tuple(dict.fromkeys(lines))
    depend = counted(len(related), "card line of this case depends", "card lines of this case depend")
    column, expected = ("side", _SIDES) if kind is ConditionKind.SIDE else ("patient size", "a size class, as adult")
    short = "side" if kind is ConditionKind.SIDE else "size"
    message = f"the {column} is blank, but {depend} on it"
    return _to_fix(f"{short} not stated", case.where.at(column), message, expected, related[:_MOST_LINES])


def implant_without_side(case: Case, name: str) -> Problem:
    """An implant on the list of a case whose side is blank."""
    message = f"the side is blank, so the list cannot name it for {name}"
    return _to_fix("implant without a side", case.where.at("side"), message, _SIDES)


def side_contradicts(case: Case, line: CardLine) -> Problem:
    """A sided tray for a case that has no side."""
    stated = "a procedure of the case" if case.sides else "the case"
    message = f"{stated} is stated to have no side, but tray {line.thing} is left or right"
    return _to_fix("side contradicts", case.where.at("side"), message, "left, right or both", (line.where,))


# Card lines.


def unknown_pack(procedure: str, pack: str, where: Where) -> Problem:
    """A procedure's own pack that is not in the catalogue."""
    return _to_fix("unknown thing", where, f"pack {pack} of procedure {procedure} is not in Packs")


def unknown_thing(line: CardLine) -> Problem:
    """A thing that the catalogue does not have."""
    message = f"{line.kind} {line.thing} is not in the catalogue"
    return replace(_to_fix("unknown thing", line.where, message, f"the id of a {line.kind}"), value=line.thing)


def quantity_on_removal(line: CardLine) -> Problem:
    """A line that removes, with a quantity."""
    message = f"the whole line of {line.thing} was removed, not {open_and_hold(line.open, line.hold)} of it"
    expected = "a replace line with the quantity that is left, or no quantity"
    return _to_fix("quantity on a removal", line.where, message, expected)


def changes_nothing(line: CardLine, thing: str, nearest: Sequence[str]) -> Problem:
    """A line that removes or replaces what its card does not have."""
    verb = "remove" if line.change is Change.REMOVE else "replace"
    message = f"{line.procedure} has no {thing} to {verb} on that day"
    expected = "something that the base card has on the day of the case"
    return replace(_to_fix(f"{verb}s nothing", line.where, message, expected), value=thing, nearest=tuple(nearest))


def idle_line(line: CardLine) -> Problem:
    """A line for every procedure for which no card has work."""
    replaces = line.change is not Change.REMOVE
    thing = line.instead_of if replaces and line.instead_of else line.thing
    kind = "replaces nothing" if replaces else "removes nothing"
    return _to_fix(kind, line.where, f"no card that this line changes has {thing}")


def no_quantity(line: CardLine) -> Problem:
    """A picked thing that is asked for without a quantity."""
    message = f"{line.thing} is asked for without a quantity, so none goes on the cart"
    return _to_fix("line without a quantity", line.where, message, "a number under open or hold, or a remove line")


def double_line(kept: CardLine, same: Sequence[CardLine]) -> Problem:
    """The same line several times with the same note."""
    message = f"{kept.thing} is listed {len(same)} times alike; {open_and_hold(kept.open, kept.hold)} was taken, once"
    expected = "one line, or a different note on each, so that they add up"
    return _to_fix("double line", kept.where, message, expected, _others(kept, same))


def contradicting_lines(lines: Sequence[CardLine]) -> Problem:
    """Lines of one card and one day that change one thing in several ways."""
    first, changes = lines[0], {line.change for line in lines}
    said = " and ".join(change.value for change in Change if change in changes)
    message = f"lines of one card say {said} of {first.thing}; they were taken in that order"
    expected = "one of them, or a date from which the later one counts"
    return _to_fix("contradicting lines", first.where, message, expected, _others(first, lines))


def _others(line: CardLine, lines: Sequence[CardLine]) -> Iterable[Where]:
    return (other.where for other in lines if other is not line)


# Gloves and gowns.


def no_glove_size(person: StaffMember) -> Problem:
    """Somebody at the table for whom Staff has no glove size."""
    message = f"{person.name} ({person.id}) has no outer glove size in Staff, so no gloves of theirs are listed"
    return _to_fix("no glove size", person.where.at("outer glove"), message, "a size, as 7.5")


def size_not_kept(person: StaffMember, item_class: ItemClass, size: str, sizes: str) -> Problem:
    """Gloves or a gown in a size that the catalogue does not have."""
    message = f"no {item_class} of size {size} is in Items for {person.name} ({person.id})"
    expected = f"an item of class {item_class} and that size; there are {sizes}"
    return _to_fix("size not in the catalogue", person.where.at(item_class.value), message, expected)


# Latex.


def tray_holds_latex(tray: Tray, lines: Iterable[Where]) -> Problem:
    """A tray that holds latex, for a case with a latex alert."""
    message = f"latex alert: the tray {tray.name} ({tray.id}) holds latex"
    expected = "a card line that replaces or removes the tray only if alert latex"
    return _to_fix("latex in the tray", tray.where.at("latex"), message, expected, lines)


def pack_holds_latex(pack: str, where: Where, holds: str, lines: Iterable[Where], *, stated: bool) -> Problem:
    """A pack that holds latex, or may (``stated``: each content says that it does), for a case with a latex alert."""
    message = f"latex alert: pack {pack} {holds}; no twin pack is stated to be free of latex"
    expected = "a card line that replaces the pack only if alert latex, or a twin pack"
    if not stated:
        expected = f"yes or no in the latex column of Items, {expected}"
    return _to_fix("latex in the pack", where, message, expected, lines)


def latex_not_stated(items: Sequence[tuple[Item, str]]) -> Problem:
    """Items of a list with a latex alert whose latex is not stated, each with what is wrong with its twin."""
    each = [f"{one.name} ({one.id}{f'; its twin {fault}' if fault else ''})" for one, fault in items]
    names = first_listed(each, _NAMED)
    these = "this holds" if len(items) == 1 else "these hold"
    message = f"latex alert: Items does not state whether {these} latex: {names}"
    expected = "yes or no in the latex column, or a latex-free twin that is stated to be free of it"
    return _to_fix("latex not stated", items[0][0].where.at("latex"), message, expected)


def latex_without_twin(item: Item, fault: str, lines: Iterable[Where]) -> Problem:
    """An item of latex for which no twin can go on the list."""
    wrong = f"its twin {fault}" if fault else "no latex-free twin is named"
    message = f"latex alert: {item.name} ({item.id}) holds latex and {wrong}"
    expected = "a latex-free twin, or a line that replaces it"
    return replace(_to_fix("latex without a twin", item.where, message, expected, lines), value=item.latex_free_twin)


def twins_fault(item: Item, twin: Item | None) -> str:
    """Why an item's named twin cannot go in its place; empty where none is named."""
    if not item.latex_free_twin:
        return ""
    if twin is None:
        return f"{item.latex_free_twin} is not in Items"
    if twin.latex:
        return f"{twin.id} is itself of latex"
    return f"{twin.id} is {'not stated to be free of latex' if twin.may_hold_latex else 'retired'}"
