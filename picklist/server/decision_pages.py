"""The pages of the evening's decisions: what was decided about each conflict and shortage, and who was informed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple
from urllib.parse import urlencode

from starlette.responses import Response

from picklist import wording
from picklist.letters import whole_number
from picklist.model.conflicts import Conflict
from picklist.model.known import Decision, ShortItem, conflicts_by_key, short_items
from picklist.server.visit import NotHere, Visit, one_line
from picklist.tasks.cart_reports import carts_told
from picklist.tasks.decisions import Said, open_now, tell_decision
from picklist.tasks.errors import WrongUse, without_private
from picklist.tasks.moment import to_instant
from picklist.tasks.shown import (
    CAUTION,
    HOLD,
    PUT_BACK,
    QUESTION,
    ConflictBlock,
    Lookup,
    OpenRow,
    became_of,
    informed,
    undated,
)
from picklist.wording.say_remedies import COMING, while_sought

OTHER = "other"
FIELDS = ("way", "other", "told", "told_at", "by")


@dataclass(frozen=True, slots=True, kw_only=True)
class Matter:
    """A conflict or a shortage: what it is, what may be decided, and the last word on it."""

    about: str
    by: str
    kind: str
    case: str
    what: str
    ways: tuple[tuple[str, str], ...]  # what may be decided, and what it costs
    said: Decision | None
    stands: bool = True  # whether the plan still has it

    @property
    def decided(self) -> bool:
        """Whether somebody decided it."""
        return bool(self.said and self.said.decided)


class OpenPlace(NamedTuple):
    """Something open, the page on which it is dealt with, and what is done there."""

    row: OpenRow
    page: str
    act: str


def show_decisions(visit: Visit) -> Response:
    """Everything that is open in the order of time, then what was decided and what became of it."""
    plan = visit.desk.plan()
    if plan is None:
        return visit.show("decisions", "decisions", title="", waiting=(), decided=())
    found = Lookup(plan)
    return visit.show(
        "decisions",
        "decisions",
        title=f"Open, {found.clock.day_text(plan.day)}",
        waiting=[_place(row) for _, row in open_now(visit.desk.folder, plan, visit.desk.now())],
        decided=[one for one in _matters(visit, found) if one.decided],
        coming=while_sought(plan.search, COMING),
        **_last_word(found),
    )


def _last_word(found: Lookup) -> dict[str, Any]:
    """How the pages say when something was said last, what became of it and who was informed."""
    return {"when": found.when, "became_of": partial(became_of, found), "informed": partial(informed, found)}


def _place(row: OpenRow) -> OpenPlace:
    if row.about:
        return OpenPlace(row, f"decisions/of?{urlencode({'about': row.about})}", "Record")
    pages = {PUT_BACK: ("put-backs", "Put backs"), HOLD: ("input", "Fix"), QUESTION: ("", "Answer")}
    return OpenPlace(row, *pages.get(row.kind, ("carts", "Carts")))


def show_matter(visit: Visit) -> Response:
    """One conflict or shortage, and the form to record what was decided."""
    one = _sought(visit)
    decided, ways = one.said.decided if one.said else "", [way for way, _cost in one.ways]
    typed = {
        "way": str(ways.index(decided)) if decided in ways else OTHER if decided else "",
        "other": "" if decided in ways else decided,
        "told": one.said.told if one.said else "",
    }
    return _form(visit, one, typed)


def _form(visit: Visit, one: Matter, typed: Mapping[str, str], refused: str = "") -> Response:
    """The form with what is in its fields, and why it was refused."""
    found = Lookup(visit.plan())
    conflict = conflicts_by_key(found.plan).get(one.about)
    return visit.show(
        "decision",
        "decisions",
        one=one,
        block=ConflictBlock(found, conflict) if conflict else None,
        typed={name: typed.get(name, "") for name in FIELDS},
        refused=refused,
        now=found.when(to_instant(visit.desk.now(), found.plan.settings.time_zone)),
        caution=CAUTION,
        **_last_word(found),
    )


def tell_matter(visit: Visit) -> Response:
    """Record what was decided about it; a form that is refused keeps what was typed."""
    one = _sought(visit)
    typed = {name: one_line(visit.form.get(name, "")) for name in FIELDS}
    try:
        decided = _decided(one, typed)
        said = Said(about=one.about, decided=decided, told=typed["told"], by=typed["by"], told_at=typed["told_at"])
        tell_decision(visit.desk.folder, visit.plan().day, said, visit.desk.now())
    except WrongUse as wrong:
        answer = _form(visit, one, without_private(typed, visit.desk.now()), str(wrong))
        answer.status_code = 422
        return answer
    visit.note(f"{one.case}, {one.what}: {f'decided: {decided}' if decided else 'still open'}.")
    return visit.go("decisions")


def _decided(one: Matter, typed: Mapping[str, str]) -> str:
    """What the form says was decided, empty for nothing. Raises WrongUse, and NotHere for a choice not offered."""
    way = typed["way"]
    if way == OTHER and not typed["other"]:
        raise WrongUse("enter what else was decided")
    chosen = whole_number(way)
    if way not in ("", OTHER) and (chosen is None or chosen >= len(one.ways)):
        raise NotHere
    return typed["other"] if way == OTHER else one.ways[chosen][0] if chosen is not None else ""


def _sought(visit: Visit) -> Matter:
    about = visit.asked.get("about", "")
    found = [one for one in _matters(visit, Lookup(visit.plan())) if one.about == about]
    if not found:
        raise NotHere
    return found[0]


def _matters(visit: Visit, found: Lookup) -> list[Matter]:
    told = carts_told(visit.desk.folder, found.day).decided
    conflicts = sorted(conflicts_by_key(found.plan).items(), key=lambda one: one[1].urgency)
    of_sets = [_of_conflict(found, about, one, told.get(about)) for about, one in conflicts]
    of_stock = [_of_shortage(found, one, told.get(one.about)) for one in short_items(found.plan).values()]
    there = {one.about for one in (*of_sets, *of_stock)}
    gone = [_of_gone(one) for one in told.values() if one.decided and one.about not in there]
    return [*of_sets, *of_stock, *gone]


def _of_conflict(found: Lookup, about: str, one: Conflict, said: Decision | None) -> Matter:
    return Matter(
        about=about,
        by=found.when(one.decide_by) if one.decide_by else "",
        kind=one.kind.value.upper(),
        case=found.case_in_room(one.waiter),
        what=found.tray_wanted(one),
        ways=tuple({remedy.text: remedy.cost for remedy in one.remedies}.items()),
        said=said,
    )


def _of_shortage(found: Lookup, one: ShortItem, said: Decision | None) -> Matter:
    cart = found.plan.cart(one.case)
    return Matter(
        about=one.about,
        by=found.when(cart.complete_by) if cart else "",
        kind="NO STOCK",
        case=found.case_in_room(one.case),
        what=f"{one.name} ({one.item}), {wording.open_and_hold(one.open, one.hold)}",
        ways=tuple(
            (f"Take {found.item(item)} ({item}) instead", f"{number} in stock{undated(found, item)}")
            for item, number in one.stand_ins
        ),
        said=said,
    )


def _of_gone(said: Decision) -> Matter:
    """A decision about what the plan no longer has."""
    kind, _, rest = said.matter.partition(", ")
    case, _, what = rest.partition(": ")
    return Matter(
        about=said.about,
        by="",
        kind=kind or said.about.partition("/")[0].upper(),
        case=said.about.rpartition("/")[2] if said.number_then or not case else case,
        what=what or said.about.split("/")[1],
        ways=(),
        said=said,
        stands=False,
    )
