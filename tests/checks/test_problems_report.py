"""The report reads as one goes through the sheets."""

from __future__ import annotations

from picklist.problems import Problem, Severity, Where, join_problems
from picklist.problems_report import write_report


def problem(cell: str, kind: str = "empty cell", severity: Severity = Severity.TO_FIX, **more: object) -> Problem:
    row = int("".join(sign for sign in cell if sign.isdigit()))
    where = Where(file="a.xlsx", sheet="Cards", row=row, column="open", cell=cell)
    return Problem(kind=kind, severity=severity, where=where, message=f"wrong in {cell}", **more)  # type: ignore[arg-type]


def test_that_it_goes_row_by_row_and_from_left_to_right() -> None:
    text = write_report([problem("AA2"), problem("B10"), problem("Z2"), problem("C9")])
    places = [text.index(f"wrong in {cell}") for cell in ("Z2", "AA2", "C9", "B10")]
    assert places == sorted(places)


def test_that_many_of_a_kind_are_counted_but_what_stops_is_spelled_out() -> None:
    mild = [problem(f"A{n}") for n in range(2, 102)]
    stopping = [problem(f"B{n}", severity=Severity.STOPS_CASE, cases=(f"C-{n}",)) for n in range(2, 102)]
    text = write_report(mild + stopping, most_of_a_kind=5)
    assert text.count("wrong in A") == 5
    assert "95 more of the kind 'empty cell' in column open" in text
    assert text.count("wrong in B") == 100
    assert "200 to fix; 0 notices." in text


def test_that_one_fault_of_many_cases_is_one_problem() -> None:
    one = problem("A2", severity=Severity.TO_FIX)
    other = problem("A2", severity=Severity.STOPS_CASE, cases=("C-1",))
    third = problem("A2", severity=Severity.STOPS_CASE, cases=("C-2", "C-1"))
    (joined,) = join_problems([one, other, third])
    assert (joined.severity, joined.cases) == (Severity.STOPS_CASE, ("C-1", "C-2"))
    assert len(join_problems([one, problem("A3")])) == 2
