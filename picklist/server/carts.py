"""The page on which the crew reports which carts are built."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.responses import Response

from picklist import wording
from picklist.model.built import BuiltCart, read_cart_code
from picklist.model.known import Known
from picklist.model.plan import Cart
from picklist.server.visit import NotHere, Visit, asked_words, holds_words
from picklist.tasks.cart_form import report_mark
from picklist.tasks.cart_reports import carts_told
from picklist.tasks.quick_mark import shortest_endings
from picklist.tasks.shown import Lookup, in_order_of_completion, look_up
from picklist.wording.say_carts import cart_state, older_list


@dataclass(frozen=True, slots=True, kw_only=True)
class CartRow:
    """One cart and what is known of its building."""

    case: str
    end: str  # of its number: what to type to mark it built
    room: str
    start: str
    complete_by: str
    surgeon: str
    procedure: str
    side: str
    stopped: bool
    state: str
    done: bool  # built, and waiting for nothing
    started: bool
    older: str
    by: str
    told: str
    remark: str


def show_carts(visit: Visit) -> Response:
    """All carts of the day, with what was reported."""
    plan = visit.desk.plan()
    if plan is None:
        return visit.show("carts", "carts", title="", rows=(), count="", find="", waiting=0, answer="", undo=None)
    found, told = look_up(plan), carts_told(visit.desk.folder, plan.day)
    ends = shortest_endings(plan)
    rows = [cart_row(found, cart, told, ends[cart.case.number]) for cart in in_order_of_completion(plan.carts)]
    find = asked_words(visit)
    live = [row for row in rows if not row.stopped]
    marked = told.built.get(visit.asked.get("marked", ""))
    return visit.show(
        "carts",
        "carts",
        title=f"Carts for {found.clock.day_text(plan.day)}",
        rows=[row for row in rows if _holds(row, find)],
        find=find,
        count=f"{sum(row.done for row in live)} of {wording.counted(len(live), 'cart')} built",
        waiting=len(told.put_backs),
        answer=" ".join(visit.desk.take_notes(visit.asked.get("answer", ""))),
        undo=(marked.case, report_mark(marked), plan.revision) if marked and marked.done else None,
    )


def _holds(row: CartRow, find: str) -> bool:
    code = read_cart_code(find)  # a scanned label
    return holds_words(code[0] if code else find, row.case, row.room, row.surgeon, row.procedure, row.state, row.by)


def find_cart(visit: Visit) -> tuple[Lookup, Cart]:
    """The cart of the case that the address names; in its query, where any sign may stand. Raises NotHere."""
    plan, number = visit.plan(), visit.asked.get("case", "")
    cart = plan.cart(number)
    if cart is None:
        raise NotHere
    return look_up(plan), cart


def cart_row(found: Lookup, cart: Cart, told: Known, end: str = "") -> CartRow:
    """One cart as a row; ``end`` of its number no other cart has."""
    number = cart.case.number
    facts = told.built.get(number)
    counts = told.revisions.get(number, found.plan.revision)
    return CartRow(
        case=number,
        end=end,
        room=cart.case.room,
        start=found.when(cart.case.start),
        complete_by=found.when(cart.complete_by),
        surgeon=cart.surgeon_name,
        procedure=", ".join(cart.procedure_names),
        side=wording.case_side(cart),
        stopped=bool(cart.stopped),
        state=_state(found, cart, facts),
        done=bool(facts and facts.is_finished(facts.revision)),
        started=facts is not None and not facts.is_finished(facts.revision),
        older=older_list(facts, counts),
        by=facts.by if facts else "",
        told=found.when(facts.at) if facts else "",
        remark=facts.remark if facts else "",
    )


def _state(found: Lookup, cart: Cart, facts: BuiltCart | None) -> str:
    if cart.stopped:
        return "ON HOLD"
    missing = f", {wording.counted(len(facts.missing), 'item')} missing" if facts and facts.missing else ""
    return f"{cart_state(facts, found.clock)}{missing}"
