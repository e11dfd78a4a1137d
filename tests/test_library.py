"""``import picklist``: its verbs, what they cost to import, and the example in the README."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from datetime import date, datetime
from pathlib import Path

import pandas as pd
import pytest

import picklist
from picklist.tasks.errors import WrongUse
from tests.kept import without_remedies
from tests.tasks.small_folder import tell_by_scans, write_folder
from tests.tasks.test_built_carts import lay_lists

ROOT = Path(__file__).parents[1]
NOW = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 - site wall time
DAY = date(2026, 11, 26)
TABLES = {
    "Sets": "set,tray,side,state,step,step since,in case,place\nWR-01,T-WR,,on shelf,,,,A-1-1\n",
    "Cards": "procedure,surgeon,change,kind,thing,open,hold,approved\n"
    "P1,,add,tray,T-WR,1,0,yes\nP1,,add,item,100001,3,1,yes\n",
    "Lots": "item,lot,quantity,expiry,place\n100001,L1,6,2030-01-31,B-1-1\n",
    "Past cases": "procedure,surgeon,planned minutes,actual minutes,room,planned start,actual start\n"
    "P1,S1,60,75,OR 1,2026-11-02 07:30,2026-11-02 07:41\n",
}
SCHEDULE = ("M1,2026-11-26,OR 1,08:00,60,S1,P1,none,planned", "M2,2026-11-26,OR 1,09:15,60,S1,P1,none,planned")


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """Two wrist cases that follow each other in one room, one wrist set, and six drapes where eight are wanted."""
    folder = tmp_path / "site"
    write_folder(folder, *SCHEDULE, **TABLES)
    return folder


def test_that_every_name_is_there_in_order_and_says_what_it_does() -> None:
    assert picklist.__all__ == sorted(picklist.__all__)
    for name in picklist.__all__:
        assert getattr(picklist, name).__doc__
    assert set(picklist.__all__) <= set(dir(picklist))
    with pytest.raises(AttributeError, match="no attribute 'paln_day'"):
        picklist.paln_day  # noqa: B018


def test_that_importing_it_brings_in_nothing_else() -> None:
    program = (
        "import sys, picklist; print([n for n in sys.modules if n.startswith('picklist.')], 'pandas' in sys.modules)"
    )
    said = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "[] False"


def test_that_a_plan_is_the_one_that_a_build_makes_and_leaves_nothing_behind(site: Path, tmp_path: Path) -> None:
    before = sorted(path.name for path in tmp_path.rglob("*"))
    plan = picklist.plan_day(site, NOW)
    assert sorted(path.name for path in tmp_path.rglob("*")) == before
    built = picklist.build_day(picklist.Wanted(folder=site, out=tmp_path / "out", now=NOW), lambda _stage: None)
    assert built.plan is not None
    assert (plan.day, plan.carts, plan.clusters) == (DAY, built.plan.carts, built.plan.clusters)


def test_that_a_folder_and_a_moment_may_be_texts_as_one_types_them_in_a_notebook(site: Path) -> None:
    typed = picklist.plan_day(str(site), f"{NOW:%Y-%m-%d %H:%M}")
    assert typed == picklist.plan_day(site, NOW)
    with pytest.raises(picklist.WrongUse, match="is not a day and time"):
        picklist.plan_day(str(site), "tomorrow")


def test_that_a_plan_leaves_a_built_cart_its_set(tmp_path: Path) -> None:
    sets = TABLES["Sets"] + "WR-02,T-WR,,on shelf,,,,A-1-2\n"
    folder = tmp_path / "site"
    write_folder(folder, *SCHEDULE, **TABLES | {"Sets": sets})
    lay_lists(folder, NOW, DAY)
    given = dict(zip(*picklist.plan_tables(picklist.plan_day(folder, NOW)).uses[["case", "set"]].T.values, strict=True))
    other = {"WR-01": "WR-02", "WR-02": "WR-01"}[given["M1"]]
    assert tell_by_scans(folder, ["CART M1", "BY ab", other, "DONE"], NOW, DAY).kept
    tables = picklist.plan_tables(picklist.plan_day(folder, NOW))
    assert tables.uses.set_index("case").loc["M1", "set"] == other


def test_that_a_plan_comes_as_frames(site: Path) -> None:
    """M2 starts 15 minutes after M1 ends and gets the set too late; three open and one held are wanted twice."""
    plan = picklist.plan_day(site, NOW)
    tables = picklist.plan_tables(plan)
    cases = tables.cases.set_index("case")
    zone = plan.settings.time_zone
    assert cases.loc["M1", "start"] == pd.Timestamp("2026-11-26 08:00", tz=zone)
    assert list(cases["minutes"]) == [60, 60]
    assert len(tables.uses) == 2
    assert list(tables.sets["set"]) == ["WR-01"]
    assert set(tables.conflicts["waiter"]) == {"M2"}
    assert str(tables.conflicts["decide_by"].dt.tz) == zone
    lines = tables.lines[tables.lines["kind"] != "tray"]
    assert (lines["open"] + lines["hold"]).sum() == 8
    assert (lines["short_open"] + lines["short_hold"]).sum() == 2
    assert all(len(getattr(tables, name).columns) for name in ("deadlines", "conflicts"))


def test_that_tables_without_rows_keep_their_columns_and_kinds(tmp_path: Path) -> None:
    folder = tmp_path / "site"
    write_folder(folder, SCHEDULE[0], **TABLES)
    tables = picklist.plan_tables(picklist.plan_day(folder, NOW))
    assert tables.conflicts.empty
    assert isinstance(tables.conflicts["decide_by"].dtype, pd.DatetimeTZDtype)


def test_that_records_and_past_cases_come_as_frames(site: Path, tmp_path: Path) -> None:
    picklist.build_day(picklist.Wanted(folder=site, out=tmp_path / "out", now=NOW), lambda _stage: None)
    still_open = picklist.open_table(site, NOW)
    assert len(still_open) > 0
    assert list(still_open["due"].dropna()) == sorted(still_open["due"].dropna())
    records = picklist.record_tables(site)
    assert list(records["plan"]["revision"]) == [1]
    loaded = picklist.load_folder(site, NOW)
    assert loaded.site is not None
    past = picklist.past_cases(loaded.site)
    (row,) = past.to_dict("records")
    assert (row["procedure"], row["surgeon"], row["room"]) == ("P1", "S1", "OR 1")
    assert (row["planned_minutes"], row["actual_minutes"], row["overrun"]) == (60, 75, 15)
    assert (row["actual_start"] - row["planned_start"]).total_seconds() == 11 * 60


def test_that_no_records_are_made_beside_a_folder_that_is_not_there(tmp_path: Path) -> None:
    for ask in (picklist.record_tables, lambda folder: picklist.open_table(folder, NOW)):
        with pytest.raises(WrongUse, match="there is no folder"):
            ask(tmp_path / "mistyped")
    assert list(tmp_path.iterdir()) == []


def test_that_the_example_in_the_readme_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    example = re.search(
        r"```python\n(import picklist.*?|from datetime.*?)```", (ROOT / "README.md").read_text(), re.DOTALL
    )
    assert example
    assert len(example[1].splitlines()) <= 12
    (tmp_path / "sample_inputs").mkdir()
    shutil.copytree(ROOT / "sample_inputs" / "hospital", tmp_path / "sample_inputs" / "hospital")
    monkeypatch.chdir(tmp_path)
    found: dict[str, object] = {}
    with without_remedies():  # it asks for deadlines alone
        exec(compile(example[1], "README.md", "exec"), found)
    soon = found["soon"]
    assert isinstance(soon, pd.DataFrame)
    assert len(soon)
    assert (soon["slack"] < 15).all()
