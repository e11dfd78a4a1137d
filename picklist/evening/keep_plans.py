"""Plans, printed lists, put-backs and open questions in the state file."""

from __future__ import annotations

import hashlib
import sqlite3
import zlib
from collections import Counter
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, datetime

from picklist.evening.changes import CartChange, CartChangeKind, ListInHand, PlanChange
from picklist.evening.content import CartThing, Content, Short, cart_content, short_of
from picklist.evening.held_sets import CartsOfDay, standing_carts
from picklist.evening.keep_decisions import decisions
from picklist.evening.keep_facts import PUT_BACKS, built_carts, carry_report, put_back_of, told_from_lists
from picklist.evening.match import CaseMatch
from picklist.evening.reported_cart import ReportedCart
from picklist.model.known import Candidate, Known, MatchQuestion, PutBack
from picklist.model.plan import Cart, Plan
from picklist.model.schedule import Case
from picklist.store.state import StateFile
from picklist.store.state_errors import DamagedPlanError, RevisionTakenError
from picklist.store.typed_records import BETWEEN, Rows

COMPARED = frozenset({CartChangeKind.CHANGED, CartChangeKind.UNCHANGED, CartChangeKind.CANCELLED})
_PIECES = Rows("list_piece", CartThing, fetch="")
_CANDIDATES = Rows("open_question", Candidate, old_case="kept_as")


def latest_revision(state: StateFile, day: date) -> int | None:
    """The newest revision of a day's plan; None when there is none. The next one is one more."""
    with state.reading() as db:
        return _latest(db, day)


def _latest(db: sqlite3.Connection, day: date) -> int | None:
    found: int | None = db.execute("SELECT max(revision) FROM plan WHERE day = ?", (day.isoformat(),)).fetchone()[0]
    return found


def site_mark(state: StateFile) -> str:
    """A mark of the site whose state this is, made of its first plan; empty before that. Also inside a transaction."""
    row = state.connection.execute("SELECT mark, digest, made_at FROM plan ORDER BY rowid LIMIT 1").fetchone()
    if row is None:
        return ""
    return row["mark"] or _mark(f"{row['digest']} {row['made_at']}")  # the second of plans kept before there was a mark


