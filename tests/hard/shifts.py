"""What people do on evenings and days of a small site, each act at random, and what must hold after it."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from pathlib import Path

from picklist.documents.plan_json import plan_to_json
from picklist.model.known import PutBack
from picklist.problems import must_be_fixed
from picklist.tasks.build import Built, Wanted, build_day
from picklist.tasks.cart_form import cells_of, report_mark, with_cells
from picklist.tasks.cart_reports import carts_told, put_backs_told, tell_put_back
from picklist.tasks.crew import tell_by_form
from picklist.tasks.day_after import settle_day, tell_used
from picklist.tasks.morning import print_morning
from tests.hard.books import Books, CartBook, CrewsWord, JudgedWrongError, Piece, bodies, by_line, of_lines, of_paper
from tests.tasks.small_folder import tell_by_scans

FIRST = date(2026, 11, 26)
EVENING = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 - the site's wall time
DAYS = 3
WARNED = ("expired", "set not usable")  # kept, and named as a problem
Row = dict[str, str]

ACTS = {  # how often each is done
    "build": 10,
    "again": 2,
    "report": 12,
    "found": 2,
    "put_back": 2,
    "used": 3,
    "settle": 2,
    "morning": 2,
    "move": 2,
    "room": 1,
    "cancel": 3,
    "uncancel": 2,
    "renumber": 1,
    "other_day": 2,
    "add": 2,
    "delete": 1,
    "procedure": 2,
    "status": 1,
    "stock": 3,
    "state_of_set": 2,
    "later": 2,
    "next_shift": 1,
}


def gtin(item: str) -> str:
    """A number for an item's label, with its check digit (GS1 General Specifications 7.9)."""
    digits = f"9521234{item}"
    total = sum(int(digit) * (3 if at % 2 == 0 else 1) for at, digit in enumerate(digits))
    return f"{digits}{-total % 10}"


ITEMS = {"100001": "Drape", "100002": "Towel", "100003": "Sponge"}
STANDING = {
    "Settings": "setting,value\nsite,Example Hospital\ntime zone,UTC\n",
    "Rooms": "room,building\nOR 1,\nOR 2,\nOR 3,\n",
    "Staff": "person,name\nS1,Dr. Example\nS2,Dr. Sample\nS3,Dr. Specimen\n",
    "Procedures": "procedure,name,pack\nP1,Wrist repair,\nP2,Ankle repair,\nP3,Two wrists,PK-1\n",
    "Packs": "pack,name,item,quantity\nPK-1,Wrist pack,100003,1\n",
    "Trays": "tray,name,route,sided,stand-ins\nT-WR,Wrist tray,R,no,T-WX\nT-WX,Old wrist tray,R,no,\n"
    "T-AN,Ankle tray,R,no,\nT-HO,Saw,R,no,\n",
    "Routes": "route,step,after,usual minutes,least minutes\nR,wash,,60,40\nR,sterilize,wash,120,80\n",
    "Items": "item,name,unit,place,GTIN\n"
    + "".join(f"{one},{name},each,B-1-{one[-1]},{gtin(one)}\n" for one, name in ITEMS.items()),
    "Cards": "procedure,surgeon,change,kind,thing,open,hold,approved\n"
    "P1,,add,tray,T-WR,1,0,yes\nP1,,add,item,100001,2,1,yes\nP1,,add,item,100003,1,0,yes\n"
    "P1,S1,add,item,100002,1,0,yes\nP2,,add,tray,T-AN,1,0,yes\nP2,,add,tray,T-HO,0,1,yes\n"
    "P2,,add,item,100002,2,0,yes\nP2,,add,item,100001,1,0,yes\nP3,,add,tray,T-WR,2,0,yes\n"
    "P3,,add,item,100001,3,1,yes\nP3,,add,item,100003,3,1,yes\n",
}
SCHEDULE = "case,day,room,start,minutes,surgeon,procedures,side,status"
CASES = (
    "M1,2026-11-26,OR 1,07:30,60,S1,P1,none,planned",
    "M2,2026-11-26,OR 2,08:00,60,S2,P2,none,planned",
    "M3,2026-11-26,OR 3,13:00,60,S3,P1,none,planned",
    "N1,2026-11-27,OR 1,07:30,60,S1,P1,none,planned",
    "N2,2026-11-27,OR 2,09:00,90,S2,P3,none,planned",
    "Q1,2026-11-28,OR 1,08:00,60,S3,P2,none,planned",
)
SETS = (
    *(f"WR-0{n},T-WR,,on shelf,,,,A-1-{n}" for n in (1, 2, 3)),
    "WX-01,T-WX,,on shelf,,,,A-2-1",
    "AN-01,T-AN,,on shelf,,,,A-3-1",
    "AN-02,T-AN,,on shelf,,,,A-3-2",
    "HO-01,T-HO,,on shelf,,,,A-4-1",
)
LOTS = (
    "100001,L1,9,2027-01-31,B-1-1",
    "100001,L2,9,2028-01-31,B-1-1",
    "100002,T1,7,2027-01-31,B-1-2",
    "100003,S1,8,,B-1-3",
    "100003,S2,4,2027-05-31,B-1-3",
    "PK-1,K1,3,2027-05-31,C-1-1",
)


