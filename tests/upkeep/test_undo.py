"""Changes of different days, and undoing them from a day on, in any order: each day says what the rules say.

The model keeps what was done as a list and works every day out anew: what is undone on the day is
left out, and of the rest the change of the latest day counts, of one day the last. What a surgeon wants
stays so whatever becomes of the base card.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from picklist.problems import Problem
from picklist.upkeep.approval import ApprovalResult, apply_approval, undo_change
from picklist.upkeep.attempt import Attempt, do_changes, undo_entry
from picklist.upkeep.card_rows import open_book, read_card
from picklist.upkeep.change_log import LogEntry, read_history
from picklist.upkeep.owners import Owner
from picklist.upkeep.proposals import Approval, CardChange
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


def put(clinic: Path, thing: str, opened: int, effective: date, owner: Owner = QUILL) -> ApprovalResult:
    """An owner wants so many of a thing from a day on."""
    rows = read_card(open_book(read_clinic(clinic)), owner, "KNEE", effective)
    row = next((one for one in rows if one.mine and one.slot.thing == thing), None)
    edit = CardChange(
        number=1,
        procedure="KNEE",
        slot=RowKey(kind=ITEM, thing=thing),
        before=row.want if row else None,
        after=item(thing, opened) if opened else None,
    )
    return apply_approval(clinic, approval(owner, edit, effective=effective), now=NOW)


def undo(clinic: Path, number: int, effective: date, *, whole: bool = False) -> ApprovalResult:
    """R. Vane undoes a change from a day on."""
    return undo_change(clinic, number, vane(effective, reason="mistaken"), now=NOW, whole=whole)


def over_days(clinic: Path, thing: str, days: int = 8, owner: Owner = QUILL) -> list[int]:
    """How many of a thing an owner's card opens, day by day."""
    return [wanted(clinic, owner, day=day(n)).get(thing, (0, 0))[0] for n in range(days)]


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


def test_that_what_was_written_by_hand_under_a_coming_change_comes_back(clinic: Path) -> None:
    """Tarn has four, and five from day 4; by hand four becomes three; seven from day 1 is undone again."""
    put(clinic, "100001", 5, day(4), TARN)
    text = (clinic / "Cards.csv").read_text(encoding="utf-8-sig")
    assert "S02,replace,item,100001,,4," in text
    (clinic / "Cards.csv").write_text(text.replace("S02,replace,item,100001,,4,", "S02,replace,item,100001,,3,"))
    put(clinic, "100001", 7, day(1), TARN)
    assert over_days(clinic, "100001", 6, TARN) == [3, 7, 7, 7, 5, 5]
    undo(clinic, 2, day(1))
    assert over_days(clinic, "100001", 6, TARN) == [3, 3, 3, 3, 5, 5]


def test_that_undoing_an_earlier_change_leaves_the_line_of_a_later_one_untouched(clinic: Path) -> None:
    put(clinic, "100001", 3, day(1))
    put(clinic, "100001", 5, day(4))
    [undone] = undo(clinic, 1, day(2)).done
    assert undone.lines == ("ended: KNEE, S01: replace item 100001 (3 open) from 2026-11-27 until 2026-11-27",)


def test_that_a_change_is_one_line_however_many_days_other_lines_of_the_card_begin_on(clinic: Path) -> None:
    """Six from day 6, and another line from day 4; three from day 1 is one line, until day 5."""
    put(clinic, "100001", 6, day(6))
    put(clinic, "100007", 2, day(4))
    [three] = put(clinic, "100001", 3, day(1)).done
    assert three.lines == ("new: KNEE, S01: replace item 100001 (3 open) from 2026-11-27 until 2026-12-01",)


def test_that_a_whole_approval_is_undone_at_once(clinic: Path) -> None:
    both = (change(clinic, QUILL, "100001", item("100001", 5)), change(clinic, QUILL, "100007", None))
    apply_approval(clinic, approval(QUILL, *both), now=NOW)
    before = wanted(clinic, QUILL)
    undone = undo(clinic, 1, day(1), whole=True)
    assert sorted(one.undoes or 0 for one in undone.done) == [1, 2]
    assert wanted(clinic, QUILL, day=day(0)) == before
    assert wanted(clinic, QUILL, day=day(1)) == {"T-KNEE": (1, 0), "PK-1": (1, 0), "100001": (2, 1), "100007": (1, 0)}
    again = undo(clinic, undone.done[0].number, day(2), whole=True)
    assert sorted(one.undoes or 0 for one in again.done) == sorted(one.number for one in undone.done)
    assert wanted(clinic, QUILL, day=day(2)) == before


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


def test_that_what_a_surgeon_dropped_stays_off_while_the_base_card_loses_it_for_some_days(clinic: Path) -> None:
    """Quill dropped 100002. The base card is to have three of it from day 6, and none until then."""
    put(clinic, "100002", 3, day(6), KNEE_BASE)
    put(clinic, "100002", 0, day(2), KNEE_BASE)
    assert over_days(clinic, "100002", owner=TARN) == [1, 1, 0, 0, 0, 0, 3, 3]
    assert over_days(clinic, "100002") == [0] * 8


