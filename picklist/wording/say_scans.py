"""What the scanner is answered, in words: a sentence for each kind of answer, or a function where it depends."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from picklist.clock import SiteClock
from picklist.model.scan_answer import ScanAnswer, ScanKind
from picklist.wording.quantities import counted

SHOWN = 3  # carts and nearest values that an answer names


def scan_words(answer: ScanAnswer, clock: SiteClock) -> str:
    """An answer in words, for a screen of one line; it quotes what its ``scan`` holds."""
    nearest = f" Did you mean {' or '.join(answer.nearest)}?" if answer.nearest else ""
    return f"{message(answer, clock)}{nearest}"


def message(answer: ScanAnswer, clock: SiteClock) -> str:
    """An answer in words, without the nearest values."""
    sentence = _SENTENCES.get(answer.kind)
    return sentence.format(**_words(answer, clock)) if sentence else _SAYINGS[answer.kind](answer, clock)


def _reported(one: ScanAnswer, clock: SiteClock) -> str:
    """Who reported it and when, as far as it is known."""
    parts = [one.who] if one.who else []
    parts += [clock.stamp(one.at)] if one.at else []
    return f" ({', '.join(parts)})" if parts else ""


def _quoted(one: ScanAnswer) -> str:
    """What was scanned, where it may be shown; a problem names the line instead."""
    return f"'{one.scan}'" if one.scan else "this"


def _thing(one: ScanAnswer) -> str:
    lot = f" lot {one.lot}" if one.lot else ""
    lot += f" serial {one.serial}" if one.serial else ""
    return f"{one.thing}{lot}{f', {one.name}' if one.name and one.name != one.thing else ''}"


def _listed(names: tuple[str, ...]) -> str:
    more = len(names) - SHOWN
    return f"{', '.join(names[:SHOWN])}{f' and {more} more' if more > 0 else ''}"


def _belongs(one: ScanAnswer) -> str:
    if one.cases:
        return f" It belongs to {_listed(one.cases)}."
    return f" It belongs at {one.place}." if one.place else ""


def _unknown_case(one: ScanAnswer, _clock: SiteClock) -> str:
    case = f" {one.case}" if one.scan and one.case else " of that number"
    return f"No cart is planned for case{case}. Scan a cart label first: no cart is open now."


def _set_on(one: ScanAnswer, _clock: SiteClock) -> str:
    planned = f" The list names {one.things[0]}." if one.things else ""
    return f"{_thing(one)} is on cart {one.case}.{planned}"


def _before_its_time(one: ScanAnswer, clock: SiteClock) -> str:
    """By the plan the set is not ready yet: it is another one, or came sooner, or has not been through it all."""
    when = clock.stamp(one.at) if one.at else "later"
    return f"By the plan {one.thing} is expected at {when}. See that it is this set; check package and indicator."


def _other_carts_set(one: ScanAnswer, clock: SiteClock) -> str:
    return f"{_set_on(one, clock)} {one.thing} is planned for {_listed(one.cases)}: use it here only if you mean to."


def _not_wanted(one: ScanAnswer, _clock: SiteClock) -> str:
    there = one.things[0] if one.things else ""
    swap = f" If it is there in place of {there}, scan INSTEAD {there} {one.thing}." if there else ""
    return f"No tray on the list of {one.case} waits for set {one.thing}: not recorded.{_belongs(one)}{swap}"


def _not_listed(one: ScanAnswer, _clock: SiteClock) -> str:
    if not one.recorded:
        return f"The list of {one.case} does not ask for {_quoted(one)}: not recorded."
    return f"The list of {one.case} does not ask for {_thing(one)}; recorded as added by hand.{_belongs(one)}"


def _more_than_listed(one: ScanAnswer, _clock: SiteClock) -> str:
    asks = f"The list of {one.case} asks for {one.listed} of {_thing(one)}"
    if not one.recorded:
        return f"{asks}, not {one.quantity}: not recorded."
    return f"{asks}; {one.quantity} more recorded as added by hand."


def _missing(one: ScanAnswer, clock: SiteClock) -> str:
    was = f" It was {one.before}{_reported(one, clock)}." if one.before and one.before != one.quantity else ""
    return f"Missing on cart {one.case}: {one.quantity} of {_thing(one)}.{was}"


def _found(one: ScanAnswer, clock: SiteClock) -> str:
    left = f"{one.quantity} still missing" if one.quantity else "no longer missing"
    return f"{_thing(one)}: {left} on cart {one.case}{_reported(one, clock)}."


def _done(one: ScanAnswer, _clock: SiteClock) -> str:
    by = f" by {one.who}" if one.who else ". Nobody signed it (BY and initials)"
    return f"Cart {one.case} is built{by}."


def _undone(one: ScanAnswer, clock: SiteClock) -> str:
    if one.undone is None:
        return f"Undone: {_quoted(one)}."
    if one.undone.kind in (ScanKind.OPENED, ScanKind.OPEN_ALREADY):
        return f"Undone: opening cart {one.case}. No cart is open; scan a cart label."
    return f"Undone on cart {one.case}: {scan_words(one.undone, clock)}"


def _nothing_to_undo(one: ScanAnswer, _clock: SiteClock) -> str:
    if not one.case:
        return "There is nothing to undo: no cart is open. To change a cart, scan its label."
    return f"There is nothing more to undo since cart {one.case} was opened."


def _checked(one: ScanAnswer, _clock: SiteClock) -> str:
    sentence = one.problem.sentence_on_screen() if one.problem else ""
    sentence = f"This {sentence.removeprefix('this ')}" if sentence.startswith("this ") else sentence
    return f"{sentence}{'' if one.recorded else ': not recorded'}."


# Sentences that need no more than the facts; ``_words`` names them.
_SENTENCES: Mapping[ScanKind, str] = {
    ScanKind.OPENED: "Cart {case} is open, list {revision}: {trays}, {listed} to pick{before}{reported}.",
    ScanKind.OPEN_ALREADY: "Cart {case} is open, list {revision}: {trays}, {listed} to pick{before}{reported}.",
    ScanKind.STILL_MISSING: "Still missing on {case}: {quantity} of {thing}{reported}. "
    "If it is here now, scan FOUND {code}.",
    ScanKind.OLDER_LIST: "This label of {case} is from list {revision}; list {counts} counts. "
    "Look up what list {counts} changes.",
    ScanKind.LIST_STOPPED: "The list of case {case} is on hold: do not build this cart. No cart is open now.",
    ScanKind.LEFT_OPEN: "Cart {case} was left without DONE; it counts as started.",
    ScanKind.NO_CART: "Scan a cart label first: no cart is open, so {scan} was not recorded.",
    ScanKind.SET_FOUND: "{thing} is on cart {case} and no longer missing{reported}.",
    ScanKind.SCANNED_TWICE: "{thing} is on cart {case} already{reported}.",
    ScanKind.ITEM_ON: "{thing}: {quantity} of {listed} on cart {case}.",
    ScanKind.OTHER_LOT: "{thing}: {quantity} of {listed} on cart {case}. The list names lot {few}: see that this one "
    "may be used.",
    ScanKind.COUNTED_BEFORE: "{many_before} of {thing} {were} reported on cart {case} before{reported}, so this "
    "one was not counted again. If there are more now, scan TIMES and how many there are in all.",
    ScanKind.INSTEAD: "On cart {case} in place of {first}: {quantity} of {thing}.",
    ScanKind.COUNT: "Counted on the shelf: {quantity} of {thing}.",
    ScanKind.BY: "Initials on cart {case}: {who}.",
    ScanKind.AT: "Cart {case}: time {at}.",
    ScanKind.NOTE: "Remark on cart {case}: {name}.",
    ScanKind.NOT_SCANNED: "No set was scanned for {things_counted} (taken as planned): {things}.",
    ScanKind.WITHOUT_SET: "The list has no set for {things_counted}, and none was scanned; the cart is without: "
    "{things}.",
    ScanKind.WAITS: "Cart {case} waits for {things}. Scan each set when it is on the cart.",
    ScanKind.ASKS: "{scanned}: scan {name} next.",
    ScanKind.BROKEN_OFF: "{code} was not given what it needs, so it was not recorded.",
    ScanKind.UNKNOWN_SCAN: "{name}: not recorded.",
    ScanKind.NOT_A_NUMBER: "{name}: not recorded.",
    ScanKind.OVERTAKEN: "Somebody else is reporting on cart {case}: {scan} was not recorded. Scan it again.",
    ScanKind.OTHER_LAYOUT: "The scanner and this computer have different keyboard layouts ({name}). This scan was read "
    "as {code}. Set both to the same layout: other scans may be refused.",
    ScanKind.TWO_READINGS: "The scanner and this computer seem to have different keyboard layouts, and this scan may "
    "be {either}: not recorded. Set both to the same layout, then scan it again.",
}


def _words(one: ScanAnswer, clock: SiteClock) -> dict[str, object]:
    """What the sentences name; ``thing`` with its lot and name, ``code`` alone; ``scan`` only where it may be shown."""
    return {
        "case": one.case,
        "revision": one.revision,
        "counts": one.counts,
        "trays": counted(one.quantity, "tray"),
        "quantity": one.quantity,
        "listed": one.listed,
        "many_before": one.before,
        "were": "was" if one.before == 1 else "were",
        "before": _BEFORE[one.before] if one.before < len(_BEFORE) else "",
        "reported": _reported(one, clock),
        "thing": _thing(one),
        "code": one.thing,
        "name": one.name,
        "scan": _quoted(one),
        "scanned": one.scan,
        "who": one.who,
        "at": clock.stamp(one.at) if one.at else "",
        "things": ", ".join(one.things),
        "few": _listed(one.things),
        "either": " or ".join(one.things),
        "first": one.things[0] if one.things else "",
        "things_counted": counted(len(one.things), "tray"),
    }


_BEFORE = ("", "; it was started", "; it is reported built")  # how far a cart was when it was opened
_SAYINGS: dict[ScanKind, Callable[[ScanAnswer, SiteClock], str]] = {
    ScanKind.UNKNOWN_CASE: _unknown_case,
    ScanKind.SET_ON: _set_on,
    ScanKind.OTHER_CARTS_SET: _other_carts_set,
    ScanKind.BEFORE_ITS_TIME: _before_its_time,
    ScanKind.NOT_WANTED: _not_wanted,
    ScanKind.NOT_LISTED: _not_listed,
    ScanKind.MORE_THAN_LISTED: _more_than_listed,
    ScanKind.MISSING: _missing,
    ScanKind.FOUND: _found,
    ScanKind.DONE: _done,
    ScanKind.UNDONE: _undone,
    ScanKind.NOTHING_TO_UNDO: _nothing_to_undo,
    ScanKind.CHECKED: _checked,
}
