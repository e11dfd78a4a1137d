"""Reports on one cart from a scanner, the workbook and the page: each adds to what is known, nothing is lost."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path

import openpyxl
import pytest

from picklist.evening.crew_workbook import cart_workbook
from picklist.evening.keep_facts import built_carts, told_so_far
from picklist.evening.scans import ScanSession
from picklist.model.built import BuiltCart
from picklist.model.plan import Plan
from picklist.problems import Severity
from picklist.store.state import open_state, state_path
from picklist.tasks.crew import ReportResult, look_at_workbook, scan_carts, tell_by_scan_file, tell_by_workbook
from picklist.tasks.errors import WrongUse
from picklist.wording.say_carts import cart_state
from tests.tasks.small_folder import tell_by_scans, write_folder
from tests.tasks.test_built_carts import lay_lists

DAY = date(2026, 11, 26)
EVENING = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 - site wall time
CARDS = """procedure,surgeon,change,kind,thing,open,hold,approved
P1,,add,tray,T-WR,1,0,yes
P1,,add,item,100001,4,0,yes
"""
MORNING = (
    "M1,2026-11-26,OR 1,07:30,60,S1,P1,none,planned",
    "M2,2026-11-26,OR 2,08:00,60,S2,P1,none,planned",
)


@pytest.fixture
def site(tmp_path: Path) -> tuple[Path, Plan]:
    folder = write_folder(tmp_path / "site", *MORNING, Cards=CARDS)
    return folder, lay_lists(folder, EVENING, DAY)


def known(folder: Path, case: str = "M1") -> BuiltCart:
    with open_state(state_path(folder)) as state:
        return built_carts(state, DAY)[case]


def reports(folder: Path) -> int:
    with open_state(state_path(folder)) as state, state.reading() as db:
        found: int = db.execute("SELECT count(*) FROM built_cart").fetchone()[0]
    return found


def scan(folder: Path, minutes: int, *lines: str) -> ReportResult:
    return tell_by_scans(folder, lines, EVENING + timedelta(minutes=minutes), DAY)


def workbook(folder: Path, plan: Plan, sheet: str, **cells: object) -> Path:
    """The crew's workbook with boxes filled on the rows of M1 of one sheet."""
    path = folder.parent / "carts.xlsx"
    path.write_bytes(cart_workbook(plan))
    book = openpyxl.load_workbook(path)
    rows = list(book[sheet].iter_rows())
    head = next(row for row in rows if "case" in [cell.value for cell in row])
    at = {str(cell.value): number for number, cell in enumerate(head)}
    for row in rows:
        if row[at["case"]].value == "M1":
            for name, value in cells.items():
                row[at[name.replace("_", " ")]].value = value  # type: ignore[assignment]
    book.save(path)
    return path


def test_that_a_second_scan_adds_to_the_first(site: tuple[Path, Plan]) -> None:
    folder, _ = site
    scan(folder, 10, "M1.R1", "BY mk", "MISSING 100001 2", "COUNT 100001 14", "DONE")
    told = scan(folder, 70, "m1.r1", "by rt", "note lamp broken")
    assert [cart.case for cart in told.kept] == ["M1"]
    cart = known(folder)
    assert (cart.done, cart.by, cart.remark) == (True, "mk, rt", "lamp broken")
    assert [(m.quantity, m.by) for m in cart.missing] == [(2, "mk")]
    assert [c.quantity for c in cart.counts] == [14]
    assert reports(folder) == 2, "both reports stay in the records"


def test_that_a_workbook_adds_to_scans_and_corrects_them_line_by_line(site: tuple[Path, Plan]) -> None:
    folder, plan = site
    scan(folder, 10, "M1.R1", "BY mk", "WR-02", "MISSING 100001 2", "DONE")
    path = workbook(folder, plan, "Things", missing=1)
    told = tell_by_workbook(folder, path, EVENING + timedelta(minutes=70), DAY)
    assert told.problems == ()
    assert [(one.case, one.done, one.by) for one in told.kept] == [("M1", True, "mk")], "what is said is what counts"
    again = tell_by_workbook(folder, path, EVENING + timedelta(minutes=80), DAY)
    assert (again.kept, [one.kind for one in again.problems]) == ((), ["read before"])
    cart = known(folder)
    assert (cart.done, cart.by, [t.set_id for t in cart.sets]) == (True, "mk", ["WR-02"])
    assert [m.quantity for m in cart.missing] == [1]
    assert reports(folder) == 2, "the same workbook again says nothing new"
    tell_by_workbook(folder, workbook(folder, plan, "Things", missing=0), EVENING + timedelta(minutes=90), DAY)
    assert known(folder).missing == ()