def test_that_what_a_surgeon_dropped_stays_off_when_the_base_card_has_it_again_by_undoing(clinic: Path) -> None:
    """Quill dropped 100002; the base card loses it on day 2, and that is undone from day 5."""
    put(clinic, "100002", 0, day(2), KNEE_BASE)
    assert undo(clinic, 1, day(5)).done
    assert over_days(clinic, "100002", owner=TARN) == [1, 1, 0, 0, 0, 1, 1, 1]
    assert over_days(clinic, "100002") == [0] * 8


def test_that_a_surgeon_can_ask_again_for_what_the_base_card_lost_meanwhile(clinic: Path) -> None:
    """Quill drops 100001 from day 1; the base card loses it on day 3; from day 5 Quill wants four of her own."""
    put(clinic, "100001", 0, day(3), KNEE_BASE)
    put(clinic, "100001", 0, day(1))
    again = put(clinic, "100001", 4, day(5))
    assert not again.problems
    assert over_days(clinic, "100001") == [2, 0, 0, 0, 0, 4, 4, 4]


def test_that_without_a_swap_the_new_item_is_as_the_base_card_has_it(clinic: Path) -> None:
    """Quill's 100007 becomes two of 100008; the base card takes up five of 100008; the swap is undone from day 3."""
    edit = change(clinic, QUILL, "100007", item("100008", 2))
    apply_approval(clinic, approval(QUILL, edit), now=NOW)
    put(clinic, "100008", 5, day(1), KNEE_BASE)
    assert over_days(clinic, "100008", 5) == [2, 2, 2, 2, 2]
    assert undo(clinic, 1, day(3)).done
    assert over_days(clinic, "100008", 5) == [2, 2, 2, 5, 5]
    assert over_days(clinic, "100007", 5) == [0, 0, 0, 1, 1]


def _for_a_time() -> dict[str, Any]:
    line = {"procedure": "KNEE", "surgeon": "S02", "change": "replace", "kind": "item", "thing": "100001", "open": 9}
    return line | {"from": day(2), "until": day(4)}


@dataclass
class Done:
    """A change of an owner's card (what is wanted, by thing; None is nothing, BASE as the base card has it), or an
    undo of a change.
    """

    owner: Owner
    day: date
    wants: dict[str, object] = field(default_factory=dict)
    undoes: int = -1


BASE = "as the base card"
THINGS = ("100001", "100002", "100007", "100008")
START: dict[Owner, dict[str, object]] = {
    QUILL: {"100001": BASE, "100002": None, "100007": item("100007", 1), "100008": BASE},
    KNEE_BASE: {
        "100001": item("100001", 2, 1),
        "100002": item("100002", 1, note="count twice"),
        "100007": None,
        "100008": None,
    },
}
LAST_DAY = 9
MORE = 3  # the base card has more than an own line asks for, so that neither says the same as the other


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

    def own(self, owner: Owner, thing: str, on: date) -> object:
        gone = self.undone(on)
        found = [
            (one.day, number)
            for number, one in enumerate(self.done)
            if one.owner == owner and thing in one.wants and one.day <= on and number not in gone
        ]
        return self.done[max(found)[1]].wants[thing] if found else START[owner][thing]

    def want(self, owner: Owner, thing: str, on: date) -> RowValue | None:
        own = self.own(owner, thing, on)
        if own is BASE:
            return self.want(KNEE_BASE, thing, on)
        assert own is None or isinstance(own, RowValue)
        return own

    def undo(self, number: int, asked: date) -> bool:
        """Undo if it is possible: it counts somewhere from the day on, and is not undone yet."""
        one = self.done[number]
        first = max(asked, one.day)
        if number in self.undone(first):
            return False
        things = self.things_of(number)
        days = [first + timedelta(days=n) for n in range(LAST_DAY + 2)]
        before = [[self.own(one.owner, thing, on) for on in days] for thing in things]
        self.done.append(Done(owner=one.owner, day=first, undoes=number))
        if before == [[self.own(one.owner, thing, on) for on in days] for thing in things]:
            self.done.pop()
            return False
        return True

    def things_of(self, number: int) -> list[str]:
        while self.done[number].undoes >= 0:
            number = self.done[number].undoes
        return list(self.done[number].wants)


owners = st.sampled_from((QUILL, QUILL, KNEE_BASE))
after_days = st.integers(0, LAST_DAY)


