"""The committed folder of broken inputs is as its script writes it, and all that is wrong in it is told, once.

Each line below is: table or file | cell or row | column | kind | what it does.
"""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
from openpyxl import load_workbook

from picklist.checks import check_site
from picklist.inputs import read_site
from picklist.problems import Problem, Severity
from picklist.tables.workbooks import read_sheets
from tests.inputs.folders import NOW, besides_left_out
from tests.inputs.make_broken import BROKEN, write_broken
from tests.inputs.whole import gaps

READ = """
locked.xlsx |  |  | encrypted | mend
old cards.xls |  |  | old format | mend
report.xlsx |  |  | not a workbook | mend
Tray content.csv |  |  | unknown file | mend
Settings | A4 | setting | unknown setting | mend
Settings | B5 | value | not a number | mend
Items | D11 | class | not a choice | mend
Items | A9 | item | doubled key | mend
Items | H10 | latex-free twin | unknown id | mend
Hours | B3 | weekday | not a weekday | mend
Routes | C5 | after | circular route | mend
Routes | D7 | usual minutes | route without minutes | mend
Routes | F8 | station | unknown id | mend
Routes | D8 | usual minutes | usual below least | mend
Trays | C4 | route | empty cell | mend
Trays | D6 | weight lb | unit in number | mend
Schedule | O3 |  | unknown column | mend
Schedule | row 3 |  | columns not read | notice
Schedule | D8 | start | past midnight | stops C-5
Schedule | E10 | minutes | time for number | stops C-7
Schedule | B11 | day | two date orders | stops C-8
Schedule | B12 | day | two date orders | stops C-9
Schedule | P13 | notes | private text | mend
Schedule | C15 | room | merged cell | stops C-12, C-13
Schedule | F17 | surgeon | error value | stops C-14
Schedule | E18 | minutes | no stored value | stops C-15
Schedule |  |  | hidden rows | mend
Schedule | C9 | room | unknown id | stops C-6
Schedule | F9 | surgeon | unknown id | stops C-6
Schedule | G14 | procedures | unknown id | stops C-11
Schedule | A19 | case | doubled key | stops C-4
Schedule | D20 | start | no such hour | stops C-17
Sets | G8 | step since | no day | mend
Sets | E10 | state | not a choice | mend
Sets | A4 | set | set in two places | mend
Trays | row 5 | sided | not stated | notice
Sets | F5 | step | step not in route | mend
Sets | H7 | in case | state incomplete | mend
Sets | E9 | state | not stated | mend
Lots | E5 | expiry | not a date | mend
Lots | D4 | unit | unit mismatch | mend
Lots | F6 | place | unknown id | mend
Cards | G9 | open | unit in number | mend
Cards | G10 | open | below zero | mend
Cards | J13 | only if | not a condition | mend
Cards | L14 | from | two date orders | mend
Cards | L15 | from | two date orders | mend
Cards | E7 | thing | unknown id | mend
Cards | D8 | kind | other kind | mend
Cards | G11 | open | no quantity | mend
Cards | A16 | procedure | unknown id | mend
Cards | E17 | thing | unknown id | mend
"""

CHECKED = """
Schedule | row 6 | start | cases overlap in a room | mend
Schedule | row 7 | surgeon | surgeon in two rooms | mend
Cards | row 12 |  | removes nothing | stops C-3
Items | row 8 | GTIN | wrong check digit | mend
Items | row 8 | latex | latex not stated | notice
Trays | row 5 | latex | latex not stated | notice
Trays | row 5 | weight lb | heavy tray | notice
Trays | row 2 |  | tray without sets | notice
Trays | row 6 |  | tray without sets | notice
Routes | row 9 | exposure minutes | below published minimum | mend
Routes | row 9 |  | route is hasty | notice
Sets | row 6 | step since | time to come | mend
Lots | row 6 | expiry | unlikely expiry | mend
"""


def line(problem: Problem) -> str:
    where = problem.where
    place = where.cell or (f"row {where.row}" if where.row else "")
    does = {
        Severity.STOPS_ALL: "stops all",
        Severity.STOPS_CASE: f"stops {', '.join(problem.cases)}",
        Severity.TO_FIX: "mend",
        Severity.NOTICE: "notice",
    }[problem.severity]
    return f"{where.sheet or where.file} | {place} | {where.column} | {problem.kind} | {does}"


def test_the_exact_list_of_problems() -> None:
    site, problems = read_site(BROKEN, now=NOW)
    assert [line(one) for one in besides_left_out(problems)] == READ.strip().splitlines()
    assert site is not None
    assert [line(one) for one in check_site(site, NOW)] == CHECKED.strip().splitlines()
    assert list(gaps(site, problems)) == []


def test_that_cases_that_nothing_stops_are_still_there() -> None:
    site, problems = read_site(BROKEN, now=NOW)
    assert site is not None
    stopped = {case for one in (*problems, *check_site(site, NOW)) for case in one.cases}
    assert [one.number for one in site.cases if one.number not in stopped] == ["C-1", "C-2", "C-10"]


def contents(path: Path) -> object:
    """What a file says, whichever version of a library wrote it."""
    grids, faults = read_sheets(path, bool) if zipfile.is_zipfile(path) else ([], [])
    return (grids, faults) if grids else path.read_bytes()


def test_that_the_folder_is_as_its_script_writes_it(tmp_path: Path) -> None:
    write_broken(tmp_path)
    assert sorted(one.name for one in tmp_path.iterdir()) == sorted(one.name for one in BROKEN.iterdir())
    for path in sorted(tmp_path.iterdir()):
        assert contents(path) == contents(BROKEN / path.name), path.name


@pytest.mark.parametrize("table", ["Trays", "Schedule"])
def test_that_a_problem_can_be_found_by_its_place(table: str) -> None:
    """The cell named is the one that holds the value named."""
    _, problems = read_site(BROKEN, now=NOW)
    named = [one for one in problems if one.where.sheet == table and one.where.cell and one.value]
    assert named
    for one in named:
        sheet = load_workbook(BROKEN / one.where.file)[table]
        assert one.value in str(sheet[one.where.cell].value) or one.kind in ("doubled key", "merged cell")