def test_that_a_workbook_recorded_twice_leaves_what_was_found_since(site: tuple[Path, Plan]) -> None:
    """mk reports two missing, rt finds them, and somebody records the workbook of mk once more."""
    folder, plan = site
    form = workbook(folder, plan, "Things", missing=2)
    tell_by_workbook(folder, form, EVENING + timedelta(minutes=70), DAY)
    scan(folder, 80, "M1.R1", "BY rt", "FOUND 100001")
    assert not look_at_workbook(folder, form, EVENING + timedelta(minutes=90)).kept
    again = tell_by_workbook(folder, form, EVENING + timedelta(minutes=90), DAY)
    assert (again.kept, [one.kind for one in again.problems]) == ((), ["read before"])
    assert known(folder).missing == ()


def test_that_a_cart_that_could_not_be_recorded_is_named_whenever_its_workbook_is_read(
    site: tuple[Path, Plan],
) -> None:
    folder, plan = site
    form = workbook(folder, plan, "Trays", set_taken="WR-77")
    for minutes in (70, 80):
        told = tell_by_workbook(folder, form, EVENING + timedelta(minutes=minutes), DAY)
        assert (told.kept, [one.kind for one in told.problems]) == ((), ["unknown set"])


def test_that_a_workbook_can_take_back_that_a_cart_is_built(site: tuple[Path, Plan]) -> None:
    folder, plan = site
    scan(folder, 10, "M1.R1", "BY mk", "DONE")
    tell_by_workbook(folder, workbook(folder, plan, "Trays", missing="no"), EVENING + timedelta(minutes=70), DAY)
    assert known(folder).done
    tell_by_workbook(folder, workbook(folder, plan, "Carts", done="no"), EVENING + timedelta(minutes=80), DAY)
    assert not known(folder).done


