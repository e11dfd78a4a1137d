"""Changes of different days, and undoing them from a day on, in any order: each day says what the rules say.

The model keeps what was done as a list and works every day out anew: what is undone on the day is
left out, and of the rest the change of the latest day counts, of one day the last.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from picklist.upkeep.approval import ApprovalResult, apply_approval, undo_change
from picklist.upkeep.card_rows import open_book, read_card
from picklist.upkeep.change_log import read_history
from picklist.upkeep.proposals import CardChange
from picklist.upkeep.slots import RowKey, RowValue
from tests.patience import tries
from tests.upkeep.clinic import (
    CARDS,
    DAY,
    ITEM,
    KNEE_BASE,
    NOW,
    QUILL,
    TARN,
    approval,
    change,
    item,
    read_clinic,
    vane,
    wanted,
    write_clinic,
)


def day(number: int) -> date:
    """A day so many days after the first."""
    return DAY + timedelta(days=number)


@pytest.fixture
def clinic(tmp_path: Path) -> Path:
    return write_clinic(tmp_path, as_csv=frozenset({"Cards"}))


def put(clinic: Path, thing: str, opened: int, effective: date) -> ApprovalResult:
    """Quill wants so many of a thing from a day on."""
    rows = read_card(open_book(read_clinic(clinic)), QUILL, "KNEE", effective)
    row = next((one for one in rows if one.mine and one.slot.thing == thing), None)
    edit = CardChange(
        number=1,
        procedure="KNEE",
        slot=RowKey(kind=ITEM, thing=thing),
        before=row.want if row else None,
        after=item(thing, opened) if opened else None,
    )
    return apply_approval(clinic, approval(QUILL, edit, effective=effective), now=NOW)


def undo(clinic: Path, number: int, effective: date, *, whole: bool = False) -> ApprovalResult:
    """R. Vane undoes a change from a day on."""
    return undo_change(clinic, number, vane(effective, reason="mistaken"), now=NOW, whole=whole)


def over_days(clinic: Path, thing: str, days: int = 8) -> list[int]:
    """How many of a thing Quill's card opens, day by day."""
    return [wanted(clinic, QUILL, day=day(n)).get(thing, (0, 0))[0] for n in range(days)]


def test_that_a_change_that_does_not_count_yet_never_comes_to_count(clinic: Path) -> None:
    """Five from day 4; undone today, long before."""
    put(clinic, "100001", 5, day(4))
    undone = undo(clinic, 1, DAY)
    assert [one.undoes for one in undone.done] == [1]
    assert over_days(clinic, "100001") == [2] * 8


def test_that_undoing_leaves_a_change_made_since_with_an_earlier_day(clinic: Path) -> None:
    """Five from day 4, then three from day 1; without the five it is three for good."""
    put(clinic, "100001", 5, day(4))
    put(clinic, "100001", 3, day(1))
    assert over_days(clinic, "100001") == [2, 3, 3, 3, 5, 5, 5, 5]
    undo(clinic, 1, day(4))
    assert over_days(clinic, "100001") == [2, 3, 3, 3, 3, 3, 3, 3]


def test_that_undoing_an_earlier_change_never_cuts_a_later_one_short(clinic: Path) -> None:
    put(clinic, "100001", 3, day(1))
    put(clinic, "100001", 5, day(4))
    undo(clinic, 1, day(2))
    assert over_days(clinic, "100001") == [2, 3, 2, 2, 5, 5, 5, 5]
    undo(clinic, 2, day(6))
    assert over_days(clinic, "100001") == [2, 3, 2, 2, 5, 5, 2, 2]


def test_that_undoing_twice_is_refused_and_undoing_the_undo_brings_it_back(clinic: Path) -> None:
    put(clinic, "100001", 5, day(1))
    undo(clinic, 1, day(3))
    again = undo(clinic, 1, day(3))
    assert [one.kind for one in again.problems] == ["already-undone"]
    assert not again.done
    undo(clinic, 2, day(5))
    assert over_days(clinic, "100001") == [2, 5, 5, 2, 2, 5, 5, 5]


def test_that_a_line_that_said_what_the_base_card_says_follows_it_again(clinic: Path) -> None:
    """Quill asks for five, the base card goes to three, Quill's five is undone: three, as everybody has."""
    put(clinic, "100001", 5, DAY)
    base = change(clinic, KNEE_BASE, "100001", item("100001", 3))
    apply_approval(clinic, approval(KNEE_BASE, base), now=NOW)
    undo(clinic, 1, day(1))
    assert over_days(clinic, "100001", 3) == [5, 3, 3]


