"""Bounds in one solver are those of a program made anew for each question. Programs drawn at random."""

from __future__ import annotations

import random

import pytest

from picklist.sets.allocation.program import Bounds, Expression, Program


def drawn(draw: random.Random) -> Program:
    """Twelve columns of 0 or 1 in eight rows that nothing at all always meets."""
    program = Program()
    for _ in range(12):
        program.column(whole=True)
    for _ in range(8):
        program.at_most({column: draw.choice([1.0, 1.0, 2.0, -1.0]) for column in draw.sample(range(12), 4)}, 2)
    return program


@pytest.mark.parametrize("seed", range(6))
def test_what_was_asked_before_changes_no_bound(seed: int) -> None:
    draw = random.Random(seed)
    program = drawn(draw)
    levels: list[Expression] = [
        {column: -draw.randrange(1, 4) for column in draw.sample(range(12), 6)} for _ in range(2)
    ]
    levels = [levels[0], {}, *levels, {}]  # as where all cases weigh the same, and none has a tray on hold
    rows = [dict.fromkeys(draw.sample(range(12), 5), 1.0) for _ in range(2)]
    best = program.copy().minimise_in_order(levels)
    assert best
    bounds = Bounds(program, rows, levels)
    assert bounds.best() == best[0]
    for held in draw.sample([True, True, False, False], 4):
        costs, most = {column: draw.randrange(-3, 4) for column in range(12)}, [draw.randrange(0, 4) for _ in rows]
        anew = Program(uppers=list(program.uppers), whole=[False] * 12, rows=list(program.rows))
        for row, upper in zip(rows, most, strict=True):
            anew.at_most(row, upper)
        for level, value in zip(levels, best[0], strict=True):
            if held:
                anew.hold(level, value)
        solution = anew.solve(costs)
        least = bounds.least(costs, most, best[0] if held else ())
        if solution is None:
            assert least is None
        else:
            assert least == pytest.approx(sum(cost * solution[column] for column, cost in costs.items()))
