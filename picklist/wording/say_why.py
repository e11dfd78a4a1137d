"""What ``why`` says: why a thing is on a list, and how many, or why not; and of a case, its cart and a set of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from picklist.clock import SiteClock
from picklist.model.cards import ThingKind
from picklist.model.catalogue import Tray, TrayInstrument
from picklist.model.needs import CaseNeeds, Need, Reason
from picklist.model.plan import Cart, Plan, TrayLine
from picklist.model.schedule import Case
from picklist.problems import Problem, Severity
from picklist.wording.lists import open_and_hold
from picklist.wording.quantities import at_pace, span, to_spare
from picklist.wording.say_conflicts import statement
from picklist.wording.set_states import NO_PLACE


def find_needs(case_needs: CaseNeeds, thing: str) -> tuple[Need, ...]:
    """The needs on the list of that id; or else of that name, or with those words in their name."""
    return _find(case_needs.needs, thing)


def find_dropped(case_needs: CaseNeeds, thing: str) -> tuple[Need, ...]:
    """What a card asked for under that id or name, and what is not on the list."""
    return _find(case_needs.dropped, thing)


def explain_need(need: Need) -> tuple[str, ...]:
    """The chain that made a need what it is, a line for each link: words, quantities, place in the input."""
    return tuple(_explain_reason(reason) for reason in need.reasons)


def explain_thing(case_needs: CaseNeeds, thing: str, trays: Mapping[str, Tray] | None = None) -> tuple[str, ...]:
    """Everything to be said of a thing asked for: on the list, left out and why, pending, stopped, or unknown.

    ``trays`` by id: what is listed in a tray is said of it, and an instrument is found in the trays of the case.
    """
    known = trays or {}
    lines: list[str] = []
    for need in find_needs(case_needs, thing):
        lines += (f"{_title(need)}: {open_and_hold(need.open, need.hold)}", *_indented(explain_need(need)))
        lines += _indented(tuple(_listed_in(need, known)))
    for need in find_dropped(case_needs, thing):
        lines += (f"{_title(need)}: not on the list", *_indented(explain_need(need)))
    held = [content for content in case_needs.pack_contents if _fits(content.item, content.name, thing)]
    lines += [f"{content.item} {content.name}: {content.quantity} in the pack" for content in held]
    lines += _trays_that_list(case_needs, known, thing)
    lines += [f"pending: {p.text} [{p.where}]" for p in case_needs.pending if thing.casefold() in p.text.casefold()]
    if not lines and case_needs.stopped:
        lines.append(f"{thing}: the list of case {case_needs.case} is on hold, so nothing is on it")
    elif not lines:
        lines.append(f"{thing}: no card line in force asks for it for case {case_needs.case}")
    lines += [f"the list is on hold: {p.sentence()} [{p.where}]" for p in case_needs.stopped]
    return tuple(lines)


def _instruments(need: Need, trays: Mapping[str, Tray]) -> tuple[TrayInstrument, ...]:
    return trays[need.thing].instruments if need.kind is ThingKind.TRAY and need.thing in trays else ()


def _listed_in(need: Need, trays: Mapping[str, Tray]) -> Iterator[str]:
    listed = _instruments(need, trays)
    if listed:
        first = listed[0].where
        yield f"listed in it [{replace(first, row=None, column='', cell='')}]:"
        yield from _indented(tuple(f"{one.quantity} {one.instrument}" for one in listed))


def _trays_that_list(case_needs: CaseNeeds, trays: Mapping[str, Tray], instrument: str) -> list[str]:
    """The trays of the case that list an instrument of that name, or with those words in its name."""
    return [
        f"{_title(need)}: lists {one.quantity} {one.instrument} [{one.where}]"
        for need in case_needs.needs
        for one in _instruments(need, trays)
        if _fits("", one.instrument, instrument)
    ]


def _find(needs: tuple[Need, ...], thing: str) -> tuple[Need, ...]:
    exact = tuple(need for need in needs if need.thing.casefold() == thing.strip().casefold())
    return exact or tuple(need for need in needs if _fits(need.thing, need.name, thing))


def _fits(code: str, name: str, asked: str) -> bool:
    words = asked.strip().casefold()
    return bool(words) and (code.casefold() == words or words in name.casefold())


def _title(need: Need) -> str:
    parts = [need.kind.value, need.thing, need.name]
    parts += [need.side.value] if need.side else []
    parts += [f"for {need.person}"] if need.person else []
    return " ".join(parts)


def _explain_reason(reason: Reason) -> str:
    place = f" [{reason.where}]" if reason.where.file else ""
    return f"{reason.text}: {open_and_hold(reason.open, reason.hold)}{place}"


def _indented(lines: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(f"  {line}" for line in lines)


NO_CART = "no cart is planned for it: it is cancelled, done or over"
NOT_GIVEN = "no case on the schedule gets it"


def case_line(case: Case, clock: SiteClock) -> str:
    """Where and when a case is, how long it takes and how far it is."""
    return f"{case.number}: {case.room}, {clock.stamp(case.start)}, {span(case.minutes)}, {case.status.value}"


def cart_lines(plan: Plan, cart: Cart) -> tuple[str, ...]:
    """What the cart of a case has, lacks and waits for, tray by tray."""
    clock = plan.settings.site_clock
    lines = [
        f"{', '.join(cart.procedure_names)}; {cart.surgeon_name}; cart complete by {clock.stamp(cart.complete_by)}"
    ]
    lines += [_tray_line(line, clock) for line in cart.trays]
    short = [one for one in cart.goods if one.is_short]
    lines += [f"{one.need.name}: short, {open_and_hold(one.short_open, one.short_hold)}" for one in short]
    waiting = [one for one in plan.conflicts if one.waiter == cart.case.number]
    lines += [f"{one.kind.value}: {statement(one, clock)}" for one in waiting]
    return tuple(lines)


def _tray_line(line: TrayLine, clock: SiteClock) -> str:
    """``Thyroid: THY-01, ready Thu 26 Nov 13:45 at usual pace; needed next by C-4167, 14 h 35 min to spare``."""
    name = f"{line.name_with_side}{' on hold' if line.on_hold else ''}"
    if not line.set_id:
        where = "no set"
    elif line.in_hand:
        where = f"{line.set_id}, in use in this case"
    elif line.expected:
        where = f"{line.set_id}, ready {at_pace(clock.stamp(line.expected), line.pace)}"
    else:
        where = f"{line.set_id}, {line.place_now or NO_PLACE}"
    back = line.give_back
    spare = at_pace(to_spare(back.slack), back.pace) if back else ""
    return f"{name}: {where}" + (f"; needed next by {back.for_case}, {spare}" if back else "")


def said_of_case(problem: Problem) -> str:
    """A problem that names the case: only what stops its list is said to stop it."""
    head = {Severity.NOTICE: "notice", Severity.TO_FIX: "to fix"}.get(problem.severity, "the list is on hold")
    return f"{head}: {problem.sentence()} [{problem.where}]"


def taken_for(case: str, by: str) -> str:
    """A set that goes from its shelf to a case."""
    return f"taken as it is for case {case}, by {by}"
