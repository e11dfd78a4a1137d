"""The page on which the crew tells which carts are built."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from starlette.responses import Response

from picklist.documents.views import words
from picklist.documents.views.lookup import Lookup, in_order_of_completion, look_up
from picklist.evening.check_facts import sundries_of
from picklist.model.built import BuiltCart, MissingThing
from picklist.model.plan import Cart
from picklist.problems import must_be_mended
from picklist.problems_report import count_line
from picklist.server.problem_rows import problem_sheets
from picklist.server.visit import NotHere, Visit
from picklist.server.work import Lane
from picklist.tasks.carts_told import CartsTold, carts_told
from picklist.tasks.crew import Told, tell_by_scans
from picklist.tasks.errors import WrongUse

LONGEST = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class CartRow:
    """One cart and what is known of its building."""

    case: str
    room: str
    start: str
    complete_by: str
    surgeon: str
    procedure: str
    side: str
    stopped: bool
    state: str
    done: bool
    begun: bool
    older: str
    by: str
    told: str
    remark: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ThingRow:
    """A thing on a cart's list, to be ticked when it did not come; ``word`` is how a scan names it."""

    word: str
    name: str
    wanted: str
    most: int
    missing: int
    short: bool


def show_carts(visit: Visit) -> Response:
    """All carts of the day, with what was told."""
    plan = visit.desk.plan()
    if plan is None:
        return visit.show("carts", "carts", title="", rows=(), count="", put_backs=())
    found, told = look_up(plan), carts_told(visit.desk.folder, plan.day)
    rows = [_row(found, cart, told) for cart in in_order_of_completion(plan.carts)]
    live = [row for row in rows if not row.stopped]
    return visit.show(
        "carts",
        "carts",
        title=f"Carts for {found.clock.day_text(plan.day)}",
        rows=rows,
        count=f"{sum(row.done for row in live)} of {words.counted(len(live), 'cart')} built",
        put_backs=told.put_backs,
    )


def show_cart(visit: Visit) -> Response:
    """One cart: what stands on its list, and the form to tell of it."""
    found, cart = _find(visit)
    told = carts_told(visit.desk.folder, found.day)
    facts = told.built.get(cart.case.number)
    return visit.show(
        "cart",
        "carts",
        row=_row(found, cart, told),
        things=tuple(_things(found, cart, facts)),
        extra=_beyond_form(facts),
        stopped=tuple(f"{p.sentence()} [{p.where}]" for p in cart.stopped),
    )


def tell_cart(visit: Visit) -> Response:
    """Take down what the form says of a cart, in the words of the scanner."""
    _found, cart = _find(visit)
    lines = scan_lines(visit.form, cart)
    desk, day, number = visit.desk, _found.day, cart.case.number
    work = desk.workshop.start(
        f"Taking down cart {number}",
        Lane.CHECK,
        lambda _progress: tell_by_scans(desk.folder, lines, desk.now(), day),
        "carts/told/",
    )
    work.next = f"carts/told/{work.id}"
    return visit.go(f"work/{work.id}")


def show_told(visit: Visit) -> Response:
    """What came of telling: back to the carts when it was taken down, else what to mend."""
    work = visit.desk.workshop.find(visit.path["work"])
    if work is None or not isinstance(work.result, Told):
        raise NotHere
    told = work.result
    if told.kept and not must_be_mended(told.problems):
        for cart in told.kept:
            visit.desk.note(f"Cart {cart.case} is taken down as {'built' if cart.done else 'begun'}.")
        return visit.go("carts")
    return visit.show(
        "told",
        "carts",
        kept=tuple(cart.case for cart in told.kept),
        sheets=problem_sheets(told.problems),
        count=count_line(told.problems),
    )


