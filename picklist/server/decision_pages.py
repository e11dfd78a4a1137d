"""The pages of the evening's decisions: what was decided about each conflict and shortage, and who was told."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.responses import Response

from picklist import wording
from picklist.documents.views.conflict_sheet import CAUTION, conflict_block
from picklist.documents.views.lookup import Lookup, look_up
from picklist.documents.views.pick_list import undated
from picklist.evening.keep_decisions import Decision, ShortItem, conflicts_by_key, short_items
from picklist.model.conflicts import Conflict
from picklist.server.visit import NotHere, Visit, one_line
from picklist.tasks.decisions import Said, decisions_told, tell_decision
from picklist.tasks.errors import WrongUse

OTHER = "other"


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
    when: str

    @property
    def decided(self) -> bool:
        """Whether somebody decided it."""
        return bool(self.said and self.said.decided)


def show_decisions(visit: Visit) -> Response:
    """Every conflict and shortage, those still open first."""
    plan = visit.desk.plan()
    if plan is None:
        return visit.show("decisions", "decisions", title="", waiting=(), decided=())
    found = look_up(plan)
    matters = _matters(visit, found)
    return visit.show(
        "decisions",
        "decisions",
        title=f"Decisions for {found.clock.day_text(plan.day)}",
        waiting=[one for one in matters if not one.decided],
        decided=[one for one in matters if one.decided],
    )


def show_matter(visit: Visit) -> Response:
    """One conflict or shortage, and the form to tell what was decided."""
    one = _sought(visit)
    found = look_up(visit.plan())
    conflict = conflicts_by_key(found.plan).get(one.about)
    decided, ways = one.said.decided if one.said else "", [way for way, _cost in one.ways]
    return visit.show(
        "decision",
        "decisions",
        one=one,
        block=conflict_block(found, conflict) if conflict else None,
        chosen=decided if decided in ways else OTHER if decided else "",
        other="" if decided in ways else decided,
        caution=CAUTION,
    )


def tell_matter(visit: Visit) -> Response:
    """Record what was decided about it."""
    one = _sought(visit)
    way, other = visit.form.get("way", ""), one_line(visit.form.get("other", ""))
    if way == OTHER and not other:
        raise WrongUse("enter what else was decided")
    if way not in ("", OTHER) and not (way.isascii() and way.isdigit() and int(way) < len(one.ways)):
        raise NotHere
    decided = other if way == OTHER else one.ways[int(way)][0] if way else ""
    said = Said(
        about=one.about,
        decided=decided,
        told=one_line(visit.form.get("told", "")),
        by=one_line(visit.form.get("by", "")),
    )
    tell_decision(visit.desk.folder, visit.plan().day, said, visit.desk.now())
    visit.desk.note(f"{one.case}, {one.what}: {f'decided: {decided}' if decided else 'still open'}.")
    return visit.go("decisions")


def _sought(visit: Visit) -> Matter:
    about = visit.asked.get("about", "")
    found = [one for one in _matters(visit, look_up(visit.plan())) if one.about == about]
    if not found:
        raise NotHere
    return found[0]


def _matters(visit: Visit, found: Lookup) -> list[Matter]:
    told = decisions_told(visit.desk.folder, found.day)
    conflicts = sorted(
        conflicts_by_key(found.plan).items(),
        key=lambda one: (one[1].decide_by is None, one[1].decide_by or found.plan.now, one[1].id),
    )
    of_sets = [_of_conflict(found, about, one, told.get(about)) for about, one in conflicts]
    return [*of_sets, *(_of_shortage(found, one, told.get(one.about)) for one in short_items(found.plan).values())]


def _of_conflict(found: Lookup, about: str, one: Conflict, said: Decision | None) -> Matter:
    return Matter(
        about=about,
        by=found.when(one.decide_by) if one.decide_by else "",
        kind=one.kind.value.upper(),
        case=found.case_in_room(one.waiter),
        what=found.tray(one.tray),
        ways=tuple({remedy.text: remedy.cost for remedy in one.remedies}.items()),
        said=said,
        when=found.when(said.at) if said else "",
    )


def _of_shortage(found: Lookup, one: ShortItem, said: Decision | None) -> Matter:
    return Matter(
        about=one.about,
        by=next((found.when(cart.complete_by) for cart in found.plan.carts if cart.case.number == one.case), ""),
        kind="NO STOCK",
        case=found.case_in_room(one.case),
        what=f"{one.name} ({one.item}), {wording.open_and_hold(one.open, one.hold)}",
        ways=tuple(
            (f"Take {found.item(item)} ({item}) instead", f"{number} in stock{undated(found, item)}")
            for item, number in one.stand_ins
        ),
        said=said,
        when=found.when(said.at) if said else "",
    )
