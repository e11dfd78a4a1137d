"""Two surgeons' offices, a service, a hand at the master and undoing, in any order: nothing is lost.

The model is two dictionaries: what the base card says, and what each surgeon has of their own.
"""

from __future__ import annotations

import csv
import random
import tempfile
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import openpyxl
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from picklist.upkeep.approval import apply_approval, undo_change
from picklist.upkeep.card_rows import open_book, read_card
from picklist.upkeep.change_log import LogEntry, read_history
from picklist.upkeep.office_book import write_office_workbook
from picklist.upkeep.office_compare import compare_return
from picklist.upkeep.office_return import read_office_workbook
from picklist.upkeep.owners import Owner
from picklist.upkeep.proposals import Proposal, approve_proposal
from picklist.upkeep.slots import RowValue, Verdict, compare_wants
from tests.patience import tries
from tests.upkeep.clinic import ITEM, KNEE_BASE, QUILL, TARN, item, read_clinic, vane, write_clinic

OWNERS = (QUILL, TARN, KNEE_BASE)
SURGEONS = ("S01", "S02")
THINGS = ("100001", "100002", "100007", "100008")
BASE = {"100001": item("100001", 2, 1), "100002": item("100002", 1, note="count twice")}
OWN: dict[str, dict[str, RowValue | None]] = {"S01": {"100002": None, "100007": item("100007", 1)}, "S02": {}}
START: list[dict[str, Any]] = [
    {"procedure": "KNEE", "kind": "item", "thing": "100001", "open": 2, "hold": 1},
    {"procedure": "KNEE", "kind": "item", "thing": "100002", "open": 1, "note": "count twice"},
    {"procedure": "KNEE", "surgeon": "S01", "change": "remove", "kind": "item", "thing": "100002"},
    {"procedure": "KNEE", "surgeon": "S01", "kind": "item", "thing": "100007", "open": 1},
]
View = dict[str, RowValue]


class Cards:
    """The simple model: a base card, and per surgeon what is wanted otherwise (None: dropped)."""

    def __init__(self) -> None:
        self.base: View = dict(BASE)
        self.own: dict[str, dict[str, RowValue | None]] = {surgeon: dict(own) for surgeon, own in OWN.items()}

    def view(self, owner: Owner) -> View:
        if owner.service:
            return dict(self.base)
        merged: dict[str, RowValue | None] = {**self.base, **self.own[owner.surgeon]}
        return {thing: want for thing, want in merged.items() if want}

    def put(self, owner: Owner, thing: str, want: RowValue | None) -> None:
        if owner.service:
            self._put_base(thing, want)
        elif want == self.base.get(thing):
            self.own[owner.surgeon].pop(thing, None)
        else:
            self.own[owner.surgeon][thing] = want

    def _put_base(self, thing: str, want: RowValue | None) -> None:
        if want:
            self.base[thing] = want
            return
        self.base.pop(thing, None)
        for own in self.own.values():
            if thing in own and own[thing] is None:
                del own[thing]


