"""First things first: lists lie in their folder, and in the state, while remedies are still sought."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import timedelta
from pathlib import Path
from random import Random

import pytest

from picklist.cli.summary import handed_out_line
from picklist.documents.page_cache import read_ledger
from picklist.documents.plan_json import plan_from_json
from picklist.documents.set_ahead import SetAhead
from picklist.documents.whole_folder import recover
from picklist.evening.keep_facts import built_carts
from picklist.evening.keep_plans import lists_in_hand, load_plan
from picklist.model.plan import Plan, RemedySearch
from picklist.plan import make_plan
from picklist.store.state import open_state, state_path
from picklist.tables.files import kept_folder
from picklist.tasks import build, hand_out
from picklist.tasks.build import Built, Wanted, build_day
from picklist.tasks.errors import WrongUse
from tests.hard.crash import Points, failing
from tests.patience import THOROUGH
from tests.tasks.small_folder import DAY, EVENING, THREE_FOR_TWO_SETS, tell_by_scans, write_folder
from tests.tasks.test_forms_in_place import fill

SEEKING = "Looking for remedies"


@pytest.fixture(autouse=True)
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lists are handed out first though there is but one conflict; the other papers take as long as the search."""
    monkeypatch.setattr(build, "make_plan", make_plan)
    monkeypatch.setattr(hand_out, "WORTH_IT", 1)
    monkeypatch.setattr(SetAhead, "is_done", False)


@pytest.fixture
def papers_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """The other papers are set before the search for remedies begins."""
    monkeypatch.setattr(SetAhead, "is_done", property(lambda ahead: ahead.pages(lambda _: None, set()) is not None))