def rows_of(head: str, lines: Sequence[str]) -> list[Row]:
    """Lines of a table as rows."""
    return [dict(zip(head.split(","), line.split(","), strict=True)) for line in lines]


class Shifts:
    """The site's folder, its sheets, the clock and the books. Each act takes three numbers that choose for it."""

    def __init__(self, place: Path) -> None:
        self.place, self.folder, self.out = place, place / "site", place / "out"
        self.folder.mkdir(parents=True)
        for name, text in STANDING.items():
            (self.folder / f"{name}.csv").write_text(text, encoding="utf-8")
        self.schedule = rows_of(SCHEDULE, CASES)
        self.sets = rows_of("set,tray,side,state,step,step since,in case,place", SETS)
        self.lots = rows_of("item,lot,quantity,expiry,place", LOTS)
        for name, rows in (("Schedule", self.schedule), ("Sets", self.sets), ("Lots", self.lots)):
            self._write(name, rows)
        self.now, self.books = EVENING, Books()
        self.numbers = 0
        self.settled_days: set[date] = set()
        self.last_built: date | None = None

    def act(self, name: str, a: int, b: int, c: int) -> str:
        """Do one act, five minutes after the one before; what was done, empty where there was nothing to do."""
        self.now += timedelta(minutes=5)
        said: str = getattr(self, name)(a, b, c)
        return said

    def _write(self, name: str, rows: list[Row]) -> None:
        with (self.folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)

    def _read(self, name: str) -> list[Row]:
        with (self.folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    @property
    def _instant(self) -> datetime:
        return self.now.replace(tzinfo=UTC)

    # What the schedule says

    def _change(self, at: int, column: str, value: str, status: str = "planned") -> str:
        """Change a cell of a case with that status."""
        some = [row for row in self.schedule if row["status"] == status]
        if not some:
            return ""
        row = some[at % len(some)]
        was, row[column] = row[column], value
        self._write("Schedule", self.schedule)
        return f"{row['case']}: {column} {was} -> {value}"

    def move(self, a: int, b: int, _c: int) -> str:
        """A case starts at another time."""
        return self._change(a, "start", ("06:30", "07:30", "08:30", "10:00", "13:00", "16:00")[b % 6])

    def room(self, a: int, b: int, _c: int) -> str:
        """A case goes to another room."""
        return self._change(a, "room", f"OR {b % 3 + 1}")

    def cancel(self, a: int, _b: int, _c: int) -> str:
        """A case is cancelled."""
        return self._change(a, "status", "cancelled")

    def uncancel(self, a: int, _b: int, _c: int) -> str:
        """A cancelled case is on again."""
        return self._change(a, "status", "planned", "cancelled")

    def renumber(self, a: int, _b: int, _c: int) -> str:
        """A case gets another number."""
        self.numbers += 1
        return self._change(a, "case", f"X{self.numbers}")

    def other_day(self, a: int, b: int, _c: int) -> str:
        """A case is put on another day."""
        return self._change(a, "day", (FIRST + timedelta(days=b % DAYS)).isoformat())

    def procedure(self, a: int, b: int, _c: int) -> str:
        """Another procedure is planned for a case."""
        return self._change(a, "procedures", f"P{b % 3 + 1}")

    def add(self, a: int, b: int, c: int) -> str:
        """A new case."""
        self.numbers += 1
        day, start = (FIRST + timedelta(days=a % DAYS)).isoformat(), ("07:00", "10:30", "14:00")[c % 3]
        room, surgeon = f"OR {(a + c) % 3 + 1}", f"S{c % 3 + 1}"
        line = f"X{self.numbers},{day},{room},{start},60,{surgeon},P{b % 3 + 1},none,planned"
        self.schedule += rows_of(SCHEDULE, [line])
        self._write("Schedule", self.schedule)
        return f"new: {line}"

    def delete(self, a: int, _b: int, _c: int) -> str:
        """A row goes from the schedule, of whatever case."""
        if len(self.schedule) < 2:
            return ""
        row = self.schedule.pop(a % len(self.schedule))
        self._write("Schedule", self.schedule)
        return f"{row['case']} deleted"

    def status(self, _a: int, b: int, _c: int) -> str:
        """What has begun is running, what is past is done, or still running where nobody said so."""
        said = []
        for row in self.schedule:
            start = datetime.fromisoformat(f"{row['day']} {row['start']}")
            if row["status"] in ("planned", "running") and start <= self.now:
                over = start + timedelta(minutes=int(row["minutes"])) <= self.now
                row["status"] = "done" if over and b % 4 else "running"
                said.append(f"{row['case']} {row['status']}")
        self._write("Schedule", self.schedule)
        return ", ".join(said)

    # What shelves and clock say

    def stock(self, a: int, b: int, c: int) -> str:
        """A count, a delivery, another expiry, or a new lot."""
        row = self.lots[a % len(self.lots)]
        match b % 4:
            case 0:
                row["quantity"] = str(max(0, int(row["quantity"]) - c % 5))
            case 1:
                row["quantity"] = str(int(row["quantity"]) + c % 7)
            case 2:
                row["expiry"] = ("2026-11-20", "2026-11-26", "2027-03-31")[c % 3]
            case _:
                self.numbers += 1
                row = {**row, "lot": f"L9{self.numbers}", "quantity": str(c % 6)}
                self.lots.append(row)
        self._write("Lots", self.lots)
        return "stock: " + " ".join(row.values())

    def state_of_set(self, a: int, b: int, _c: int) -> str:
        """Somebody writes where a set is."""
        row = self.sets[a % len(self.sets)]
        row["state"] = ("on shelf", "on shelf", "dirty", "incomplete")[b % 4]
        row["step since"] = self.now.strftime("%Y-%m-%d %H:%M") if row["state"] == "dirty" else ""
        self._write("Sets", self.sets)
        return f"set {row['set']}: {row['state']}"

    def later(self, a: int, _b: int, _c: int) -> str:
        """Some time goes by."""
        self.now += timedelta(minutes=(20, 60, 150)[a % 3])
        return "it is later"

    def next_shift(self, a: int, b: int, _c: int) -> str:
        """It is evening, morning or noon; mostly the schedule says what is over by then."""
        to = self.now.replace(hour=(18, 6, 12)[a % 3], minute=0)
        self.now = to if to > self.now else to + timedelta(days=1)
        return f"next shift; {self.status(0, b, 0) if b % 5 else ''}"

    # Builds

    def build(self, a: int, _b: int, _c: int) -> str:
        """The next day with cases, or one after it."""
        today = self.now.date().isoformat()
        days = sorted({row["day"] for row in self.schedule if row["status"] == "planned" and row["day"] >= today})
        return _kinds(self._build(date.fromisoformat(days[a % 5 % len(days)]))) if days else ""

    def again(self, _a: int, _b: int, _c: int) -> str:
        """The last build three times more: the third changes nothing.

        The second may: what the first takes off a built cart goes back to its shelf.
        """
        if not any(row["day"] == str(self.last_built) and row["status"] == "planned" for row in self.schedule):
            return ""
        assert self.last_built is not None
        self._build(self.last_built)
        first, lists = self._build(self.last_built), self._lists()
        second = self._build(self.last_built)
        assert first.plan is not None
        assert second.plan is not None
        same = {cart.case.number: of_paper(cart) for cart in first.plan.carts}
        if same != {cart.case.number: of_paper(cart) for cart in second.plan.carts} or self._lists() != lists:
            raise JudgedWrongError(f"again: other lists, {_kinds(second)}")
        if second.change is not None and any(one.prints for one in second.change.carts if one.is_live):
            raise JudgedWrongError(f"again: something changes, {_kinds(second)}")
        return f"twice the same: {_kinds(second)}"

    def _lists(self) -> dict[str, bytes]:
        return {path.name: path.read_bytes() for path in sorted((self.out / "pick-lists").glob("*.pdf"))}

    def _build(self, day: date) -> Built:
        wanted = Wanted(folder=self.folder, out=self.out, now=self.now, day=day, with_chance=False)
        built = build_day(wanted, lambda *_: None)
        if built.plan is None or built.change is None:
            raise JudgedWrongError(f"no plan: {[str(one) for one in built.problems]}")
        if (self.out / "plan.json").read_bytes() != plan_to_json(built.plan):
            raise JudgedWrongError("plan.json: it is not the plan")
        self.books.take(built.plan, built.change)
        self._look_at_promises(built)
        self._look_at_sets(day)
        self._look_at_put_backs(day)
        self.last_built = day
        return built

    def _look_at_promises(self, built: Built) -> None:
        """What lists ask for is on a shelf, is on no cart, and does not expire before its day."""
        assert built.plan is not None
        assert built.change is not None
        day = built.plan.day
        wants, on = Counter[tuple[str, str]](), Counter[tuple[str, str]]()
        for one in self.books.every():
            if (one.day != day or one.over) and one.built and not (one.settled or one.gone) and self._counts(one):
                on += bodies(one.there)
        running = {row["case"] for row in self.schedule if row["status"] == "running"}
        for change in built.change.carts:
            book = self.books.carts.get((day, change.case))
            if book is None or book.stopped or not change.is_live:
                continue
            if change.case in running:  # it has its things in the room
                on += bodies(book.lists)
                continue
            add = bodies(of_lines(change.add)) if book.built else bodies(book.listed)
            wants += add
            on += bodies(book.there) if book.built and not book.settled else Counter()
        there = {(row["item"], row["lot"]): (int(row["quantity"]), row["expiry"]) for row in self.lots}
        for body, many in wants.items():
            quantity, expiry = there.get(body, (0, ""))
            if body[1] and many > max(0, quantity - on[body]):  # of sets and what has no lot see elsewhere
                raise JudgedWrongError(f"promised twice: {many} of {body}, {quantity} in stock, {on[body]} on carts")
            if expiry and expiry < day.isoformat():
                raise JudgedWrongError(f"expired: {body} on {day}")

    def _counts(self, one: CartBook) -> bool:
        """Whether its day counts, and the schedule has the case on it; else what is on its cart is to come off.

        Of the days that are over only those after the last one that was settled count.
        """
        today = self.now.date()
        since = max((day for day in self.settled_days if day < today), default=today)
        return (one.day > since or one.day >= today) and any(
            (row["case"], row["day"]) == (one.number, one.day.isoformat()) and row["status"] != "cancelled"
            for row in self.schedule
        )

    def _look_at_sets(self, day: date) -> None:
        """No set is on two carts at once: on a built one from now on, on another when that must be complete.

        A list may take a set from a built cart of a later case, which gets it back in time.
        """
        live = {row["case"] for row in self.schedule if row["status"] in ("planned", "running")}
        spans: dict[str, list[tuple[datetime, datetime, str, bool]]] = {}
        for (its, number), one in self.books.carts.items():
            counts = number in live and not (one.stopped or one.gone or one.over) and one.end >= self._instant
            for piece in one.lists if counts and (its == day or one.built) else ():
                if piece.is_set:
                    there = one.built and piece.thing in {each.thing for each in one.there}
                    begins = min(self._instant, one.by) if there else one.by
                    spans.setdefault(piece.thing, []).append((begins, one.end, number, there))
        for set_id, some in spans.items():
            for (_, until, first, there), (begins, _, then, also) in pairwise(sorted(some)):
                if begins < until and there == also:
                    raise JudgedWrongError(f"set twice: {set_id} of {first} until {until}, of {then} from {begins}")

    def _look_at_put_backs(self, day: date) -> None:
        """What is to be put back of a day: once what came off carts that somebody reported on an earlier list.

        Not what is on a cart again, as reported since, of the same case if it is goods.
        """
        told, mine = Counter[tuple[str, str]](), Counter[tuple[str, str]]()
        for back in put_backs_told(self.folder, day):
            told[back.set_id or back.thing, back.lot] += back.quantity
        for one in self.books.every():
            listed = {piece.thing for piece in one.listed if piece.is_set}
            for off in (*one.off, *one.off_done) if one.day == day else ():
                newer = any(other.rev > off.rev for other in (*one.off, *one.off_done) if other.thing == off.thing)
                anew = off.thing in {row["set"] for row in self.sets} and (
                    newer or (off.thing in listed and off.rev < one.rev)
                )
                if any(rev < off.rev for rev in one.told_revs) and not (anew and off in one.off):
                    mine[off.thing, off.lot] += off.many
        again = self._on_other_carts(None)
        for one in self.books.every():
            came = one.gone and any(other.number == one.number and other.built for other in self.books.of_day(day))
            again |= {off.thing for off in one.off if came}
        left = {key: many for key, many in (mine - told).items() if key[0] not in again}
        if left or told - mine:
            raise JudgedWrongError(f"put back: {dict(told - mine)} too many, {left} not asked for")

    # Reports of the crew

    def report(self, a: int, b: int, c: int) -> str:
        """A cart is started or built, from the list in hand, as planned or with one thing otherwise."""
        some = [one for _, one in sorted(self.books.carts.items()) if one.rev and not one.stopped and not one.over]
        if not some:
            return ""
        one = some[a % len(some)]
        told = one.told.copy() if one.told else CrewsWord(rev=one.rev)
        lines = self._exception(one, told, b % 9, c)
        if lines is None:
            return ""
        done = [] if b % 9 == 2 else ["DONE"]
        return self._tell(one, told, [f"{one.number}.R{one.rev}", "BY ab", *lines, *done])

    def _exception(self, one: CartBook, told: CrewsWord, kind: int, c: int) -> list[str] | None:
        """What is scanned beside the cart, and the word of it; None where there is no such thing."""
        goods = sorted({piece.wanted for piece in one.listed if not piece.is_set})
        trays = sorted(piece for piece in one.listed if piece.is_set)
        item, tray = (some[c % len(some)] if some else None for some in (goods, trays))
        match kind:
            case 0 | 1:
                return []
            case 2 if isinstance(tray, Piece) and not told.missing[tray.wanted] and tray.wanted not in told.sets:
                told.sets[tray.wanted] = tray.thing
                return [tray.thing]
            case 3 if isinstance(item, str):
                told.missing[item] = c % by_line(one.listed)[item] + 1
                return [f"MISSING {item} {told.missing[item]}"]
            case 4 if isinstance(tray, Piece) and tray.wanted not in told.sets:
                told.missing[tray.wanted] = 1
                return [f"MISSING {tray.thing}"]
            case 5 if isinstance(tray, Piece) and (other := self._other_set(one, tray, told)):
                told.sets[tray.wanted] = other
                del told.missing[tray.wanted]
                return [f"INSTEAD {tray.thing} {other}"]
            case 6 if (
                (thing := sorted(ITEMS)[c % 3]) not in goods
                and (lot := self._lot(thing, c))
                and (thing, lot) not in told.added
            ):
                told.added[thing, lot] += 1
                return [f"(01){gtin(thing)}(10){lot}"]
            case 7 if isinstance(item, str) and item in ITEMS:
                return self._other_lot(one, item, told, c)
            case 8 if "100001" in goods and "100001" not in told.stood and not told.missing["100001"]:
                told.stood["100001"] = ("100002", 1)
                return ["INSTEAD 100001 100002 1"]
            case _:
                return None

    def _other_set(self, one: CartBook, tray: Piece, told: CrewsWord) -> str:
        """A set that would do and stands on its shelf."""
        fits = {tray.line, "T-WX"} if tray.line == "T-WR" else {tray.line}
        own = {piece.thing for piece in one.listed if piece.is_set} | set(told.sets.values())
        taken = self._on_other_carts(None) | own
        free = (row for row in self.sets if row["tray"] in fits and row["state"] == "on shelf")
        return next((row["set"] for row in free if row["set"] not in taken), "")

    def _lot(self, item: str, at: int) -> str:
        some = [row["lot"] for row in self.lots if row["item"] == item and int(row["quantity"])]
        return some[at % len(some)] if some else ""

    def _other_lot(self, one: CartBook, item: str, told: CrewsWord, at: int) -> list[str] | None:
        """Some packages of another lot, and the rest of the listed one."""
        own = Counter({piece.lot: many for piece, many in one.listed.items() if piece.wanted == item})
        lot, total = self._lot(item, at), by_line(one.listed)[item]
        if told.lots.get(item) or told.missing[item] or item in told.stood or len(own) != 1 or lot in ("", *own):
            return None
        some, [listed] = at % total + 1, own
        told.lots[item] = +Counter({lot: some, listed: total - some})
        label = f"(01){gtin(item)}(10)"
        return [*[label + lot] * some, *[label + listed] * (total - some)]

    def _on_other_carts(self, one: CartBook | None) -> set[str]:
        """Sets that really are on carts, but that one."""
        others = [other for other in self.books.every() if other is not one and not other.settled]
        built = {piece.thing for other in others if other.built for piece in other.there if piece.is_set}
        return built | {set_id for other in others if other.told for set_id in other.told.sets.values()}

    def _tell(self, one: CartBook, told: CrewsWord, lines: list[str]) -> str:
        said, whole = f"{one.day} {' / '.join(lines)}", lines[-1] == "DONE"
        coming = {line for line, at in one.expected.items() if at > self._instant}
        mine = {
            piece.thing for piece in told.on_cart(one.listed, one.short) if piece.is_set and piece.wanted not in coming
        }
        if (mine if whole else set(told.sets.values())) & self._on_other_carts(one):
            return f"{said}: the sets are elsewhere"
        result = tell_by_scans(self.folder, lines, self.now, one.day)
        if not result.kept or must_be_fixed(
            tuple(problem for problem in result.problems if problem.kind not in WARNED)
        ):
            return f"{said}: refused, {[problem.kind for problem in result.problems]}"
        newly = whole and not (one.built and told.rev == one.rev)
        if whole and one.rev > told.rev:  # of sets reported before those stay that the list names too
            named = {piece.wanted: piece.thing for piece in one.listed if piece.is_set}
            before = one.told.sets if one.told else {}
            told.sets = {at: one for at, one in told.sets.items() if named.get(at) == one or before.get(at) != one}
        told.rev = one.rev if whole else told.rev
        told.done |= whole
        if newly:
            one.waits = {piece.thing for piece in one.listed if piece.wanted in coming}
        one.waits -= set(told.sets.values())
        one.say(told, moved=whole or not told.done)
        known = carts_told(self.folder, one.day).built
        tell_by_scans(self.folder, lines, self.now, one.day)
        if carts_told(self.folder, one.day).built != known:
            raise JudgedWrongError(f"report: the same again says something else, {said}")
        return said

    def found(self, a: int, b: int, _c: int) -> str:
        """What was missing of a cart is found, and somebody corrects the report on the page."""
        some = [one for _, one in sorted(self.books.carts.items()) if one.told and +one.told.missing]
        some = [one for one in some if not (one.stopped or one.over or one.gone)]
        if not some:
            return ""
        one = some[a % len(some)]
        assert one.told is not None
        told, line = one.told.copy(), sorted(+one.told.missing)[b % len(+one.told.missing)]
        del told.missing[line]
        there = told.on_cart(one.listed, one.short)
        if {piece.thing for piece in there if piece.wanted == line} & self._on_other_carts(one):
            return ""
        thing, _, copy = line.partition("#")
        known, key = carts_told(self.folder, one.day).built[one.number], (thing, int(copy or 0))
        said = with_cells(known, key, replace(cells_of(known, key), missing=0))
        result = tell_by_form(self.folder, one.number, said, report_mark(known), self.now)
        if not result.kept:
            return f"{line} of {one.number} is found: refused, {[problem.kind for problem in result.problems]}"
        one.say(told, moved=False)
        one.waits -= {piece.thing for piece in there if piece.wanted == line}
        return f"{line} of {one.number} on {one.day} is found"

    def put_back(self, a: int, b: int, _c: int) -> str:
        """Some of what is to be put back is back; to say so twice counts once."""
        days = sorted(self.books.revision)
        some = [one for one in put_backs_told(self.folder, days[a % len(days)]) if one.done_at is None] if days else []
        if not some:
            return ""
        ids = [one.id for one in (some[: b % len(some) + 1] if b % 3 else some)]
        day = days[a % len(days)]
        tell_put_back(self.folder, day, ids, "ab", self.now)
        for back in (one for one in some if one.id in ids):
            self._is_back(day, back)
        if tell_put_back(self.folder, day, ids, "ab", self.now):
            raise JudgedWrongError("put back: the same again counts again")
        return f"{len(ids)} put back of {day}"

    def _is_back(self, day: date, back: PutBack) -> None:
        """One line of what is to be put back is done: it is on its cart no more."""
        what = (back.set_id or back.thing, back.lot, back.quantity)
        for one in sorted(self.books.every(), key=lambda one: one.number != back.case):
            for off in one.off if one.day == day else ():
                if (off.thing, off.lot, off.many) == what and any(rev < off.rev for rev in one.told_revs):
                    one.off.remove(off)
                    one.off_done.append(off)
                    if one.base is not None and not one.gone and off.rev > one.base.rev:
                        one.back[off.thing, off.lot] += off.many
                    return
        raise JudgedWrongError(f"put back: {what} of {back.case} was asked off no cart")

    def morning(self, a: int, _b: int, _c: int) -> str:
        """The page for the morning names the carts that are not built from the list that counts, or wait."""
        days = sorted(self.books.revision)
        if not days:
            return ""
        day = days[a % len(days)]
        morning = print_morning(self.folder, self.place / "morning.pdf", self.now, day)
        named = {one.case for one in (*morning.points.carts, *morning.points.stopped)}
        here = {cart.case.number for cart in morning.plan.carts} - morning.points.since.left_out
        known = carts_told(self.folder, day).built
        waits = {number for number in named if (one := known.get(number)) and one.to_come}
        mine = {
            number
            for number, book in ((book.number, book) for book in self.books.of_day(day))
            if number in here and (book.stopped or book.told is None or not book.built or book.told.rev < book.rev)
        }
        if named - waits != mine - waits:
            raise JudgedWrongError(f"morning: open are {sorted(named)}, by the books {sorted(mine)}")
        return f"morning of {day}: {sorted(named)} open"

    # The day after

    def used(self, a: int, b: int, _c: int) -> str:
        """The room's form of one cart: some of each thing was used, the rest came back."""
        past = [one for _, one in sorted(self.books.carts.items()) if one.built and one.end <= self._instant]
        past = [one for one in past if not (one.stopped or (one.told and one.told.stood))]  # which came back is unsaid
        if not past:
            return ""
        one, lines = past[a % len(past)], ["case,kind,thing,set,open,hold,added,used,unopened"]
        gone, opened = Counter[str](), set[str]()
        for piece, many in one.carried.items():
            gone[piece.thing] += 0 if piece.is_set else many
        for wanted in sorted({piece.wanted for piece in one.listed}):
            there = sum(many for piece, many in one.carried.items() if piece.wanted == wanted)
            listed = [
                sum(n for p, n in one.listed.items() if p.wanted == wanted and p.hold is hold) for hold in (False, True)
            ]
            kind, set_id = "pack" if wanted.startswith("PK") else "item", ""
            used = b % (min(there, sum(listed)) + 1)
            if "#" in wanted:
                kind, set_id = "tray", next((piece.thing for piece in one.carried if piece.wanted == wanted), "")
                opened |= {set_id} if used else set()
            else:
                gone[wanted] -= there - used
            thing = wanted.partition("#")[0]
            lines.append(f"{one.number},{kind},{thing},{set_id},{listed[0]},{listed[1]},0,{used},{there - used}")
        form = self.place / "used.csv"
        form.write_text("\n".join(lines) + "\n", encoding="utf-8")
        told = tell_used(self.folder, form, one.day, self.now)
        if told.problems or len(told.lines) != len(lines) - 1:
            return f"used of {one.number} on {one.day}: refused, {[problem.kind for problem in told.problems]}"
        one.gone_in_use, one.opened = gone, opened
        return f"used of {one.number} on {one.day}: {'; '.join(lines[1:])}"

    def settle(self, a: int, b: int, _c: int) -> str:
        """Looked at, then written, then written once more: each piece and each set counts once."""
        days = sorted({one.day for one in self.books.every() if one.gone_in_use is not None})
        if not days:
            return ""
        day, before = days[a % len(days)], self._tables()
        looked = settle_day(self.folder, day, self.now, write=False)
        if self._tables() != before:
            raise JudgedWrongError("settle: to look at it writes")
        if b % 3 == 0:
            return f"settling {day} is looked at"
        was = self._read("Lots")
        done = settle_day(self.folder, day, self.now, write=True)
        if repr(looked.changes.all) != repr(done.changes.all):
            raise JudgedWrongError("settle: it writes others than those that were looked at")
        self.lots, self.sets = self._read("Lots"), self._read("Sets")
        self.settled_days |= {day} if done.done else set()
        self._look_at_settled(day, was, sound=not done.problems)
        after = self._tables()
        if settle_day(self.folder, day, self.now, write=True).done or self._tables() != after:
            raise JudgedWrongError("settle: a second time changes something")
        return f"{day} is settled: {[(one.key, one.becomes) for one in done.done]}"

    def _tables(self) -> dict[str, bytes]:
        return {path.name: path.read_bytes() for path in self.folder.glob("*.csv")}

    def _look_at_settled(self, day: date, was: list[Row], *, sound: bool) -> None:
        """Each item lost what did not come back and was not counted before; a set that was opened is dirty."""
        went, opened = Counter[str](), set[str]()
        for one in self.books.every():
            if one.day == day and one.gone_in_use is not None:
                went.update(one.gone_in_use)
                went.subtract(one.counted)
                opened |= set() if one.settled else one.opened
                one.counted, one.settled = Counter(one.gone_in_use), True
        if any(int(row["quantity"]) < 0 for row in self.lots):
            raise JudgedWrongError("settle: stock below zero")
        for item in sorted({row["item"] for row in was}) if sound else ():
            before, now = (sum(int(r["quantity"]) for r in some if r["item"] == item) for some in (was, self.lots))
            if before - now != went[item]:
                raise JudgedWrongError(f"settle: {before - now} of {item} taken off, {went[item]} went")
        clean = {row["set"] for row in self.sets if row["state"] != "dirty"} & opened
        if clean and sound:
            raise JudgedWrongError(f"settle: {sorted(clean)} were opened and are not dirty")


def _kinds(built: Built) -> str:
    """What a build did to each cart, in a line."""
    assert built.plan is not None
    assert built.change is not None
    said = ", ".join(f"{one.old_case or 'new'} > {one.case}: {one.kind.value}" for one in built.change.carts)
    return f"build {built.plan.day} revision {built.plan.revision}: {said}"
