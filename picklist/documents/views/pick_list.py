"""The pick list of one cart."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from picklist import wording
from picklist.documents.views import remarks
from picklist.documents.views.finished_words import View
from picklist.documents.views.goods_rows import GoodsRow, by_person, in_walking_order, pack_blocks, walking_groups
from picklist.documents.views.list_change import LineMarks, list_change
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import Printing, stamp_for
from picklist.documents.views.tray_rows import tray_rows
from picklist.evening.changes import CartChange
from picklist.model.needs import Need, ReasonKind
from picklist.model.plan import Cart, SundryLine
from picklist.model.schedule import speaks_of_latex
from picklist.problems import Problem
from picklist.wording.lists import CHECK_BEFORE_USE

CAUTION_GOODS = "Take the lot named. Check package, dryness and expiry. Write down how many you found."
CAUTION_PACKS = "Take the lot named. Check package, dryness and expiry."
RUNNING_LIST = "The case is running: pick nothing. Below is when its trays must leave the room."
CAUTION_ALERT = "Check every item on this cart against the alert. Local policy decides."


@dataclass(frozen=True, kw_only=True)
class Alert(View):
    """An alert and what was done about it."""

    word: str
    notes: tuple[str, ...]


class StopReason(View):
    """Why a list is stopped, where it is in the sheets, and what would fix it."""

    def __init__(self, problem: Problem) -> None:
        fixes = []
        if problem.expected:
            fixes.append(f"Expected: {problem.expected}.")
        if problem.nearest:
            fixes.append(f"Did you mean {' or '.join(problem.nearest)}?")
        if problem.related:
            fixes.append(f"See also {'; '.join(str(where) for where in problem.related)}.")
        self.message = wording.capital(problem.message)
        self.where = str(problem.where)
        self.fix = " ".join(fixes)


class PlainRow(View):
    """A thing that is not picked: checked in the room, brought by someone, or for reference."""

    def __init__(self, need: Need, brings: str = "") -> None:
        self.name = need.name
        self.quantity = wording.quantity(need.open + need.hold)
        self.note = wording.joined(open_apart(need), remark_with_size(need), brings)


@dataclass(frozen=True, kw_only=True)
class ShortRow(View):
    """What the cart lacks and what may stand in."""

    name: str
    missing: str
    stand_in: str


class PickListView(View):
    """Everything on one cart's pages; ``change`` is shown on the list that the plan's revision prints.

    ``side_says``: what to do where the side is blank on the schedule. ``started``: of a case that runs, whose things
    are in its room, what the list is for then. ``remarks``: what each is about, and the sentence.
    A stopped list holds nothing but the reasons.
    """

    def __init__(self, found: Lookup, cart: Cart, printing: Printing, change: CartChange | None = None) -> None:
        case = cart.case
        self.stamp = stamp_for(found.plan, printing)
        self.case = case.number
        self.room = case.room
        self.day = found.clock.day_text(case.day)
        self.start = found.when(case.start)
        self.start_means = found.plan.settings.start_means.value
        self.complete_by = found.when(cart.complete_by)
        self.surgeon = cart.surgeon_name
        self.procedures = wording.procedures_with_sides(cart)
        self.side = wording.side_on_list(cart)
        self.side_known = cart.is_sided
        self.side_says = wording.side_says(cart.side)
        self.about = _about(cart)
        self.notes = case.notes
        self.alerts = _alerts(cart)
        self.running = _running(cart)
        self.started = RUNNING_LIST if case.is_running and not cart.stopped else ""
        self.stopped = tuple(StopReason(problem) for problem in cart.stopped)
        self.counts = _counts(cart)
        self.trays = tray_rows(found, cart)
        self.packs = pack_blocks(found, cart)
        self.sundries = walking_groups(found, cart.sundries)
        self.peel_packs = in_walking_order(found, cart.peel_packs)
        self.people = by_person(found, cart)
        self.room_checks = tuple(PlainRow(one) for one in cart.room_checks)
        self.implants = tuple(PlainRow(one, _who_brings(one)) for one in cart.implants)
        self.reference_only = tuple(PlainRow(one) for one in cart.reference_only)
        self.shorts = shorts(found, cart)
        self.merged_from = "" if cart.stopped else remarks.merged_from(cart)
        self.merged = () if cart.stopped else remarks.merged(found, cart)
        self.remarks = () if cart.stopped else remarks.remarks(cart)
        self.change = list_change(found, change, found.plan.revision)
        self.caution_trays = CHECK_BEFORE_USE
        self.caution_goods = CAUTION_GOODS
        self.caution_packs = CAUTION_PACKS
        self.caution_alert = CAUTION_ALERT
        self._mark(cart, LineMarks(change if self.change else None))

    def _mark(self, cart: Cart, marks: LineMarks) -> None:
        """Mark the lines that a revision changes, in the order of the list."""
        for tray, line in zip(self.trays, cart.trays, strict=True):
            tray.mark = marks.tray(tray, line.expected is not None)
        for row in self._goods():
            row.mark = marks.goods(row)

    def _goods(self) -> Iterator[GoodsRow]:
        for pack in self.packs:
            yield from pack.rows
        for group in self.sundries:
            yield from group.rows
        yield from self.peel_packs
        for group in self.people:
            yield from group.rows


def _about(cart: Cart) -> str:
    case = cart.case
    parts = ["RUNNING"] if case.is_running else []
    parts.append(f"{wording.span(case.minutes)} planned")
    if case.patient_size:
        parts.append(f"size {case.patient_size}")
    if case.fields > 1:
        parts.append(f"{case.fields} teams at once")
    return ", ".join(parts)


def _running(cart: Cart) -> str:
    """Side and alerts in one line, for the head of every page that follows."""
    return " · ".join((wording.case_side(cart), *(alert.upper() for alert in cart.case.alerts)))


def _alerts(cart: Cart) -> tuple[Alert, ...]:
    """The alerts in capitals; what was swapped for latex stands once, with the first that is about it."""
    about_latex = next((alert for alert in cart.case.alerts if speaks_of_latex(alert)), None)
    alerts = [Alert(word=alert.upper(), notes=_alert_notes(cart, alert, about_latex)) for alert in cart.case.alerts]
    if cart.needs.unknown_size:
        note = "no card covers the size on the schedule: this is the list for an adult"
        alerts.append(Alert(word=f"PATIENT SIZE {cart.case.patient_size.upper()}", notes=(note,)))
    return tuple(alerts)


def _alert_notes(cart: Cart, alert: str, about_latex: str | None) -> tuple[str, ...]:
    if alert in cart.needs.unknown_alerts:
        return ("no card or rule covers this alert: the list was not changed for it",)
    return _swapped(cart) if alert == about_latex else ()


def _swapped(cart: Cart) -> tuple[str, ...]:
    swapped = dict.fromkeys(
        f"{line.need.name}: {reason.text.removeprefix('latex alert: ')}"
        for line in cart.goods
        for reason in line.need.reasons
        if reason.kind is ReasonKind.LATEX_SWAP
    )
    return tuple(swapped)


def _counts(cart: Cart) -> str:
    parts = [
        wording.counted(len(cart.trays), "tray"),
        wording.counted(len(cart.packs), "pack"),
        wording.counted(len(cart.loose_goods), "line of sundries", "lines of sundries"),
    ]
    lacking = len([line for line in cart.trays if not line.set_id]) + len(_short_lines(cart))
    if lacking:
        parts.append(f"{lacking} SHORT")
    return " · ".join(parts)


def _short_lines(cart: Cart) -> tuple[SundryLine, ...]:
    return tuple(line for line in cart.goods if line.is_short)


def shorts(found: Lookup, cart: Cart) -> tuple[ShortRow, ...]:
    """Trays without a set, then goods that no shelf can give."""
    trays = [
        ShortRow(name=line.name_with_side, missing="no set in time", stand_in="see the conflict sheet")
        for line in cart.trays
        if not line.set_id
    ]
    goods = [
        ShortRow(
            name=f"{line.need.name} ({line.need.thing})",
            missing=wording.open_and_hold(line.short_open, line.short_hold),
            stand_in=may_stand_in(found, line.stand_ins),
        )
        for line in _short_lines(cart)
    ]
    return (*trays, *goods)


def may_stand_in(found: Lookup, stand_ins: tuple[tuple[str, int], ...]) -> str:
    """The items that may serve in place of a short one, with what is left of each."""
    names = [f"{found.item(item)} ({item}), {left} left{undated(found, item)}" for item, left in stand_ins]
    return "; ".join(names) or "none listed"


def undated(found: Lookup, item: str) -> str:
    """What is to be said after a stand-in of which some has no expiry recorded."""
    return f", {wording.check_expiry(None)}" if any(item in one.undated for one in found.plan.shortages) else ""


def open_apart(need: Need) -> str:
    """How many of a thing that is not picked are opened and how many held, where not all are opened."""
    return wording.open_and_hold(need.open, need.hold) if need.hold else ""


def remark_with_size(need: Need) -> str:
    """Side, size and the card's note of a thing that is not picked."""
    size = f"size {need.size}" if need.size else ""
    return wording.joined(wording.small_side(need.side), size, need.note)


def _who_brings(need: Need) -> str:
    return f"{need.brought_by} brings it" if need.brought_by else "find out who brings it"
