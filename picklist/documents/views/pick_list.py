"""The pick list of one cart."""

from __future__ import annotations

from dataclasses import dataclass, replace

from picklist import wording
from picklist.documents.views import remarks
from picklist.documents.views.goods_rows import (
    GoodsGroup,
    GoodsRow,
    PackBlock,
    by_person,
    in_walking_order,
    pack_blocks,
    walking_groups,
)
from picklist.documents.views.list_change import LineMarks, ListChange, list_change
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import PageFoot, Printing, stamp_for
from picklist.documents.views.tray_rows import TrayRow, tray_rows
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Alert:
    """An alert and what was done about it."""

    word: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StopReason:
    """Why a list is stopped, where it is in the sheets, and what would fix it."""

    message: str
    where: str
    fix: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainRow:
    """A thing that is not picked: checked in the room, brought by someone, or for reference."""

    name: str
    quantity: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortRow:
    """What the cart lacks and what may stand in."""

    name: str
    missing: str
    stand_in: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PickListView:
    """Everything on one cart's pages, ready to print."""

    stamp: PageFoot
    case: str
    room: str
    day: str
    start: str
    start_means: str
    complete_by: str
    surgeon: str
    procedures: tuple[str, ...]
    side: str
    side_known: bool
    side_says: str  # what to do where the side is blank on the schedule
    about: str
    notes: str
    alerts: tuple[Alert, ...]
    running: str
    started: str  # of a case that runs, whose things are in its room: what the list is for then
    stopped: tuple[StopReason, ...]
    counts: str
    trays: tuple[TrayRow, ...]
    packs: tuple[PackBlock, ...]
    sundries: tuple[GoodsGroup, ...]
    peel_packs: tuple[GoodsRow, ...]
    people: tuple[GoodsGroup, ...]
    room_checks: tuple[PlainRow, ...]
    implants: tuple[PlainRow, ...]
    reference_only: tuple[PlainRow, ...]
    shorts: tuple[ShortRow, ...]
    merged_from: str
    merged: tuple[str, ...]
    remarks: tuple[tuple[str, str], ...]  # what it is about, and the sentence
    change: ListChange | None = None
    caution_trays: str = CHECK_BEFORE_USE
    caution_goods: str = CAUTION_GOODS
    caution_packs: str = CAUTION_PACKS
    caution_alert: str = CAUTION_ALERT


def pick_list(found: Lookup, cart: Cart, printing: Printing, change: CartChange | None = None) -> PickListView:
    """One cart's list as finished strings; ``change`` is shown on the list that the plan's revision prints."""
    case = cart.case
    block = list_change(found, change, found.plan.revision)
    marks = LineMarks(change if block else None)
    return PickListView(
        stamp=stamp_for(found.plan, printing, found.clock),
        case=case.number,
        room=case.room,
        day=found.clock.day_text(case.day),
        start=found.when(case.start),
        start_means=found.plan.settings.start_means.value,
        complete_by=found.when(cart.complete_by),
        surgeon=cart.surgeon_name,
        procedures=wording.procedures_with_sides(cart),
        side=wording.side_on_list(cart),
        side_known=cart.is_sided,
        side_says=wording.side_says(cart.side),
        about=_about(cart),
        notes=case.notes,
        alerts=_alerts(cart),
        running=_running(cart),
        started=RUNNING_LIST if case.is_running and not cart.stopped else "",
        stopped=tuple(_stop_reason(problem) for problem in cart.stopped),
        counts=_counts(cart),
        trays=tuple(
            marks.tray(row, line.expected is not None)
            for row, line in zip(tray_rows(found, cart), cart.trays, strict=True)
        ),
        packs=tuple(replace(one, rows=tuple(marks.goods(row) for row in one.rows)) for one in pack_blocks(found, cart)),
        sundries=marks.groups(walking_groups(found, cart.sundries)),
        peel_packs=tuple(marks.goods(row) for row in in_walking_order(found, cart.peel_packs)),
        people=marks.groups(by_person(found, cart)),
        room_checks=tuple(_plain(one) for one in cart.room_checks),
        implants=tuple(_implant(one) for one in cart.implants),
        reference_only=tuple(_plain(one) for one in cart.reference_only),
        shorts=shorts(found, cart),
        merged_from=remarks.merged_from(cart),
        merged=remarks.merged(found, cart),
        remarks=remarks.remarks(cart),
        change=block,
    )


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


def _stop_reason(problem: Problem) -> StopReason:
    fixes = []
    if problem.expected:
        fixes.append(f"Expected: {problem.expected}.")
    if problem.nearest:
        fixes.append(f"Did you mean {' or '.join(problem.nearest)}?")
    if problem.related:
        fixes.append(f"See also {'; '.join(str(where) for where in problem.related)}.")
    return StopReason(message=wording.capital(problem.message), where=str(problem.where), fix=" ".join(fixes))


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


def _plain(need: Need) -> PlainRow:
    note = "; ".join(part for part in (open_apart(need), remark_with_size(need)) if part)
    return PlainRow(name=need.name, quantity=wording.quantity(need.open + need.hold), note=note)


def open_apart(need: Need) -> str:
    """How many of a thing that is not picked are opened and how many held, where not all are opened."""
    return wording.open_and_hold(need.open, need.hold) if need.hold else ""


def remark_with_size(need: Need) -> str:
    """Side, size and the card's note of a thing that is not picked."""
    size = f"size {need.size}" if need.size else ""
    return "; ".join(part for part in (wording.small_side(need.side), size, need.note) if part)


def _implant(need: Need) -> PlainRow:
    brings = f"{need.brought_by} brings it" if need.brought_by else "find out who brings it"
    note = "; ".join(part for part in (open_apart(need), remark_with_size(need), brings) if part)
    return PlainRow(name=need.name, quantity=wording.quantity(need.open + need.hold), note=note)