def scan_lines(form: Mapping[str, str], cart: Cart) -> list[str]:
    """What the form says, line by line as a scanner would send it."""
    by, note = _one_line(form.get("by", "")), _one_line(form.get("note", ""))
    if form.get("state") == "done" and not by:
        raise WrongUse("say by whom the cart was built: initials are enough")
    lines = [f"CART {cart.case.number}", *([f"BY {by}"] if by else []), *([f"NOTE {note}"] if note else [])]
    for word, most in _words_of(cart):
        quantity = _one_line(form.get(f"missing-{word}", "")) or "0"
        if not (quantity.isascii() and quantity.isdigit()):
            raise WrongUse(f"{quantity} is no number of missing {word}")
        if int(quantity):
            lines.append(f"MISSING {word}" if most == 1 and quantity == "1" else f"MISSING {word} {int(quantity)}")
    return [*lines, *(["DONE"] if form.get("state") == "done" else [])]


def _one_line(text: str) -> str:
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())[:LONGEST]


def _words_of(cart: Cart) -> Iterable[tuple[str, int]]:
    for line in cart.trays:
        if line.set_id:
            yield line.set_id, 1
    seen: dict[str, int] = {}
    for sundry in sundries_of(cart):
        seen[sundry.need.thing] = seen.get(sundry.need.thing, 0) + sundry.need.open + sundry.need.hold
    yield from seen.items()


def _find(visit: Visit) -> tuple[Lookup, Cart]:
    plan = visit.desk.plan()
    cart = next((c for c in plan.carts if c.case.number == visit.path["case"]), None) if plan else None
    if plan is None or cart is None:
        raise NotHere
    return look_up(plan), cart


def _row(found: Lookup, cart: Cart, told: CartsTold) -> CartRow:
    number = cart.case.number
    facts = told.built.get(number)
    counts = told.revisions.get(number, found.plan.revision)
    older = ""
    if facts and facts.done and facts.revision < counts:
        older = f"built from list {facts.revision}; the changes of list {counts} are not told done"
    return CartRow(
        case=number,
        room=cart.case.room,
        start=found.when(cart.case.start),
        complete_by=found.when(cart.complete_by),
        surgeon=cart.surgeon_name,
        procedure=", ".join(cart.procedure_names),
        side=words.side_word(cart.side),
        stopped=bool(cart.stopped),
        state=_state(cart, facts),
        done=bool(facts and facts.done),
        begun=bool(facts and not facts.done),
        older=older,
        by=facts.by if facts else "",
        told=found.when(facts.at) if facts else "",
        remark=facts.remark if facts else "",
    )


def _state(cart: Cart, facts: BuiltCart | None) -> str:
    if cart.stopped:
        return "STOPPED"
    if facts is None:
        return "not begun"
    missing = f", {words.counted(len(facts.missing), 'thing')} missing" if facts.missing else ""
    return f"{'built' if facts.done else 'begun'}{missing}"


def _things(found: Lookup, cart: Cart, facts: BuiltCart | None) -> Iterable[ThingRow]:
    gone = facts.missing if facts else ()
    for line in cart.trays:
        if line.set_id:
            out = any((m.thing, m.copy) == (line.need.thing, line.copy) for m in gone)
            yield ThingRow(word=line.set_id, name=line.name, wanted="1 tray", most=1, missing=int(out), short=False)
    quantities = dict(_words_of(cart))
    for thing in dict.fromkeys(sundry.need.thing for sundry in sundries_of(cart)):
        lines = [sundry for sundry in sundries_of(cart) if sundry.need.thing == thing]
        opened, hold = sum(s.need.open for s in lines), sum(s.need.hold for s in lines)
        yield ThingRow(
            word=thing,
            name=lines[0].need.name or found.item(thing),
            wanted=words.open_and_hold(opened, hold),
            most=quantities[thing],
            missing=_missing_of(thing, gone),
            short=any(s.short_open or s.short_hold for s in lines),
        )


def _missing_of(thing: str, gone: Iterable[MissingThing]) -> int:
    return sum(m.quantity for m in gone if m.thing == thing and not m.copy)


def _beyond_form(facts: BuiltCart | None) -> bool:
    """Whether the crew told things by workbook or scanner that this form cannot show and would drop."""
    return bool(facts and (facts.sets or facts.stood_in or facts.counts or facts.scanned or facts.added))