def test_that_a_file_of_scans_that_was_cut_short_counts_once_when_it_is_read_again(
    site: tuple[Path, Plan], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three drapes, one missing; the computer is switched off after the second of them."""
    folder, _ = site
    file = tmp_path / "scans.txt"
    file.write_text("M1.R1\nBY mk\n100001\n100001\nMISSING 100001 1\n100001\nDONE\n", encoding="utf-8")
    take = ScanSession.take

    def cut_short(session: ScanSession, line: str) -> object:
        if line.startswith("MISSING"):
            raise KeyboardInterrupt
        return take(session, line)

    monkeypatch.setattr(ScanSession, "take", cut_short)
    with pytest.raises(KeyboardInterrupt):
        tell_by_scan_file(folder, file, EVENING, DAY)
    monkeypatch.setattr(ScanSession, "take", take)
    assert [one.case for one in tell_by_scan_file(folder, file, EVENING + timedelta(minutes=5), DAY).kept] == ["M1"]
    cart = known(folder)
    assert [(one.item, one.quantity) for one in (*cart.scanned, *cart.added)] == [("100001", 3)]
    assert [one.quantity for one in cart.missing] == [1]


def test_that_a_workbook_is_no_file_of_scans(site: tuple[Path, Plan]) -> None:
    folder, plan = site
    with pytest.raises(WrongUse, match="no text of scanned lines"):
        tell_by_scan_file(folder, workbook(folder, plan, "Carts", done="yes"), EVENING, DAY)


def test_that_a_workbook_reads_a_set_in_small_letters(site: tuple[Path, Plan]) -> None:
    folder, plan = site
    path = workbook(folder, plan, "Trays", set_taken="wr-02")
    assert tell_by_workbook(folder, path, EVENING + timedelta(minutes=70), DAY).problems == ()
    assert [t.set_id for t in known(folder).sets] == ["WR-02"]


def test_that_a_built_cart_waits_for_a_set_that_is_still_sterilized_until_it_is_scanned(tmp_path: Path) -> None:
    """The set leaves the washer at 18:00 and has two hours to go; at 21:00 it is scanned onto the cart."""
    sets = "set,tray,side,state,step,step since,place\nWR-01,T-WR,,at step,wash,2026-11-25 17:00,A-1-1\n"
    folder = write_folder(tmp_path / "site", MORNING[0], Cards=CARDS, Sets=sets)
    plan = lay_lists(folder, EVENING, DAY)
    expected = plan.carts[0].trays[0].expected
    assert expected is not None
    scan(folder, 10, "M1.R1", "BY mk", "DONE")
    assert [(t.set_id, t.expected) for t in known(folder).to_come] == [("WR-01", expected)]
    scan(folder, 20, "M1.R1", "NOTE bag torn")
    assert known(folder).to_come
    scan(folder, 180, "M1.R1", "WR-01")
    assert (known(folder).to_come, known(folder).done) == ((), True)


def test_that_scans_are_kept_though_the_scanner_is_killed(site: tuple[Path, Plan]) -> None:
    folder, _ = site

    def killed() -> Iterator[str]:
        yield from ("M1.R1", "BY mk", "MISSING 100001 2")
        with open_state(state_path(folder)) as state:
            kept.append(built_carts(state, DAY)["M1"])
            told.append(told_so_far(state))
        raise KeyboardInterrupt

    kept: list[BuiltCart] = []
    with open_state(state_path(folder)) as state:
        told = [told_so_far(state)]
    with pytest.raises(KeyboardInterrupt):
        scan_carts(folder, killed(), lambda: EVENING, DAY)
    assert [m.quantity for m in kept[0].missing] == [2], "kept before the next line is read"
    assert told[0] == told[1], "a cart that is just being scanned sends no build back"
    assert reports(folder) == 1
    assert not known(folder).done


def test_that_each_line_is_answered_before_the_next_is_asked_for(site: tuple[Path, Plan]) -> None:
    folder, _ = site
    said: list[str] = []

    def lines() -> Iterator[str]:
        for text, words in (("M1.R1", "Cart M1 is open"), ("WR-01", "WR-01"), ("DONE", "Cart M1 is built")):
            yield text
            assert any(words in one for one in said), said
            said.clear()

    told = scan_carts(folder, lines(), lambda: EVENING, DAY, said.append)
    assert told.kept[0].done


def test_that_undo_leaves_no_report_of_a_cart_opened_by_mistake(site: tuple[Path, Plan]) -> None:
    folder, _ = site
    scan(folder, 10, "M1.R1", "WR-01", "UNDO", "UNDO")
    assert reports(folder) == 0
    scan(folder, 20, "M1.R1", "BY mk", "MISSING 100001 1", "DONE")
    before = known(folder)
    scan(folder, 30, "M1.R1", "FOUND 100001", "UNDO", "UNDO")
    assert (known(folder), reports(folder)) == (before, 1)


def test_that_a_built_cart_undone_and_left_is_only_started(site: tuple[Path, Plan]) -> None:
    folder, _ = site
    scan(folder, 10, "M1.R1", "BY mk", "DONE", "UNDO", "UNDO", "UNDO")
    assert not known(folder).done


def test_that_a_file_of_scans_read_twice_is_counted_once(site: tuple[Path, Plan]) -> None:
    folder, _ = site
    file = folder.parent / "scans.txt"
    file.write_text("M1.R1\nBY mk\n100001\nTIMES 2\nWR-01\n", encoding="utf-8")
    tell_by_scan_file(folder, file, EVENING, DAY)
    named = file.rename(file.with_name("Oda Wrenfield MRN 4471902.txt"))
    with pytest.raises(WrongUse, match="the name of this file seems to contain"):  # it would be said of it
        tell_by_scan_file(folder, named, EVENING + timedelta(hours=1), DAY)
    named.rename(file)
    before = known(folder)
    told = tell_by_scan_file(folder, file, EVENING + timedelta(hours=1), DAY)
    assert [(p.kind, p.severity) for p in told.problems] == [("read before", Severity.NOTICE)]
    assert (known(folder), before.scanned[0].quantity) == (before, 2)


def test_that_a_cart_built_from_an_older_list_is_not_taken_for_the_newer_one_when_it_is_opened_again(
    site: tuple[Path, Plan],
) -> None:
    """List 2 asks for five drapes. A remark under its label does not say that its changes are made; DONE does."""
    folder, _ = site
    scan(folder, 10, "M1.R1", "BY mk", "WR-01", "DONE")
    write_folder(folder, *MORNING, Cards=CARDS.replace("4,0,yes", "5,0,yes"))
    lay_lists(folder, EVENING + timedelta(minutes=20), DAY)
    scan(folder, 30, "M1.R2", "NOTE list 2 not looked at yet")
    assert (known(folder).revision, known(folder).done) == (1, True)
    scan(folder, 40, "M1.R2", "DONE")
    assert (known(folder).revision, known(folder).done) == (2, True)
    assert [t.set_id for t in known(folder).sets] == ["WR-01"]


def test_that_a_report_without_a_day_is_about_the_lists_in_hand(tmp_path: Path) -> None:
    """At one in the afternoon M2 has still to be built, and nothing was built yet for M3 of the next day."""
    next_day = "M3,2026-11-27,OR 1,07:30,60,S1,P1,none,planned"
    late = (MORNING[0], MORNING[1].replace("08:00", "15:00"))
    folder = write_folder(tmp_path / "site", *late, next_day, Cards=CARDS)
    plan = lay_lists(folder, EVENING, DAY)
    afternoon = datetime(2026, 11, 26, 13, 0)  # noqa: DTZ001 - site wall time
    told = tell_by_scans(folder, ["M2.R1", "DONE"], afternoon)
    assert [(one.case, one.done) for one in told.kept] == [("M2", True)]
    told = tell_by_workbook(folder, workbook(folder, plan, "Things", missing=1), afternoon)
    assert [(one.case, len(one.missing)) for one in told.kept] == [("M1", 1)]
    told = tell_by_workbook(folder, workbook(folder, plan, "Carts", done="yes"), afternoon + timedelta(days=1))
    assert [(one.case, one.done) for one in told.kept] == [("M1", True)], "a workbook names its day"


def test_that_a_set_reported_for_both_copies_of_a_tray_is_named_once(tmp_path: Path) -> None:
    """M1 wants two wrist sets: WR-01 was scanned, and the workbook has it in both rows."""
    folder = write_folder(tmp_path / "site", MORNING[0], Cards=CARDS.replace("T-WR,1", "T-WR,2"))
    plan = lay_lists(folder, EVENING, DAY)
    scan(folder, 10, "CART M1", "BY ab", "WR-01", "DONE")
    both = workbook(folder, plan, "Trays", **{"set taken": "WR-01"})
    told = tell_by_workbook(folder, both, EVENING + timedelta(hours=1), DAY)
    assert [one.kind for one in told.problems] == ["set twice on a cart"]


def test_that_a_list_which_was_never_printed_is_refused(site: tuple[Path, Plan]) -> None:
    folder, plan = site
    told = tell_by_workbook(folder, workbook(folder, plan, "Carts", list=9, done="yes", by="mk"), EVENING, DAY)
    assert (told.kept, [(one.kind, one.nearest) for one in told.problems]) == ((), [("unknown list", ("1",))])
    assert told.problems[0].message == "list 9 of M1 was never printed"


def test_that_a_cart_which_is_said_not_to_be_built_is_not_started_by_that(site: tuple[Path, Plan]) -> None:
    folder, plan = site
    told = tell_by_workbook(folder, workbook(folder, plan, "Carts", done="no"), EVENING, DAY)
    assert [cart_state(one) for one in told.kept] == ["not built"]
    assert reports(folder) == 0
    tell_by_workbook(folder, workbook(folder, plan, "Carts", done="yes", by="mk"), EVENING, DAY)
    assert known(folder).done
    tell_by_workbook(folder, workbook(folder, plan, "Carts", done="no"), EVENING + timedelta(minutes=5), DAY)
    assert not known(folder).done
