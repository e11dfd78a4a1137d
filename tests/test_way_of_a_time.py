"""DEVELOPERS.md walks a time from its cell to the printed deadline; a traced run says whether that is the way."""

from __future__ import annotations

import os
import re
import sys
from collections import Counter, defaultdict
from datetime import date, datetime, time
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from types import FrameType

import pytest

import picklist
from picklist.department import run_department
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.stamp import printing_of
from picklist.inputs import read_site
from picklist.plan import PlanRequest, make_plan

ROOT = Path(picklist.__file__).parents[1]
HOME = f"{ROOT / 'picklist'}{os.sep}"
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
WALK = re.findall(r"^\| \d+ \| `([^`]+)` \| `([^`]+)` \|", GUIDE, flags=re.MULTILINE)
MOST = 25
# Files that hand the time on as it is: a cell among cells, a field among fields, a deadline that is looked up.
PASS_ON = {
    "grouping.py",
    "inputs/free_words.py",
    "model/department.py",
    "model/uses.py",
    "resolve/being_resolved.py",
    "stock/demand.py",
    "tables/cells.py",
    "tables/folder.py",
    "tables/nearest.py",
}
# Files that compare, order or count it, say how much is to spare, or follow what comes after C-2.
BESIDE = {
    "checks/crew_checks.py",
    "checks/set_state_checks.py",
    "department/best_run.py",
    "department/forward.py",
    "department/jobs.py",
    "department/queue_conflicts.py",
    "department/report.py",
    "department/run_terms.py",
    "department/station_queue.py",
    "model/schedule.py",
    "sets/allocation/quick.py",
    "sets/allocation/score.py",
    "sets/allocation/waits.py",
    "sets/keep_printed_sets.py",
    "sets/planning_context.py",
    "sets/turnaround.py",
    "wording/quantities.py",
}
TABLES = {
    "Settings": "setting,value\nsite,Example Hospital\ntime zone,UTC\n",
    "Schedule": "case,day,room,start,minutes,surgeon,procedures\n"
    "C-1,2026-11-26,OR 1,07:30,90,S1,P1\nC-2,2026-11-26,OR 2,{start},60,S1,P1\n",
    "Procedures": "procedure,name\nP1,Wrist plating\n",
    "Cards": "procedure,surgeon,change,kind,thing,open\nP1,every,add,tray,WRIST,1\n",
    "Items": "item,name,unit\nI-1,Gown,each\n",
    "Lots": "item,lot,expiry,quantity,place\nI-1,L1,never,5,A-1\n",
    "Staff": "person,name,role\nS1,A. Vane,surgeon\n",
    "Trays": "tray,name,route\nWRIST,Wrist set,R\n",
    "Sets": "set,tray,state\nWRIST-01,WRIST,on shelf\n",
    "Routes": "route,step,after,usual minutes,least minutes,station\nR,wash,start,60,60,washers\nR,steam,wash,90,90,\n",
    "Stations": "station,machines\nwashers,1\n",
}
Answers = dict[tuple[str, str], Counter[str]]


def write_tables(folder: Path, start: str) -> None:
    """The tables, with a start of C-2."""
    for name, text in TABLES.items():
        (folder / f"{name}.csv").write_text(text.replace("{start}", start), encoding="utf-8")


def send_out_by(folder: Path) -> str:
    """The deadline on the list of C-1."""
    site, problems = read_site(folder, now=datetime.combine(date(2026, 11, 25), time(18, 0)))
    assert site is not None, problems
    now = site.settings.site_clock.instant(date(2026, 11, 25), time(18, 0))
    request = PlanRequest(day=date(2026, 11, 26), now=now, with_chance=False, with_remedies=False)
    plan = make_plan(site, (), request)
    found = Lookup(plan)
    (strip,) = PickListView(found, plan.carts[0], printing_of(plan)).trays[0].strips
    return dict(strip.times)["out of the room"]


@cache
def traced(start: str) -> tuple[str, Answers]:
    """The deadline, and what each function of the package answered, for a start of C-2."""
    answers: Answers = defaultdict(Counter)

    def note(frame: FrameType, event: str, answer: object) -> None:
        path = frame.f_code.co_filename
        if event == "return" and path.startswith(HOME):
            said = repr(frame.f_locals["self"] if frame.f_code.co_name == "__init__" else answer)
            if " at 0x" not in said:
                answers[path.removeprefix(HOME).replace(os.sep, "/"), frame.f_code.co_qualname][said] += 1

    with TemporaryDirectory() as folder:
        write_tables(Path(folder), start)
        send_out_by(Path(folder))  # what is made once in a run is there from now on
        sys.setprofile(note)
        try:
            return send_out_by(Path(folder)), answers
        finally:
            sys.setprofile(None)


def on_the_way() -> set[tuple[str, str]]:
    """Files and functions that answer something else when C-2 starts 11 minutes later."""
    (_, first), (_, second) = traced("13:00"), traced("13:11")
    return {where for where in first if first[where] != second[where]}


def test_that_the_deadline_on_the_list_moves_with_the_start() -> None:
    assert (traced("13:00")[0], traced("13:11")[0]) == ("09:50", "10:01")


def test_that_every_file_of_the_walk_is_on_the_way() -> None:
    *modules, (template, named) = WALK
    way = on_the_way()
    assert [one for one in modules if one not in way] == []
    assert f"#let {named}(" in (ROOT / template).read_text(encoding="utf-8")


def test_that_the_walk_is_short_and_leaves_no_file_out() -> None:
    """Each other file that the moved start reaches is named above, and none is named that it does not reach."""
    files = {file for file, _ in WALK}
    assert len(WALK) == len(files) <= MOST
    assert {file for file, _ in on_the_way()} == files - {WALK[-1][0]} | PASS_ON | BESIDE


def test_that_the_department_is_beside_the_way(monkeypatch: pytest.MonkeyPatch) -> None:
    """The deadlines on the lists are the same when the department's run is told nothing of sets to process."""
    monkeypatch.setattr("picklist.plan.make.run_department", lambda site, _sets, now: run_department(site, (), now))
    with TemporaryDirectory() as folder:
        write_tables(Path(folder), "13:11")
        assert send_out_by(Path(folder)) == "10:01"