class Offices(RuleBasedStateMachine):
    @initialize()
    def begin(self) -> None:
        self.home = tempfile.TemporaryDirectory()
        self.folder = Path(self.home.name) / "site"
        self.desk = Path(self.home.name) / "desk"
        self.desk.mkdir()
        past = [{"procedure": "KNEE", "surgeon": s, "planned minutes": 60, "actual minutes": 65} for s in SURGEONS]
        write_clinic(self.folder, cards=START, tables={"Past cases": past}, as_csv=frozenset({"Cards"}))
        self.now = datetime(2026, 11, 26, 15, 0, tzinfo=UTC)
        self.cards = Cards()
        self.out: dict[Owner, View] = {}
        self.waiting: list[tuple[Owner, Proposal]] = []

    def teardown(self) -> None:
        if hasattr(self, "home"):
            self.home.cleanup()

    @property
    def day(self) -> date:
        return self.now.date()

    @rule(owner=st.sampled_from(OWNERS))
    def send_workbook(self, owner: Owner) -> None:
        site = read_clinic(self.folder)
        write_office_workbook(site, owner, self._path(owner), day=self.day)
        self.out[owner] = self.cards.view(owner)

    @precondition(lambda self: self.out)
    @rule(
        data=st.data(),
        edits=st.dictionaries(st.sampled_from(THINGS), st.tuples(st.integers(0, 3), st.integers(0, 1)), min_size=1),
        shuffle=st.randoms(use_true_random=False),
    )
    def take_back(self, data: st.DataObject, edits: dict[str, tuple[int, int]], shuffle: random.Random) -> None:
        owner = data.draw(st.sampled_from(list(self.out)))
        sent, now = self.out.pop(owner), self.cards.view(owner)
        _fill_in(self._path(owner), edits, shuffle)
        returned, problems = read_office_workbook(self._path(owner))
        assert returned is not None, problems
        comparison = compare_return(read_clinic(self.folder), returned, self.day)
        assert not comparison.mistakes
        clean: dict[str, RowValue | None] = {}
        clashes = set()
        for thing, (opened, held) in edits.items():
            note = sent[thing].note if thing in sent else ""
            office = item(thing, opened, held, note) if opened or held else None
            if thing not in sent and office is None:
                continue
            compared = compare_wants(sent.get(thing), now.get(thing), office)
            if compared.outcome is Verdict.CLEAN:
                clean[thing] = compared.want
            elif compared.outcome is Verdict.CLASH:
                clashes.add(thing)
        assert {one.slot.thing: one.after for one in comparison.proposal.changes} == clean
        assert {one.stamp.slot.thing for one in comparison.clashes} == clashes
        self.waiting.append((owner, comparison.proposal))

    @precondition(lambda self: self.waiting)
    @rule(data=st.data())
    def approve(self, data: st.DataObject) -> None:
        owner, proposal = self.waiting.pop(data.draw(st.integers(0, len(self.waiting) - 1)))
        numbers = tuple(one.number for one in proposal.changes if data.draw(st.integers(0, 3)))
        approval = approve_proposal(proposal, vane(self.day, numbers=numbers))
        applied = apply_approval(self.folder, approval, now=self.now)
        done = set()
        for one in approval.changes:
            now = self.cards.view(owner).get(one.slot.thing)
            if now == one.before and now != one.after:
                self.cards.put(owner, one.slot.thing, one.after)
                done.add(one.slot.thing)
        assert {one.change.slot.thing for one in applied.done} == done

    @precondition(lambda self: any(_is_newest(one, read_history(self.folder)) for one in read_history(self.folder)))
    @rule(data=st.data())
    def undo(self, data: st.DataObject) -> None:
        entries = read_history(self.folder)
        entry = data.draw(st.sampled_from([one for one in entries if _is_newest(one, entries)]))
        thing, change = entry.change.slot.thing, entry.change
        now = self.cards.view(entry.owner).get(thing)
        undone = undo_change(self.folder, entry.number, vane(self.day, reason="mistaken"), now=self.now)
        assert bool(undone.done) == (now == change.after and now != change.before)
        if undone.done and not entry.stood.own and entry.owner.surgeon:
            self.cards.own[entry.owner.surgeon].pop(thing, None)
        elif undone.done:
            self.cards.put(entry.owner, thing, change.before)

    @rule(turn=st.randoms(use_true_random=False))
    def sort_master_by_hand(self, turn: random.Random) -> None:
        header, rows = _records(self.folder / "Cards.csv")
        turn.shuffle(rows)
        _write_records(self.folder / "Cards.csv", header, rows)

    @rule(surgeon=st.sampled_from(SURGEONS), thing=st.sampled_from(THINGS), count=st.integers(1, 9))
    def add_line_by_hand(self, surgeon: str, thing: str, count: int) -> None:
        owner = Owner(surgeon=surgeon)
        if thing in self.cards.base or thing in self.cards.own[surgeon]:
            return
        header, rows = _records(self.folder / "Cards.csv")
        line = {"procedure": "KNEE", "surgeon": surgeon, "kind": "item", "thing": thing, "open": str(count)}
        rows.append([(line | {"from": self.day.isoformat()}).get(name, "") for name in header])
        _write_records(self.folder / "Cards.csv", header, rows)
        self.cards.put(owner, thing, item(thing, count))

    @rule(data=st.data(), count=st.integers(1, 9))
    def change_quantity_by_hand(self, data: st.DataObject, count: int) -> None:
        header, rows = _records(self.folder / "Cards.csv")
        place = {name: header.index(name) for name in ("surgeon", "change", "thing", "open", "until")}
        live = [row for row in rows if not row[place["until"]] and row[place["change"]] != "remove"]
        if not live:
            return
        row = data.draw(st.sampled_from(live))
        row[place["open"]] = str(count)
        _write_records(self.folder / "Cards.csv", header, rows)
        surgeon, thing = row[place["surgeon"]], row[place["thing"]]
        if surgeon in SURGEONS:
            want = self.cards.own[surgeon][thing]
            assert want is not None
            self.cards.own[surgeon][thing] = replace(want, open=count)
        else:
            self.cards.base[thing] = replace(self.cards.base[thing], open=count)

    @rule()
    def let_a_day_pass(self) -> None:
        self.now += timedelta(days=1)

    @invariant()
    def cards_say_what_the_model_says(self) -> None:
        if not hasattr(self, "folder"):
            return
        book = open_book(read_clinic(self.folder))
        for owner in OWNERS:
            rows = read_card(book, owner, "KNEE", self.day)
            found = {row.slot.thing: row.want for row in rows if row.want and row.slot.kind is ITEM}
            assert found == self.cards.view(owner)

    def _path(self, owner: Owner) -> Path:
        return self.desk / f"{owner.surgeon or 'base'}.xlsx"


def _is_newest(entry: LogEntry, entries: tuple[LogEntry, ...]) -> bool:
    """Whether a change is the last on its line; what comes of undoing others is worked out in test_undo."""
    line = (entry.owner, entry.change.slot)
    last = [one.number for one in entries if (one.owner, one.change.slot) == line][-1]
    return entry.undoes is None and entry.number == last


def _fill_in(path: Path, edits: dict[str, tuple[int, int]], shuffle: random.Random) -> None:
    """An office fills in its workbook, and its rows get another order on the way."""
    workbook = openpyxl.load_workbook(path)
    sheet = workbook["KNEE"]
    rows = [[cell.value for cell in row] for row in sheet.iter_rows(min_row=6, max_col=10)]
    left = dict(edits)
    for row in rows:
        thing = next((one for one in left if f"({one})" in str(row[1])), None)
        if thing and row[9]:
            row[2], row[3] = left.pop(thing)
            row[5] = None
    for row in rows:
        if row[8] == "new" and left:
            thing, (opened, held) = left.popitem()
            if opened or held:
                row[0], row[1], row[2], row[3] = "item", thing, opened, held
    shuffle.shuffle(rows)
    for number, row in enumerate(rows, start=6):
        for column, value in enumerate(row, start=1):
            sheet.cell(number, column).value = value
    workbook.save(path)


def _records(path: Path) -> tuple[list[str], list[list[str]]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        header, *rows = csv.reader(file)
    return header, rows


def _write_records(path: Path, header: list[str], rows: list[list[str]]) -> None:
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        csv.writer(file).writerows([header, *rows])


TestOffices = Offices.TestCase
TestOffices.settings = settings(max_examples=tries(10), stateful_step_count=14, suppress_health_check=list(HealthCheck))
