"""The hand-made evening as a later revision: what it replaces, and what the comparison says of it."""

from __future__ import annotations

from dataclasses import replace

from picklist.evening.changes import PlanChange
from picklist.evening.compare import compare_plans
from picklist.evening.match import CaseMatch, MatchNote, NoteKind
from picklist.model.built import BuiltCart, MissingThing
from picklist.model.known import Candidate, MatchQuestion
from picklist.model.plan import Cart, Plan
from tests.documents.carts import DAY, local, sundry, tray_line
from tests.documents.findings import rich_plan


def first_plan() -> Plan:
    """Revision 1, of which the evening is revision 2.

    C-1041 stood in OR 4 at 08:00 with another basic set; C-1050 was not stopped; C-1060 began
    later; C-1070 was not there; C-1098 is gone since; C-1047 may be the former C-1099.
    """
    long, stopped, short, _, waiting = rich_plan().carts
    carts = (
        _former_long(long),
        replace(stopped, stopped=(), trays=(tray_line("C-1050", "T-HAND", "Hand fracture", "HAND-01"),)),
        replace(short, case=replace(short.case, start=local("09:30")), complete_by=local("09:00")),
        _gone(waiting),
        replace(waiting, case=replace(waiting.case, number="C-1099", room="OR 8", start=local("10:15"))),
    )
    return rich_plan(revision=1, replaces=None, now=local("18:00", -1), carts=carts)


def _former_long(cart: Cart) -> Cart:
    """Another basic set, one thing more, one less, and one on hold that is to be opened now."""
    former = sundry("C-1041", "I-777", "Tape, wide", (("L7700", "A-2-10", 2, 0),))
    first = cart.sundries[0]
    pick = replace(first.picks[0], open=first.picks[0].open - 1, hold=first.picks[0].hold + 1)
    basic = replace(cart.trays[0], set_id="BASIC-09", place_now="shelf T-2-04")
    return replace(
        cart,
        case=replace(cart.case, room="OR 4", start=local("08:00")),
        complete_by=local("07:30"),
        trays=(basic, *cart.trays[1:]),
        sundries=(replace(first, picks=(pick,)), *cart.sundries[2:], former),
    )


def _gone(cart: Cart) -> Cart:
    basic = tray_line("C-1098", "T-BASIC", "Basic soft tissue", "BASIC-04", place_now="shelf T-2-04")
    tape = sundry("C-1098", "I-777", "Tape, wide", (("L7700", "A-2-10", 1, 1),))
    case = replace(cart.case, number="C-1098", room="OR 8", start=local("13:00"))
    return replace(cart, case=case, trays=(basic,), sundries=(tape,))


def the_change() -> PlanChange:
    """What revision 2 changes, with C-1041 told built but for one thing and C-1098 told begun."""
    new = rich_plan()
    missing = new.carts[0].sundries[2].need.thing
    told = BuiltCart(
        day=DAY,
        case="C-1041",
        revision=1,
        at=local("19:30", -1),
        done=True,
        by="mk",
        missing=(MissingThing(thing=missing, quantity=1),),
    )
    candidate = Candidate(old_case="C-1099", score=14, agrees=("surgeon", "procedures"), differs=("number", "start"))
    match = CaseMatch(
        same=(("C-1041", "C-1041"), ("C-1050", "C-1050"), ("C-1060", "C-1060")),
        cancelled=("C-1098",),
        added=("C-1070",),
        asked_old=("C-1099",),
        questions=(MatchQuestion(new_case="C-1047", candidates=(candidate,)),),
        notes=(MatchNote(kind=NoteKind.ROOM_RENAMED, old=("OR 4",), new=("OR 3",)),),
    )
    begun = BuiltCart(day=DAY, case="C-1098", revision=1, at=local("19:40", -1), by="mk")
    return compare_plans(first_plan(), new, match=match, built={"C-1041": told, "C-1098": begun})
