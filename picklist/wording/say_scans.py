"""What the scanner is answered, in words: one function a kind of answer."""

from __future__ import annotations

from collections.abc import Callable

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
    return _SAYINGS[answer.kind](answer, clock)


Saying = Callable[[ScanAnswer, SiteClock], str]


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


def _opened(one: ScanAnswer, clock: SiteClock) -> str:
    holds = f"{counted(one.quantity, 'tray')}, {one.listed} to pick"
    before = ("", "; it was started", "; it is reported built")[one.before]
    return f"Cart {one.case} is open, list {one.revision}: {holds}{before}{_reported(one, clock)}."


def _still_missing(one: ScanAnswer, clock: SiteClock) -> str:
    found = f" If it is here now, scan FOUND {one.thing}."
    return f"Still missing on {one.case}: {one.quantity} of {_thing(one)}{_reported(one, clock)}.{found}"


def _older_list(one: ScanAnswer, _clock: SiteClock) -> str:
    return (
        f"This label of {one.case} is from list {one.revision}; list {one.counts} counts. "
        f"Look up what list {one.counts} changes."
    )


def _unknown_case(one: ScanAnswer, _clock: SiteClock) -> str:
    case = f" {one.case}" if one.scan and one.case else " of that number"
    return f"No cart is planned for case{case}. Scan a cart label first: no cart is open now."