def test_that_undoing_a_change_of_a_table_edited_by_hand_is_refused(clinic: Path) -> None:
    put(clinic, "100001", 5, DAY)
    text = (clinic / "Cards.csv").read_text(encoding="utf-8-sig")
    assert ",100001,,5," in text
    (clinic / "Cards.csv").write_text(text.replace(",100001,,5,", ",100001,,6,"), encoding="utf-8-sig")
    undone = undo(clinic, 1, day(1))
    assert [one.kind for one in undone.problems] == ["clash"]
    assert over_days(clinic, "100001", 3) == [6, 6, 6]


def test_that_what_was_written_by_hand_over_a_change_comes_back_when_a_later_one_of_its_day_is_undone(
    clinic: Path,
) -> None:
    """Five from day 1, made six by hand, then seven from day 1; without the seven it is six, not five."""
    put(clinic, "100001", 5, day(1))
    text = (clinic / "Cards.csv").read_text(encoding="utf-8-sig")
    (clinic / "Cards.csv").write_text(text.replace(",100001,,5,", ",100001,,6,"), encoding="utf-8-sig")
    put(clinic, "100001", 7, day(1))
    assert over_days(clinic, "100001", 4) == [2, 7, 7, 7]
    undo(clinic, 2, day(1))
    assert over_days(clinic, "100001", 4) == [2, 6, 6, 6]


def test_that_undoing_an_earlier_change_leaves_the_line_of_a_later_one_untouched(clinic: Path) -> None:
    put(clinic, "100001", 3, day(1))
    put(clinic, "100001", 5, day(4))
    [undone] = undo(clinic, 1, day(2)).done
    assert undone.lines == ("ended: KNEE, S01: replace item 100001 (3 open) from 2026-11-27 until 2026-11-27",)


def test_that_a_whole_approval_is_undone_at_once(clinic: Path) -> None:
    both = (change(clinic, QUILL, "100001", item("100001", 5)), change(clinic, QUILL, "100007", None))
    apply_approval(clinic, approval(QUILL, *both), now=NOW)
    before = wanted(clinic, QUILL)
    undone = undo(clinic, 1, day(1), whole=True)
    assert sorted(one.undoes or 0 for one in undone.done) == [1, 2]
    assert wanted(clinic, QUILL, day=day(0)) == before
    assert wanted(clinic, QUILL, day=day(1)) == {"T-KNEE": (1, 0), "PK-1": (1, 0), "100001": (2, 1), "100007": (1, 0)}


def test_that_a_change_of_a_line_for_a_time_counts_for_that_time(tmp_path: Path) -> None:
    """Tarn has four, and nine from day 2 to day 4; the nine become seven, and then are nine again."""
    rows = [*CARDS, _for_a_time()]
    clinic = write_clinic(tmp_path, cards=rows, as_csv=frozenset({"Cards"}))
    edit = CardChange(
        number=1,
        procedure="KNEE",
        slot=RowKey(kind=ITEM, thing="100001"),
        before=item("100001", 9),
        after=item("100001", 7),
    )
    apply_approval(clinic, approval(TARN, edit, effective=day(3)), now=NOW)
    assert [wanted(clinic, TARN, day=day(n))["100001"][0] for n in range(7)] == [4, 4, 9, 7, 7, 4, 4]
    undo(clinic, 1, DAY)
    assert [wanted(clinic, TARN, day=day(n))["100001"][0] for n in range(7)] == [4, 4, 9, 9, 9, 4, 4]


def _for_a_time() -> dict[str, Any]:
    line = {"procedure": "KNEE", "surgeon": "S02", "change": "replace", "kind": "item", "thing": "100001", "open": 9}
    return line | {"from": day(2), "until": day(4)}


@dataclass
class Done:
    """A change (what is wanted, by thing; None is nothing, BASE as the base card has it) or an undo of one."""

    day: date
    wants: dict[str, object] = field(default_factory=dict)
    undoes: int = -1


BASE = "as the base card"
BASE_CARD = {"100001": item("100001", 2, 1), "100002": item("100002", 1, note="count twice")}
THINGS = ("100001", "100002", "100007", "100008")
START: dict[str, object] = {"100001": BASE, "100002": None, "100007": item("100007", 1), "100008": BASE}
LAST_DAY = 9