class Undoing(RuleBasedStateMachine):
    """Quill's changes of one card and the base card's beneath it, today's and coming ones, and undoing.

    Here they are worked out on one reading of the master; ``UndoingInFiles`` writes and reads it each time.
    """

    @initialize()
    def begin(self) -> None:
        self.home = tempfile.TemporaryDirectory()
        self.folder = write_clinic(Path(self.home.name) / "site", as_csv=frozenset({"Cards"}))
        self.model = Model()
        self.log: tuple[LogEntry, ...] = ()
        self.book = open_book(read_clinic(self.folder))

    def teardown(self) -> None:
        if hasattr(self, "home"):
            self.home.cleanup()

    @rule(owner=owners, thing=st.sampled_from(THINGS), opened=st.integers(0, 3), after=after_days)
    def change(self, owner: Owner, thing: str, opened: int, after: int) -> None:
        if (owner, thing) == (KNEE_BASE, "100007"):
            return  # it stays Quill's own
        more = MORE if owner is KNEE_BASE else 0
        before, want = self.model.want(owner, thing, day(after)), item(thing, opened + more) if opened else None
        if want == before:
            return
        self.apply(owner, thing, before, want, after)
        as_base = owner is QUILL and want == self.model.want(KNEE_BASE, thing, day(after))
        self.model.done.append(Done(owner, day(after), {thing: BASE if as_base else want}))

    @rule(back=st.booleans(), opened=st.integers(1, 3), after=after_days)
    def swap_own_line(self, opened: int, after: int, *, back: bool = False) -> None:
        old, new = ("100008", "100007") if back else ("100007", "100008")
        before = self.model.want(QUILL, old, day(after))
        is_own = self.model.want(KNEE_BASE, old, day(after)) is None
        if before is None or not is_own or self.model.want(QUILL, new, day(after)) is not None:
            return
        self.apply(QUILL, old, before, item(new, opened), after)
        self.model.done.append(Done(QUILL, day(after), {old: BASE, new: item(new, opened)}))

    @precondition(lambda self: self.model.done)
    @rule(data=st.data(), after=after_days)
    def undo(self, data: st.DataObject, after: int) -> None:
        number = data.draw(st.integers(0, len(self.model.done) - 1))
        assert self.undo_it(number + 1, after) == self.model.undo(number, day(after))

    @invariant()
    def each_day_says_what_the_model_says(self) -> None:
        if not hasattr(self, "book"):
            return
        for owner in (QUILL, KNEE_BASE):
            for number in range(LAST_DAY + 2):
                rows = read_card(self.book, owner, "KNEE", day(number))
                found = {row.slot.thing: row.want for row in rows if row.want and row.mine and row.slot.kind is ITEM}
                model = {thing: want for thing in THINGS if (want := self.model.want(owner, thing, day(number)))}
                assert found == model, (owner, day(number))
        assert len(self.log) == len(self.model.done)

    def apply(self, owner: Owner, thing: str, before: RowValue | None, after: RowValue | None, since: int) -> None:
        slot = RowKey(kind=ITEM, thing=thing)
        edit = CardChange(number=1, procedure="KNEE", slot=slot, before=before, after=after)
        done, problems = self.carry_out(approval(owner, edit, effective=day(since)))
        assert done == 1, problems

    def carry_out(self, approved: Approval) -> tuple[int, Collection[Problem]]:
        return self._try(lambda attempt: do_changes(attempt, approved))

    def undo_it(self, number: int, since: int) -> bool:
        done, problems = self._try(lambda attempt: undo_entry(attempt, vane(day(since)), number))
        assert bool(done) != bool(problems)
        return bool(done)

    def _try(self, do: Callable[[Attempt], None]) -> tuple[int, Collection[Problem]]:
        attempt = Attempt(site=self.book.site, now=NOW, first=self.book, book=self.book, log=self.log)
        do(attempt)
        self.book, self.log = attempt.book, (*self.log, *attempt.done)
        return len(attempt.done), attempt.problems


class UndoingInFiles(Undoing):
    """The same through the files of a site."""

    def carry_out(self, approved: Approval) -> tuple[int, Collection[Problem]]:
        return self._read_again(apply_approval(self.folder, approved, now=NOW))

    def undo_it(self, number: int, since: int) -> bool:
        done, problems = self._read_again(undo(self.folder, number, day(since)))
        assert bool(done) != bool([one for one in problems if one.kind != "finds-nothing"])
        return bool(done)

    def _read_again(self, applied: ApprovalResult) -> tuple[int, Collection[Problem]]:
        self.book, self.log = open_book(read_clinic(self.folder)), read_history(self.folder)
        return len(applied.done), applied.problems


TestUndoing, TestUndoingInFiles = Undoing.TestCase, UndoingInFiles.TestCase
_steps = settings(stateful_step_count=10, suppress_health_check=list(HealthCheck))
TestUndoing.settings = settings(_steps, max_examples=tries(400, 12))
TestUndoingInFiles.settings = settings(_steps, max_examples=tries(30, 2))


def test_that_a_swap_that_counts_again_takes_its_item_off_again() -> None:
    """Two swaps of one line, both undone; then the undoing of the first is undone, so that this swap counts again."""
    evening = UndoingInFiles()
    evening.begin()
    try:
        evening.swap_own_line(opened=2, after=2)
        evening.swap_own_line(opened=1, after=0)
        for number in (0, 1, 2):
            assert evening.undo_it(number + 1, 0)
            assert evening.model.undo(number, day(0))
        evening.each_day_says_what_the_model_says()
    finally:
        evening.teardown()