@pytest.fixture(scope="module")
def at_six(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three cases for two sets, built at six."""
    made = write_folder(tmp_path_factory.mktemp("evening") / "site", *THREE_FOR_TWO_SETS)
    built(made)
    return made.parent


@pytest.fixture
def folder(at_six: Path, tmp_path: Path) -> Path:
    """The same, where the last case starts an hour later since."""
    shutil.copytree(at_six, tmp_path, dirs_exist_ok=True)
    move(tmp_path / "site", "09:30")
    return tmp_path / "site"


def move(folder: Path, start: str) -> None:
    write_folder(folder, *THREE_FOR_TWO_SETS[:2], THREE_FOR_TWO_SETS[2].replace("08:30", start))


def built(folder: Path, minutes: int = 0, at_work: Callable[[str], None] = lambda _: None) -> Built:
    wanted = Wanted(folder=folder, out=folder.parent / "out", now=EVENING + timedelta(minutes=minutes), day=DAY)
    return build_day(wanted, at_work)


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def plan_there(folder: Path) -> Plan:
    """The plan beside the papers, which is the one that the state keeps as the newest."""
    text = (folder.parent / "out" / "plan.json").read_bytes()
    with open_state(state_path(folder)) as state:
        stored = load_plan(state, DAY)
    assert stored == text
    return plan_from_json(text)


def revisions(folder: Path) -> dict[str, int]:
    """Of each case, the revision of the list that lies in the folder, which is the one that the state has."""
    lying = {case: revision for _, case, revision in read_ledger(folder.parent / "out").values() if case}
    with open_state(state_path(folder)) as state:
        assert {case: held.revision for case, held in lists_in_hand(state, DAY).items()} == lying
    return lying


class Stopped(BaseException):
    """The end of the process at a moment, as far as it can be had without ending it."""


def stop_when(said: str, times: int = 1) -> Callable[[str], None]:
    left = iter(range(times, -1, -1))

    def at_work(step: str) -> None:
        if step.startswith(said) and next(left) == 1:
            raise Stopped

    return at_work


def test_that_the_changed_list_is_in_hand_and_in_the_state_while_remedies_are_sought(folder: Path) -> None:
    out = folder.parent / "out"
    seen: list[tuple[int, RemedySearch, dict[str, int], set[str]]] = []

    def at_work(step: str) -> None:
        if step.startswith(SEEKING) and not seen:
            plan = plan_there(folder)
            seen.append((plan.revision, plan.search, revisions(folder), set(contents(out))))

    first_told: list[Built] = []
    wanted = Wanted(folder=folder, out=out, now=EVENING + timedelta(minutes=30), day=DAY)
    whole = build_day(wanted, at_work, first_told.append)
    [(revision, search, held, files)] = seen
    assert (revision, search, held) == (2, RemedySearch.GOING_ON, {"M1": 1, "M2": 1, "M3": 2})
    assert {"pick-lists/OR 3 0930 M3.pdf", "pick-lists-changed.pdf", "changes.pdf"} <= files
    assert not {"bulk.pdf", "evening.pdf", "conflicts.pdf", "department.pdf"} & files, "none of the former revision"
    assert "pick-lists.pdf" not in files, "nobody waits for the lists that stay as they are"
    [first] = first_told
    assert (first.new_lists, first.written and first.written.drawn) == (("M3",), ("M3",))
    plan = plan_there(folder)
    assert (plan.revision, plan.search) == (2, RemedySearch.DONE)
    assert whole.plan == plan
    assert whole.written is not None
    assert (whole.written.drawn, whole.written.kept) == (("M3",), ("M1", "M2"))
    assert revisions(folder) == {"M1": 1, "M2": 1, "M3": 2}


def test_that_the_terminal_names_the_lists_that_are_there(folder: Path) -> None:
    said: list[str] = []
    wanted = Wanted(folder=folder, out=folder.parent / "out", now=EVENING + timedelta(minutes=5), day=DAY)
    build_day(wanted, lambda _: None, lambda first: said.append(handed_out_line(first)))
    assert said == [
        f"Handed out: revision 2, changed lists: M3, in {folder.parent / 'out'}. "
        "The other papers follow, then remedies and risks."
    ]


@pytest.mark.usefixtures("papers_first")
def test_that_the_other_papers_follow_before_the_remedies_are_there(folder: Path) -> None:
    seen: list[tuple[RemedySearch, set[str]]] = []

    def at_work(step: str) -> None:
        if step == SEEKING:
            seen.append((plan_there(folder).search, set(contents(folder.parent / "out"))))

    built(folder, 30, at_work)
    [(search, files)] = seen
    assert search is RemedySearch.GOING_ON
    assert {"bulk.pdf", "evening.pdf", "conflicts.pdf", "board.html", "carts.xlsx", "pick-lists.pdf"} <= files
    assert set(contents(folder.parent / "out")) - files == {"plan.xlsx"}
    assert revisions(folder) == {"M1": 1, "M2": 1, "M3": 2}


def test_that_the_papers_in_the_end_are_those_of_a_build_in_one_go(
    folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    built(folder, 30)
    (tmp_path / "other").mkdir()
    other = write_folder(tmp_path / "other" / "site", *THREE_FOR_TWO_SETS)
    monkeypatch.setattr(hand_out, "WORTH_IT", 1000)
    built(other)
    move(other, "09:30")
    built(other, 30)
    first, second = contents(folder.parent / "out"), contents(other.parent / "out")
    assert [name for name in first.keys() | second.keys() if first.get(name) != second.get(name)] == []


def test_that_a_build_cut_short_before_its_lists_are_handed_out_leaves_all_as_it_was(folder: Path) -> None:
    before = contents(folder.parent / "out")
    with pytest.raises(Stopped):
        built(folder, 30, stop_when("Printing"))
    assert contents(folder.parent / "out") == before
    assert plan_there(folder).revision == 1


def test_that_lists_of_a_build_cut_short_are_true_and_new_with_the_next_one_too(folder: Path) -> None:
    """M3's list is handed out, then the power fails; the next build prints it once more under its own revision."""
    with pytest.raises(Stopped):
        built(folder, 30, stop_when(SEEKING))
    cut_short = plan_there(folder)
    assert (cut_short.revision, cut_short.search) == (2, RemedySearch.GOING_ON)
    assert revisions(folder) == {"M1": 1, "M2": 1, "M3": 2}
    pdf = (folder.parent / "out" / "pick-lists" / "OR 3 0930 M3.pdf").read_bytes()
    changed = (folder.parent / "out" / "pick-lists-changed.pdf").read_bytes()

    again = built(folder, 40)
    plan = plan_there(folder)
    assert (plan.revision, plan.replaces, plan.first_new, plan.search) == (3, 2, 2, RemedySearch.DONE)
    assert again.change is not None
    assert again.change.to_print() == (), "nothing changed since the lists were handed out"
    assert (again.new_lists, again.still_new, again.unchanged_lists) == (("M3",), ("M3",), ("M1", "M2"))
    assert revisions(folder) == {"M1": 1, "M2": 1, "M3": 2}
    assert (folder.parent / "out" / "pick-lists" / "OR 3 0930 M3.pdf").read_bytes() == pdf
    assert len((folder.parent / "out" / "pick-lists-changed.pdf").read_bytes()) == len(changed)
    assert (folder.parent / "out" / "labels-new.pdf").exists()

    third = built(folder, 50)
    assert (third.new_lists, plan_there(folder).first_new) == ((), 4), "a completed build has told of it"
    assert not (folder.parent / "out" / "pick-lists-changed.pdf").exists()


def test_that_two_builds_cut_short_one_after_the_other_lose_no_list(folder: Path) -> None:
    with pytest.raises(Stopped):
        built(folder, 30, stop_when(SEEKING))
    write_folder(folder, THREE_FOR_TWO_SETS[0], THREE_FOR_TWO_SETS[1].replace("08:00", "08:10"), *_later("09:30"))
    with pytest.raises(Stopped):
        built(folder, 40, stop_when(SEEKING))
    assert revisions(folder) == {"M1": 1, "M2": 3, "M3": 2}
    assert built(folder, 50).new_lists == ("M2", "M3")


def _later(start: str) -> tuple[str, ...]:
    return (THREE_FOR_TWO_SETS[2].replace("08:30", start),)


def test_that_a_first_build_cut_short_keeps_the_folder_the_sites_own(tmp_path: Path) -> None:
    """The mark of the site is made of its first plan, which is another one once it has its remedies."""
    site = write_folder(tmp_path / "site", *THREE_FOR_TWO_SETS)
    with pytest.raises(Stopped):
        built(site, 0, stop_when(SEEKING))
    assert plan_there(site).search is RemedySearch.GOING_ON
    assert (tmp_path / "out" / "pick-lists.pdf").exists(), "all of them are new"
    assert built(site, 10).new_lists == ("M1", "M2", "M3")
    assert revisions(site) == {"M1": 1, "M2": 1, "M3": 1}


def test_that_a_cart_reported_after_the_lists_were_handed_out_is_recorded_and_nothing_is_planned_again(
    folder: Path,
) -> None:
    said: list[str] = []

    def at_work(step: str) -> None:
        said.append(step)
        if step == SEEKING:
            scans = ["CART M1", "BY ab", "DONE"]
            assert tell_by_scans(folder, scans, EVENING + timedelta(minutes=31), DAY).kept

    whole = built(folder, 30, at_work)
    assert said.count(SEEKING) == 1
    assert plan_there(folder).search is RemedySearch.DONE
    assert whole.plan is not None
    assert whole.plan.revision == 2
    with open_state(state_path(folder)) as state:
        assert built_carts(state, DAY)["M1"].by == "ab"


def test_that_a_form_saved_while_the_rest_is_made_is_recorded_and_kept(folder: Path) -> None:
    """Somebody has the form of the former revision open, and saves it where the new one is not printed yet."""
    form = folder.parent / "out" / "carts.xlsx"
    fill(form, "Carts", "M1", done="yes", by="ab")
    filled = form.read_bytes()
    form.unlink()

    def at_work(step: str) -> None:
        if step == SEEKING:
            assert not form.exists()
            form.write_bytes(filled)

    whole = built(folder, 30, at_work)
    assert whole.written is not None
    assert "carts.xlsx was filled in: 1 cart recorded for 2026-11-26" in whole.written.notices
    with open_state(state_path(folder)) as state:
        assert built_carts(state, DAY)["M1"].by == "ab"
    assert filled in [path.read_bytes() for path in kept_folder(folder).iterdir()]
    assert form.read_bytes() != filled


def test_that_a_second_build_replaces_the_first_whose_rest_is_then_refused_in_a_sentence(folder: Path) -> None:
    """One in a terminal, one on the page: the second begins when the lists of the first are handed out."""
    second: list[Built] = []

    def at_work(step: str) -> None:
        if step == SEEKING and not second:
            second.append(built(folder, 40))

    with pytest.raises(WrongUse, match="another build has replaced them by revision 3 since"):
        built(folder, 30, at_work)
    assert (plan_there(folder).revision, plan_there(folder).search) == (3, RemedySearch.DONE)
    assert second[0].new_lists == ("M3",), "nobody knows whether the first one came to its end"
    assert revisions(folder) == {"M1": 1, "M2": 1, "M3": 2}


class Ended(Points):
    """From one of its points on nothing is written any more, as after the end of the process: no tidying up either."""

    def pass_file(self, what: str, path: object, before: Callable[[], object] = lambda: None) -> None:
        count = self.count
        with suppress(OSError):  # it counts, and fails itself at no point
            super().pass_file(what, path)
        if self.count > count:
            self._end(before)

    def pass_statement(self, statement: str) -> None:
        count = self.count
        super().pass_statement(statement)
        if self.count > count:
            self._end(lambda: None)

    def __init__(self, below: Path, end_at: int | None) -> None:
        super().__init__(below)
        self.end_at = end_at

    def _end(self, before: Callable[[], object]) -> None:
        if self.end_at is not None and self.count >= self.end_at:
            if self.count == self.end_at:
                before()
            raise Stopped


@pytest.mark.usefixtures("papers_first")
def test_that_an_end_at_any_point_leaves_true_lists_and_the_next_build_is_right(folder: Path, tmp_path: Path) -> None:
    with copy_of(folder, tmp_path / "sound") as own, failing(points := Ended(own.parent, None)):
        built(own, 30)
    every = range(1, len(points.seen) + 1)
    commits = [n for n in every if points.seen[n - 1] == "COMMIT"]
    chosen = [*every] if THOROUGH else [commits[-1], *Random("hand out").sample(every, 1)]
    for number in chosen:
        with copy_of(folder, tmp_path / str(number)) as own:
            with failing(Ended(own.parent, number)), pytest.raises(Stopped):
                built(own, 30)
            _look_and_build_again(own, f"ended at {number}, {points.seen[number - 1]}")


def _look_and_build_again(folder: Path, where: str) -> None:
    """Whoever looks first sees lists that the state knows; the next build makes all whole, and forgets no list."""
    recover(folder.parent / "out")
    there = plan_from_json((folder.parent / "out" / "plan.json").read_bytes())
    with open_state(state_path(folder)) as state:
        kept = load_plan(state, DAY)
    assert kept is not None
    known = plan_from_json(kept)
    step = [(1, RemedySearch.DONE), (2, RemedySearch.GOING_ON), (2, RemedySearch.DONE)]
    behind = step.index((there.revision, there.search)) - step.index((known.revision, known.search))
    assert behind in (0, 1), f"{where}: the state is at most the last moment of one step behind the folder"
    again = built(folder, 40)
    assert plan_there(folder).search is RemedySearch.DONE, where
    assert revisions(folder)["M3"] == 2, where
    assert (again.new_lists == ("M3",)) is ((known.revision, known.search) != (2, RemedySearch.DONE)), where


@contextmanager
def copy_of(folder: Path, place: Path) -> Iterator[Path]:
    """The site, its papers and its state elsewhere."""
    shutil.copytree(folder.parent, place, ignore=shutil.ignore_patterns(place.name, "[0-9]*", "sound"))
    yield place / folder.name
    shutil.rmtree(place)