class Model:
    """What was done, and what it comes to on a day."""

    def __init__(self) -> None:
        self.done: list[Done] = []

    def undone(self, on: date) -> set[int]:
        gone: set[int] = set()
        for number in range(len(self.done) - 1, -1, -1):
            one = self.done[number]
            if one.undoes >= 0 and one.day <= on and number not in gone:
                gone.add(one.undoes)
        return gone

    def own(self, thing: str, on: date) -> object:
        gone = self.undone(on)
        found = [
            (one.day, number)
            for number, one in enumerate(self.done)
            if thing in one.wants and one.day <= on and number not in gone
        ]
        return self.done[max(found)[1]].wants[thing] if found else START[thing]

    def want(self, thing: str, on: date) -> RowValue | None:
        own = self.own(thing, on)
        assert own is None or own is BASE or isinstance(own, RowValue)
        return BASE_CARD.get(thing) if own is BASE else own  # type: ignore[return-value]

    def undo(self, number: int, asked: date) -> bool:
        """Undo if it is possible: it counts somewhere from the day on, and is not undone yet."""
        one = self.done[number]
        first = max(asked, one.day)
        if number in self.undone(first):
            return False
        things = self.things_of(number)
        days = [first + timedelta(days=n) for n in range(30)]
        before = [[self.own(thing, on) for on in days] for thing in things]
        self.done.append(Done(day=first, undoes=number))
        if before == [[self.own(thing, on) for on in days] for thing in things]:
            self.done.pop()
            return False
        return True

    def things_of(self, number: int) -> list[str]:
        while self.done[number].undoes >= 0:
            number = self.done[number].undoes
        return list(self.done[number].wants)


class Undoing(RuleBasedStateMachine):
    """Quill's changes of one card, today's and coming ones, and undoing."""

    @initialize()
    def begin(self) -> None:
        self.home = tempfile.TemporaryDirectory()
        self.folder = write_clinic(Path(self.home.name) / "site", as_csv=frozenset({"Cards"}))
        self.model = Model()

    def teardown(self) -> None:
        if hasattr(self, "home"):
            self.home.cleanup()

    @rule(thing=st.sampled_from(THINGS), opened=st.integers(0, 3), after=st.integers(0, LAST_DAY))
    def change(self, thing: str, opened: int, after: int) -> None:
        before = self.model.want(thing, day(after))
        want = item(thing, opened) if opened else None
        if want == before:
            return
        self._apply(thing, before, want, day(after))
        self.model.done.append(Done(day=day(after), wants={thing: BASE if want == BASE_CARD.get(thing) else want}))

    @rule(opened=st.integers(1, 3), after=st.integers(0, LAST_DAY))
    def swap_own_line(self, opened: int, after: int) -> None:
        before = self.model.want("100007", day(after))
        if before is None or self.model.want("100008", day(after)) is not None:
            return
        self._apply("100007", before, item("100008", opened), day(after))
        self.model.done.append(Done(day=day(after), wants={"100007": BASE, "100008": item("100008", opened)}))

    @precondition(lambda self: self.model.done)
    @rule(data=st.data(), after=st.integers(0, LAST_DAY))
    def undo(self, data: st.DataObject, after: int) -> None:
        number = data.draw(st.integers(0, len(self.model.done) - 1))
        undone = undo(self.folder, number + 1, day(after))
        assert bool(undone.done) == self.model.undo(number, day(after))
        assert bool(undone.done) != bool([one for one in undone.problems if one.kind != "finds-nothing"])

    @invariant()
    def each_day_says_what_the_model_says(self) -> None:
        if not hasattr(self, "folder"):
            return
        book = open_book(read_clinic(self.folder))
        for number in range(LAST_DAY + 2):
            rows = read_card(book, QUILL, "KNEE", day(number))
            found = {row.want.thing: row.want for row in rows if row.want and row.mine and row.slot.kind is ITEM}
            model = {thing: want for thing in THINGS if (want := self.model.want(thing, day(number)))}
            assert found == model, day(number)
        assert len(read_history(self.folder)) == len(self.model.done)

    def _apply(self, thing: str, before: RowValue | None, after: RowValue | None, effective: date) -> None:
        edit = CardChange(number=1, procedure="KNEE", slot=RowKey(kind=ITEM, thing=thing), before=before, after=after)
        applied = apply_approval(self.folder, approval(QUILL, edit, effective=effective), now=NOW)
        assert len(applied.done) == 1, applied.problems


TestUndoing = Undoing.TestCase
TestUndoing.settings = settings(max_examples=tries(20), stateful_step_count=10, suppress_health_check=list(HealthCheck))


def test_that_a_swap_that_counts_again_takes_its_item_off_again() -> None:
    """Two swaps of one line, both undone; then the undoing of the first is undone, so that this swap counts again."""
    evening = Undoing()
    evening.begin()
    try:
        evening.swap_own_line(opened=2, after=2)
        evening.swap_own_line(opened=1, after=0)
        for number in (0, 1, 2):
            assert undo(evening.folder, number + 1, day(0)).done
            assert evening.model.undo(number, day(0))
        evening.each_day_says_what_the_model_says()
    finally:
        evening.teardown()
