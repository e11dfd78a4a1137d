"""The page on which the crew reports which carts are built."""

from __future__ import annotations

from starlette.responses import Response

from picklist import wording
from picklist.model.built import BuiltCart, read_cart_code
from picklist.model.known import Known
from picklist.model.plan import Cart, in_order_of_completion
from picklist.server.visit import NotHere, Visit, asked_words, holds_words
from picklist.tasks.cart_form import report_mark
from picklist.tasks.cart_reports import carts_told
from picklist.tasks.quick_mark import shortest_endings
from picklist.tasks.shown import Lookup
from picklist.wording.say_carts import cart_state, older_list


class CartRow:
    """A cart, the last report on it, and in words how it stands; ``done``: built by the list that counts, all of it.

    ``end`` of its number, which no other cart has, is typed to mark it built.
    """

    def __init__(self, found: Lookup, cart: Cart, told: Known, end: str = "") -> None:
        number = cart.case.number
        self.cart = cart
        self.facts = facts = told.built.get(number)
        counts = told.revisions.get(number, found.plan.revision)
        self.state = _state(found, cart, facts)
        self.older = older_list(facts, counts)
        self.end = end
        self.done = bool(facts and facts.is_finished(counts))


def show_carts(visit: Visit) -> Response:
    """All carts of the day, with what was reported."""
    plan = visit.desk.plan()
    if plan is None:
        return visit.show("carts", "carts", title="", rows=(), count="", find="", waiting=0, answer="", undo=None)
    found, told = Lookup(plan), carts_told(visit.desk.folder, plan.day)
    ends = shortest_endings(plan)
    rows = [CartRow(found, cart, told, ends[cart.case.number]) for cart in in_order_of_completion(plan.carts)]
    find = asked_words(visit)
    live = [row for row in rows if not row.cart.stopped]
    marked = told.built.get(visit.asked.get("marked", ""))
    return visit.show(
        "carts",
        "carts",
        title=f"Carts for {found.clock.day_text(plan.day)}",
        day=plan.day,
        when=found.when,
        rows=[row for row in rows if _holds(row, find)],
        find=find,
        count=f"{sum(row.done for row in live)} of {wording.counted(len(live), 'cart')} built",
        waiting=len(told.put_backs),
        answer=" ".join(visit.desk.take_notes(visit.asked.get("answer", ""))),
        undo=(marked.case, report_mark(marked), plan.revision) if marked and marked.done else None,
    )


def _holds(row: CartRow, find: str) -> bool:
    code = read_cart_code(find)  # a scanned label
    by = row.facts.by if row.facts else ""
    return holds_words(code[0] if code else find, *words_of(row.cart), row.state, by)


def words_of(cart: Cart) -> tuple[str, str, str, str]:
    """The words by which a cart is found."""
    return cart.case.number, cart.case.room, cart.surgeon_name, ", ".join(cart.procedure_names)


def find_cart(visit: Visit) -> tuple[Lookup, Cart]:
    """The cart of the case that the address names; in its query, where any sign may stand. Raises NotHere."""
    plan, number = visit.plan(), visit.asked.get("case", "")
    cart = plan.cart(number)
    if cart is None:
        raise NotHere
    return Lookup(plan), cart


def _state(found: Lookup, cart: Cart, facts: BuiltCart | None) -> str:
    if cart.stopped:
        return "ON HOLD"
    missing = f", {wording.counted(len(facts.missing), 'item')} missing" if facts and facts.missing else ""
    return f"{cart_state(facts, found.clock)}{missing}"
