"""The page on which the crew reports what was put back."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial

from starlette.responses import Response

from picklist import wording
from picklist.letters import whole_number
from picklist.model.known import PutBack
from picklist.server.visit import Visit, one_line
from picklist.tasks.cart_reports import put_backs_told, take_back_put_back, tell_put_back, thing_names
from picklist.tasks.errors import WrongUse
from picklist.tasks.shown import Lookup
from picklist.wording.set_states import NO_PLACE

NO_LISTS = "no lists are built yet, so there is nothing to put back"


def show_put_backs(visit: Visit) -> Response:
    """What is still to be put back, cart by cart, and what was."""
    plan = visit.desk.plan()
    if plan is None:
        return visit.show("put-backs", "carts", title="", waiting=(), done=())
    found, told = Lookup(plan), put_backs_told(visit.desk.folder, plan.day)
    if any(not one.set_id and one.thing not in found.item_names for one in told):  # the plan names what is on a list
        found.item_names = thing_names(visit.desk.folder, visit.desk.now()) | found.item_names
    return visit.show(
        "put-backs",
        "carts",
        title=f"To put back, {found.clock.day_text(plan.day)}",
        waiting=[one for one in told if not one.done_at],
        done=[one for one in told if one.done_at],
        name=partial(_name, found),
        no_place=NO_PLACE,
        when=found.when,
    )


def tell_put_backs(visit: Visit) -> Response:
    """Record that the ticked things were put back."""
    plan, ids = visit.plan(NO_LISTS), _ids(visit.lists.get("id", ()))
    by = one_line(visit.form.get("by", ""))
    done = tell_put_back(visit.desk.folder, plan.day, ids, by, visit.desk.now())
    already = f" {len(ids) - done} were already recorded." if done < len(ids) else ""
    visit.note(f"{wording.counted(done, 'line')} recorded as put back.{already}")
    return visit.go("put-backs")


def reopen(visit: Visit) -> Response:
    """Take back that a thing was put back."""
    ids = _ids(visit.lists.get("id", ()))
    take_back_put_back(visit.desk.folder, visit.plan(NO_LISTS).day, ids)
    visit.note("It is still to be put back.")
    return visit.go("put-backs")


def _ids(said: Iterable[str]) -> frozenset[int]:
    found = list(said)
    if not found:
        raise WrongUse("tick what was put back")
    numbers = frozenset(whole_number(one) for one in found)
    if None in numbers:
        raise WrongUse("this is not among the items to put back")
    return frozenset(one for one in numbers if one is not None)


def _name(found: Lookup, one: PutBack) -> str:
    tray = next((known.tray for known in found.plan.sets if known.id == one.set_id), "")
    return (found.tray(tray) if tray else "Set") if one.set_id else found.item(one.thing)