def _list_stopped(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"The list of case {one.case} is on hold: do not build this cart. No cart is open now."


def _left_open(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"Cart {one.case} was left without DONE; it counts as started."


def _no_cart(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"Scan a cart label first: no cart is open, so {_quoted(one)} was not recorded."


def _set_on(one: ScanAnswer, _clock: SiteClock) -> str:
    planned = f" The list names {one.things[0]}." if one.things else ""
    return f"{_thing(one)} is on cart {one.case}.{planned}"


def _set_found(one: ScanAnswer, clock: SiteClock) -> str:
    return f"{_thing(one)} is on cart {one.case} and no longer missing{_reported(one, clock)}."


def _before_its_time(one: ScanAnswer, clock: SiteClock) -> str:
    """By the plan the set is not ready yet: it is another one, or came sooner, or has not been through it all."""
    when = clock.stamp(one.at) if one.at else "later"
    return f"By the plan {one.thing} is expected at {when}. See that it is this set; check package and indicator."


def _other_carts_set(one: ScanAnswer, clock: SiteClock) -> str:
    return f"{_set_on(one, clock)} {one.thing} is planned for {_listed(one.cases)}: use it here only if you mean to."


def _scanned_twice(one: ScanAnswer, clock: SiteClock) -> str:
    return f"{_thing(one)} is on cart {one.case} already{_reported(one, clock)}."


def _not_wanted(one: ScanAnswer, _clock: SiteClock) -> str:
    there = one.things[0] if one.things else ""
    swap = f" If it is there in place of {there}, scan INSTEAD {there} {one.thing}." if there else ""
    return f"No tray on the list of {one.case} waits for set {one.thing}: not recorded.{_belongs(one)}{swap}"


def _item_on(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"{_thing(one)}: {one.quantity} of {one.listed} on cart {one.case}."


def _other_lot(one: ScanAnswer, clock: SiteClock) -> str:
    return f"{_item_on(one, clock)} The list names lot {_listed(one.things)}: see that this one may be used."


def _counted_before(one: ScanAnswer, clock: SiteClock) -> str:
    return (
        f"{one.before} of {_thing(one)} were reported on cart {one.case} before{_reported(one, clock)}, so this "
        f"one was not counted again. If there are more now, scan TIMES and how many there are in all."
    )


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


def _instead(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"On cart {one.case} in place of {one.things[0]}: {one.quantity} of {_thing(one)}."


def _count(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"Counted on the shelf: {one.quantity} of {_thing(one)}."


def _by(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"Initials on cart {one.case}: {one.who}."


def _at(one: ScanAnswer, clock: SiteClock) -> str:
    return f"Cart {one.case}: time {clock.stamp(one.at) if one.at else ''}."


def _note(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"Remark on cart {one.case}: {one.name}."


def _done(one: ScanAnswer, _clock: SiteClock) -> str:
    by = f" by {one.who}" if one.who else ". Nobody signed it (BY and initials)"
    return f"Cart {one.case} is built{by}."


def _not_scanned(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"No set was scanned for {counted(len(one.things), 'tray')} (taken as planned): {', '.join(one.things)}."


def _waits(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"Cart {one.case} waits for {', '.join(one.things)}. Scan each set when it is on the cart."


def _asks(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"{one.scan}: scan {one.name} next."


def _broken_off(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"{one.thing} was not given what it needs, so it was not recorded."


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


def _unknown_scan(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"{one.name}: not recorded."


def _not_a_number(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"{one.name}: not recorded."


def _overtaken(one: ScanAnswer, _clock: SiteClock) -> str:
    return f"Somebody else is reporting on cart {one.case}: {_quoted(one)} was not recorded. Scan it again."


def _other_layout(one: ScanAnswer, _clock: SiteClock) -> str:
    return (
        f"The scanner and this computer have different keyboard layouts ({one.name}). This scan was read as "
        f"{one.thing}. Set both to the same layout: other scans may be refused."
    )


def _two_readings(one: ScanAnswer, _clock: SiteClock) -> str:
    return (
        f"The scanner and this computer seem to have different keyboard layouts, and this scan may be "
        f"{' or '.join(one.things)}: not recorded. Set both to the same layout, then scan it again."
    )


def _checked(one: ScanAnswer, _clock: SiteClock) -> str:
    sentence = one.problem.sentence_on_screen() if one.problem else ""
    return f"{sentence}{'' if one.recorded else ': not recorded'}."


_SAYINGS: dict[ScanKind, Saying] = {
    ScanKind.OPENED: _opened,
    ScanKind.OPEN_ALREADY: _opened,
    ScanKind.STILL_MISSING: _still_missing,
    ScanKind.OLDER_LIST: _older_list,
    ScanKind.UNKNOWN_CASE: _unknown_case,
    ScanKind.LIST_STOPPED: _list_stopped,
    ScanKind.LEFT_OPEN: _left_open,
    ScanKind.NO_CART: _no_cart,
    ScanKind.SET_ON: _set_on,
    ScanKind.SET_FOUND: _set_found,
    ScanKind.OTHER_CARTS_SET: _other_carts_set,
    ScanKind.BEFORE_ITS_TIME: _before_its_time,
    ScanKind.SCANNED_TWICE: _scanned_twice,
    ScanKind.NOT_WANTED: _not_wanted,
    ScanKind.ITEM_ON: _item_on,
    ScanKind.OTHER_LOT: _other_lot,
    ScanKind.COUNTED_BEFORE: _counted_before,
    ScanKind.NOT_LISTED: _not_listed,
    ScanKind.MORE_THAN_LISTED: _more_than_listed,
    ScanKind.MISSING: _missing,
    ScanKind.FOUND: _found,
    ScanKind.INSTEAD: _instead,
    ScanKind.COUNT: _count,
    ScanKind.BY: _by,
    ScanKind.AT: _at,
    ScanKind.NOTE: _note,
    ScanKind.DONE: _done,
    ScanKind.NOT_SCANNED: _not_scanned,
    ScanKind.WAITS: _waits,
    ScanKind.ASKS: _asks,
    ScanKind.BROKEN_OFF: _broken_off,
    ScanKind.UNDONE: _undone,
    ScanKind.NOTHING_TO_UNDO: _nothing_to_undo,
    ScanKind.UNKNOWN_SCAN: _unknown_scan,
    ScanKind.NOT_A_NUMBER: _not_a_number,
    ScanKind.OVERTAKEN: _overtaken,
    ScanKind.OTHER_LAYOUT: _other_layout,
    ScanKind.TWO_READINGS: _two_readings,
    ScanKind.CHECKED: _checked,
}
