"""What is open of the hand-made evening: a cart built with a thing missing, a question, put-backs."""

from __future__ import annotations

from datetime import datetime

from picklist.evening.open_points import OpenPoints, open_points
from picklist.model.built import BuiltCart, MissingThing, StoodIn
from picklist.model.known import Candidate, Known, MatchQuestion, PutBack
from picklist.model.plan import Plan
from tests.documents.carts import DAY, local


def known(plan: Plan) -> Known:
    """What the crew told until 19:30."""
    line = plan.carts[0].sundries[2]
    told = BuiltCart(
        day=DAY,
        case="C-1041",
        revision=1,
        at=local("19:30", -1),
        done=True,
        by="mk",
        missing=(MissingThing(thing=line.need.thing, quantity=1),),
        stood_in=(StoodIn(thing=line.need.thing, stood_in="I-202", quantity=1),),
    )
    candidate = Candidate(old_case="C-1099", score=14, agrees=("surgeon",), differs=("number", "start"))
    return Known(
        built={"C-1041": told},
        revisions={"C-1041": 2},
        decided={},
        questions=(MatchQuestion(new_case="C-1047", candidates=(candidate,)),),
        put_backs=(_put_back(1, set_id="BASIC-09"), _put_back(2, set_id="SAW-02", to_cart="C-1047"), _put_back(3)),
    )


def _put_back(number: int, set_id: str = "", to_cart: str = "") -> PutBack:
    return PutBack(
        id=number, revision=2, case="C-1098", kind="tray" if set_id else "item", thing="" if set_id else "I-777",
        set_id=set_id, lot="", quantity=1 if set_id else 4, home="T-2-04", to_cart=to_cart,
    )  # fmt: skip


def the_points(plan: Plan, at: datetime | None = None) -> OpenPoints:
    return open_points(plan, known(plan), at or plan.now)
