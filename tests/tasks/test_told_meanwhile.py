"""The crew tells a cart while a build is at work: the build knows it, or says that it does not."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from threading import Thread

import pytest

from picklist.evening.keep_facts import built_carts
from picklist.store.state import open_state, state_path
from picklist.tasks.build import TRIES, Built, Wanted, build_day
from picklist.tasks.crew import ReportResult
from picklist.tasks.errors import WrongUse
from tests.patience import PATIENCE
from tests.tasks.small_folder import tell_by_scans, write_folder

DAY = date(2026, 11, 26)
EVENING = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 - site wall time
MORNING = (
    "M1,2026-11-26,OR 1,07:30,60,S1,P1,none,planned",
    "M2,2026-11-26,OR 2,08:00,60,S2,P1,none,planned",
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = write_folder(tmp_path / "site", *MORNING)
    build(made, 0, lambda _: None)
    return made


def build(folder: Path, minutes: int, progress: Callable[[str], None]) -> Built:
    now = EVENING + timedelta(minutes=minutes)
    wanted = Wanted(folder=folder, out=folder.parent / "out", now=now, day=DAY, with_chance=False)
    return build_day(wanted, progress)


def tell(folder: Path, minutes: int, set_id: str) -> ReportResult:
    return tell_by_scans(
        folder, ["CART M2", "BY ab", f"INSTEAD T-WR {set_id}", "DONE"], EVENING + timedelta(minutes=minutes), DAY
    )


def set_of_m2(built: Built) -> str:
    assert built.plan is not None
    return next(cart.trays[0].set_id for cart in built.plan.carts if cart.case.number == "M2")


def test_that_a_cart_told_while_a_plan_is_made_stays_as_it_was_told(folder: Path) -> None:
    stages: list[str] = []

    def at_work(stage: str) -> None:
        stages.append(stage)
        if stage == "Giving out sets" and stages.count(stage) == 1:
            assert tell(folder, 30, "WR-01").problems == ()

    built = build(folder, 31, at_work)
    assert stages.count("Giving out sets") == 2
    assert "A cart was reported while planning; planning again" in stages
    assert set_of_m2(built) == "WR-01"
    assert built.plan is not None
    assert built.plan.revision == 2


def test_that_a_build_gives_up_with_a_clear_word_when_carts_are_told_again_and_again(folder: Path) -> None:
    before = sorted(path.name for path in (folder.parent / "out").iterdir())
    told = iter(range(30, 30 + TRIES))

    def at_work(stage: str) -> None:
        if stage == "Giving out sets":
            minute = next(told)
            tell(folder, minute, f"WR-0{minute % 2 + 1}")

    with pytest.raises(WrongUse, match="carts were reported during planning; nothing was changed"):
        build(folder, 60, at_work)
    assert sorted(path.name for path in (folder.parent / "out").iterdir()) == before
    assert build(folder, 61, lambda _: None).exit_code == 0


def test_that_a_cart_told_while_the_lists_are_printed_waits_its_turn(folder: Path) -> None:
    told: list[ReportResult] = []
    teller = Thread(target=lambda: told.append(tell(folder, 30, "WR-02")))

    def at_work(stage: str) -> None:
        if stage.startswith("Printing") and not teller.ident:
            teller.start()

    build(folder, 29, at_work)
    teller.join(timeout=PATIENCE)
    assert [one.problems for one in told] == [()]
    with open_state(state_path(folder)) as state:
        assert built_carts(state, DAY)["M2"].done