def _mark(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def newest_day(state: StateFile) -> date | None:
    """The day whose plan was made last; None before the first."""
    with state.reading() as db:
        row = db.execute("SELECT day FROM plan ORDER BY made_at DESC, day DESC LIMIT 1").fetchone()
    return date.fromisoformat(row["day"]) if row else None


def first_made(state: StateFile, day: date) -> datetime | None:
    """When the first plan of a day was made; None before it."""
    with state.reading() as db:
        row = db.execute(
            "SELECT made_at FROM plan WHERE day = ? ORDER BY revision LIMIT 1", (day.isoformat(),)
        ).fetchone()
    return datetime.fromisoformat(row["made_at"]) if row else None


def load_plan(state: StateFile, day: date, revision: int | None = None) -> bytes | None:
    """The plan.json of a day, the newest unless a revision is named; None when there is none. Raises StateError."""
    with state.reading() as db:
        wanted = _latest(db, day) if revision is None else revision
        row = db.execute("SELECT * FROM plan WHERE day = ? AND revision = ?", (day.isoformat(), wanted)).fetchone()
    if row is None:
        return None
    json = b""
    with suppress(zlib.error, TypeError):
        json = zlib.decompress(row["json"])
    if hashlib.sha256(json).hexdigest() != row["digest"]:
        raise DamagedPlanError(
            state.path, f"{state.path.name}: the plan of {day}, revision {wanted}, is damaged; build the day again"
        )
    return json


def listed_starts(state: StateFile, since: date) -> dict[date, tuple[datetime, ...]]:
    """Of each day from ``since`` on for which lists were printed: the starts of their cases, cancelled too."""
    with state.reading() as db:
        rows = db.execute(
            """
            SELECT day, start_at, max(revision) FROM cart JOIN cart_list USING (cart_id)
            WHERE day >= ? GROUP BY cart_id ORDER BY day, start_at
            """,
            (since.isoformat(),),
        ).fetchall()
    found: dict[date, tuple[datetime, ...]] = {}
    for row in rows:
        day = date.fromisoformat(row["day"])
        found[day] = (*found.get(day, ()), datetime.fromisoformat(row["start_at"]))
    return found


def lists_in_hand(state: StateFile, day: date) -> dict[str, ListInHand]:
    """The last printed list of every open cart, by the key under which the cart is kept."""
    with state.reading() as db:
        rows = db.execute(
            """
            SELECT kept_as, cart_id, max(revision) AS revision, cart_list.number AS list_number,
                room, start_at, surgeon, procedures
            FROM cart JOIN cart_list USING (cart_id) WHERE day = ? AND closed IS NULL GROUP BY cart_id ORDER BY kept_as
            """,
            (day.isoformat(),),
        ).fetchall()
        return {
            row["kept_as"]: ListInHand(
                revision=row["revision"],
                content=load_content(db, row["cart_id"], row["revision"]),
                short=_load_short(db, row["cart_id"], row["revision"]),
                number=row["list_number"],
                case=_listed_case(row, day),
            )
            for row in rows
        }


def carts_of_day(state: StateFile, day: date) -> CartsOfDay:
    """The open carts of a day: the reports on them, what is known to be on them, and their lists in hand."""
    return CartsOfDay(
        built=built_carts(state, day), reported=_reported_carts(state, day), in_hand=lists_in_hand(state, day)
    )


def _reported_carts(state: StateFile, day: date) -> dict[str, ReportedCart]:
    """What is known to be on every open cart on which somebody reported, by the key under which it is kept."""
    with state.reading() as db:
        rows = db.execute(
            "SELECT DISTINCT kept_as, cart_id FROM built_cart JOIN cart USING (cart_id) "
            "WHERE cart.day = ? AND closed IS NULL ORDER BY kept_as",
            (day.isoformat(),),
        ).fetchall()
        return {row["kept_as"]: _reported(db, row["cart_id"]) for row in rows}


def _reported(db: sqlite3.Connection, cart_id: int) -> ReportedCart:
    facts = told_from_lists(db, cart_id)
    mine = (cart_id, facts.revision)
    lists = "SELECT max(revision) FROM cart_list WHERE cart_id = ?"
    built_from = db.execute(f"{lists} AND revision <= ?", mine).fetchone()[0]
    back: Counter[tuple[str, str]] = Counter()
    since = "FROM put_back WHERE cart_id = ? AND revision > ?"
    for row in db.execute(f"SELECT * {since} AND done_at IS NOT NULL", mine):
        back[row["set_id"] or row["thing"], row["lot"]] += row["quantity"]
    named = f"SELECT set_id FROM list_piece WHERE cart_id = ? AND revision = ({lists}) AND set_id <> ''"
    leaving = db.execute(f"SELECT set_id {since} AND set_id IN ({named})", (*mine, cart_id, cart_id))
    return ReportedCart(
        facts=facts,
        content=load_content(db, cart_id, built_from),
        short=_load_short(db, cart_id, built_from),
        back=back,
        leaving=frozenset(row["set_id"] for row in leaving),
    )


def _listed_case(row: sqlite3.Row, day: date) -> Case:
    """A case as its list names it; how long it lasts and its side no list keeps."""
    return Case(
        number=row["kept_as"],
        day=day,
        room=row["room"],
        start=datetime.fromisoformat(row["start_at"]),
        minutes=0,
        surgeon=row["surgeon"],
        procedures=tuple(row["procedures"].split(BETWEEN)) if row["procedures"] else (),
    )


def standing_questions(state: StateFile, day: date) -> tuple[MatchQuestion, ...]:
    """Questions about cases that nobody has answered yet."""
    with state.reading() as db:
        rows = db.execute(
            "SELECT * FROM open_question WHERE day = ? ORDER BY new_case, score DESC, kept_as", (day.isoformat(),)
        ).fetchall()
    found: dict[str, list[Candidate]] = {}
    for row in rows:
        found.setdefault(row["new_case"], []).extend(_CANDIDATES.read([row]))
    return tuple(MatchQuestion(new_case=new, candidates=tuple(some)) for new, some in found.items())


def save_plan(
    state: StateFile,
    plan: Plan,
    plan_json: bytes,
    change: PlanChange,
    *,
    by: str = "",
    publish: Callable[[], None] | None = None,
) -> None:
    """Keep a plan with the lists it prints, its put-backs and its open questions, all or nothing.

    ``publish`` puts the finished documents in their place; it runs last, while nobody else can
    keep a plan, and when it fails nothing is kept. Raises RevisionTakenError when another plan
    of the day was kept since the one it replaces.
    """
    with state.writing() as db:
        latest = _latest(db, plan.day)
        if plan.replaces != latest or plan.revision != (latest or 0) + 1:
            raise RevisionTakenError(
                state.path,
                f"{state.path.name}: the newest plan of {plan.day} is revision {latest or 'none'}, and this one "
                f"would be revision {plan.revision} in place of {plan.replaces or 'none'}; it was not stored",
            )
        _insert_plan(db, plan, plan_json, by)
        _Keeper(db=db, plan=plan, change=change).keep()
        if publish is not None:
            publish()


def complete_plan(state: StateFile, plan: Plan, plan_json: bytes | None, publish: Callable[[], None]) -> None:
    """Keep a plan in the place of the same one without remedies and chances, with its documents: all or nothing.

    None for a plan that stays as it is kept, of which more documents are there. Raises RevisionTakenError when
    another plan of the day was kept since.
    """
    with state.writing() as db:
        latest = _latest(db, plan.day)
        if latest != plan.revision:
            raise RevisionTakenError(
                state.path,
                f"the lists of revision {plan.revision} of {plan.day} were handed out, and another build has replaced "
                f"them by revision {latest} since; the rest of revision {plan.revision} was not printed",
            )
        if plan_json is not None:
            db.execute(
                "UPDATE plan SET digest = ?, json = ? WHERE day = ? AND revision = ?",
                (*_packed(plan_json), plan.day.isoformat(), plan.revision),
            )
        publish()


def _packed(plan_json: bytes) -> tuple[str, bytes]:
    """The digest of a plan.json and its bytes as they are kept."""
    quick = 4  # lists wait for it: half the time of the usual 6, an eighth longer
    return hashlib.sha256(plan_json).hexdigest(), zlib.compress(plan_json, quick)


def _insert_plan(db: sqlite3.Connection, plan: Plan, plan_json: bytes, by: str) -> None:
    first = db.execute("SELECT 1 FROM plan LIMIT 1").fetchone() is None
    db.execute(
        "INSERT INTO plan (day, revision, replaces, made_at, made_by, digest, json, mark) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            plan.day.isoformat(),
            plan.revision,
            plan.replaces,
            plan.now.isoformat(),
            by,
            *_packed(plan_json),
            _mark(repr((plan.now, plan.settings, plan.cases, plan.carts, plan.sets))) if first else None,
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Keeper:
    """Writes what a change means for carts and lists, inside one transaction."""

    db: sqlite3.Connection
    plan: Plan
    change: PlanChange

    def keep(self) -> None:
        day = self.plan.day.isoformat()
        rows = self.db.execute("SELECT kept_as, cart_id FROM cart WHERE day = ? AND closed IS NULL", (day,))
        carts = {row["kept_as"]: row["cart_id"] for row in rows}
        for cart in self.change.carts:
            if cart.kind in COMPARED and not self._is_running(cart):
                self._store_put_backs(cart, carts)
        gone = {c.case for c in self.change.carts if c.kind is CartChangeKind.CANCELLED}
        for key in sorted(gone | set(self.change.match.superseded)):
            self._close(carts.pop(key, None))
        renamed = self._rename(carts)
        homes = {one.id: one.place for one in self.plan.sets}
        for cart in self.change.carts:
            planned = self.plan.cart(cart.case) if cart.is_live else None
            if planned is not None:
                cart_id = self._cart_of(cart, carts)
                self._store_list(cart, cart_id, planned, homes)
                if cart.report:
                    carry_report(self.db, cart_id, cart.report, self.plan.now)
        self._store_questions(renamed)

    def _is_running(self, cart: CartChange) -> bool:
        """Whether a cart is in its room, where nothing is asked of it any more."""
        planned = self.plan.cart(cart.case) if cart.is_live else None
        return planned is not None and planned.case.is_running

    def _close(self, cart_id: int | None) -> None:
        self.db.execute("UPDATE cart SET closed = ? WHERE cart_id = ?", (self.plan.revision, cart_id))

    def _rename(self, carts: Mapping[str, int]) -> dict[str, str]:
        """Give carts their new numbers; a doubtful cart whose number is taken is kept under a longer name."""
        names = self.change.names_kept()
        doubtful = set(self.change.match.asked_old)
        moving = {key: name for key, name in names.items() if key in carts and key != name}
        for key in moving:
            self.db.execute("UPDATE cart SET kept_as = '#' || cart_id WHERE cart_id = ?", (carts[key],))
        for key, name in moving.items():
            number = key if key in doubtful else name
            self.db.execute("UPDATE cart SET kept_as = ?, number = ? WHERE cart_id = ?", (name, number, carts[key]))
        return moving

    def _cart_of(self, cart: CartChange, carts: Mapping[str, int]) -> int:
        """The row of a cart, made when it has none yet."""
        if cart.old_case in carts:
            return carts[cart.old_case]
        # A plan that was compared with nothing starts its carts anew.
        self.db.execute(
            "UPDATE cart SET closed = ? WHERE day = ? AND kept_as = ? AND closed IS NULL",
            (self.plan.revision, self.plan.day.isoformat(), cart.case),
        )
        made = self.db.execute(
            "INSERT INTO cart (day, number, kept_as, opened) VALUES (?, ?, ?, ?)",
            (self.plan.day.isoformat(), cart.case, cart.case, self.plan.revision),
        )
        assert made.lastrowid is not None
        return made.lastrowid

    def _store_list(self, cart: CartChange, cart_id: int, planned: Cart, homes: Mapping[str, str]) -> None:
        if not cart.prints or cart.kind is CartChangeKind.STOPPED:
            return
        case = planned.case
        self.db.execute(
            "INSERT INTO cart_list VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                cart_id,
                cart.revision,
                case.number,
                cart.replaces,
                cart.made.isoformat(),
                case.room,
                case.start.isoformat(),
                case.surgeon,
                BETWEEN.join(case.procedures),
            ),
        )
        store_content(self.db, cart_id, cart.revision, cart_content(planned, homes))
        for (thing, person), many in short_of(planned).items():
            row = (cart_id, cart.revision, thing, person, many)
            self.db.execute("INSERT INTO list_short VALUES (?, ?, ?, ?, ?)", row)

    def _store_put_backs(self, cart: CartChange, carts: Mapping[str, int]) -> None:
        """What comes off, also of carts not reported as started: they may yet be (see ``open_put_backs``).

        Of a cart that was reported it is all that is still to come off since then, whichever list asked for it first.
        """
        key = cart.old_case or cart.case
        cart_id, off = carts.get(key), [put_back_of(line, key, cart.revision) for line in cart.take_off]
        if cart.built_from is not None:
            since = "FROM put_back WHERE cart_id = ? AND revision > ? AND done_at IS NULL"
            for row in self.db.execute(f"SELECT * {since}", (cart_id, cart.built_from)).fetchall():
                [asked] = PUT_BACKS.read([row])
                same = next((one for one in off if replace(one, id=asked.id, revision=asked.revision) == asked), None)
                if same is None:
                    self.db.execute("DELETE FROM put_back WHERE put_back_id = ?", (asked.id,))
                else:
                    off.remove(same)
        PUT_BACKS.keep(self.db, off, put_back_id=None, day=self.plan.day.isoformat(), cart_id=cart_id)

    def _store_questions(self, renamed: Mapping[str, str]) -> None:
        day = self.plan.day.isoformat()
        self.db.execute("DELETE FROM open_question WHERE day = ?", (day,))
        for question in self.change.questions:
            some = (replace(one, old_case=renamed.get(one.old_case, one.old_case)) for one in question.candidates)
            _CANDIDATES.keep(self.db, some, day=day, new_case=question.new_case, asked_in=self.plan.revision)


def store_content(db: sqlite3.Connection, cart_id: int, revision: int, content: Content) -> None:
    """Write what a list puts on a cart, in the list's order."""
    for piece in sorted(content, key=lambda p: p.order):
        _PIECES.keep(db, [piece], cart_id=cart_id, revision=revision, quantity=content[piece])


def load_content(db: sqlite3.Connection, cart_id: int, revision: int) -> Content:
    """What a printed list put on a cart."""
    found = "SELECT * FROM list_piece WHERE cart_id = ? AND revision = ? ORDER BY rowid"
    rows = db.execute(found, (cart_id, revision)).fetchall()
    return Counter(dict(zip(_PIECES.read(rows), (row["quantity"] for row in rows), strict=True)))


def _load_short(db: sqlite3.Connection, cart_id: int, revision: int) -> Short:
    """What a printed list asked for and no shelf gave."""
    rows = db.execute("SELECT * FROM list_short WHERE cart_id = ? AND revision = ?", (cart_id, revision)).fetchall()
    return Counter({(row["thing"], row["person"]): row["quantity"] for row in rows})


def put_backs(state: StateFile, day: date, carts: CartsOfDay | None = None) -> tuple[PutBack, ...]:
    """All that was to be put back on a day, done or not, in the order in which it was asked.

    ``carts`` are its open carts, where they are read already.

    Only from carts reported as started or built from an earlier list, even after the change: of a cart that
    nobody started, or that was started from the new list, everything is where it should be. Nor is a set to be put
    back that the newest list of the same cart has again, or that a newer one takes off again, or that is on a cart as
    reported since it was asked for; nor is it what a cart has that was built since for the same case, which was gone
    and came back.
    """
    with state.reading() as db:
        rows = db.execute(
            """
            SELECT * FROM put_back WHERE day = ? AND EXISTS (
                SELECT * FROM built_cart
                WHERE built_cart.cart_id = put_back.cart_id AND built_cart.revision < put_back.revision
            ) AND (done_at IS NOT NULL OR set_id = '' OR NOT EXISTS (
                SELECT * FROM list_piece WHERE list_piece.cart_id = put_back.cart_id
                AND list_piece.set_id = put_back.set_id AND list_piece.revision > put_back.revision
                AND list_piece.revision = (
                    SELECT max(revision) FROM cart_list WHERE cart_list.cart_id = put_back.cart_id
                )
            ) AND NOT EXISTS (
                SELECT * FROM put_back AS since WHERE since.cart_id = put_back.cart_id
                AND since.set_id = put_back.set_id AND since.revision > put_back.revision
            )) AND (done_at IS NOT NULL OR NOT EXISTS (
                SELECT * FROM built_cart JOIN cart USING (cart_id)
                WHERE cart.day = put_back.day AND cart.number = put_back.number AND cart_id <> put_back.cart_id
                AND built_cart.done AND built_cart.revision >= put_back.revision
                AND (
                    SELECT sum(quantity) FROM list_piece
                    WHERE list_piece.cart_id = cart.cart_id AND (thing, lot) = (put_back.thing, put_back.lot)
                    AND list_piece.set_id = '' AND list_piece.revision = (
                        SELECT max(revision) FROM cart_list
                        WHERE cart_list.cart_id = cart.cart_id AND cart_list.revision <= built_cart.revision
                    )
                ) >= (
                    SELECT sum(quantity) FROM put_back AS same
                    WHERE (same.cart_id, same.revision, same.thing, same.lot)
                    = (put_back.cart_id, put_back.revision, put_back.thing, put_back.lot)
                )
            )) ORDER BY put_back_id
            """,
            (day.isoformat(),),
        ).fetchall()
    asked = PUT_BACKS.read(rows)
    if not asked:
        return ()
    carts = carts or carts_of_day(state, day)
    stand = standing_carts(carts, CaseMatch())
    since = {set_id: carts.built[key].revision for key, one in stand.items() for set_id in one.sets.values()}
    return tuple(one for one in asked if one.done_at or since.get(one.set_id, 0) < one.revision)


def open_put_backs(state: StateFile, day: date, carts: CartsOfDay | None = None) -> tuple[PutBack, ...]:
    """What is still to be put back, in the order in which it was asked; ``carts`` as for ``put_backs``."""
    return tuple(one for one in put_backs(state, day, carts) if one.done_at is None)


def what_is_known(state: StateFile, day: date) -> Known:
    """What the state knows of a day beside its plan."""
    return Known(
        built=built_carts(state, day),
        revisions={key: held.revision for key, held in lists_in_hand(state, day).items()},
        decided=decisions(state, day),
        questions=standing_questions(state, day),
        put_backs=open_put_backs(state, day),
    )
