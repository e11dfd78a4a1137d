"""A linear program with whole numbers, solved exactly, one objective after the other."""

from __future__ import annotations

import marshal
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import blake2b
from itertools import compress
from typing import Any

import highspy

# The plain class underneath: the public wrapper prints a banner when it is made.
from highspy._core import _Highs

Expression = Mapping[int, int]
_LARGEST_RANGE = 10_000_000
_NEARLY = 1e-6
_MOSTLY = (0.0, 1.0)


class UnsolvedError(RuntimeError):
    """The solver gave neither an optimum nor a proof that there is none."""


@dataclass(slots=True)
class Program:
    """Columns between 0 and an upper bound, rows between two bounds; ``solve`` may be called again and again."""

    uppers: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    rows: list[tuple[list[int], list[float], float, float]] = field(default_factory=list)
    solver: Any = None

    def column(self, upper: float = 1.0, *, whole: bool = False) -> int:
        """A new column's number."""
        self.uppers.append(upper)
        self.whole.append(whole)
        return len(self.uppers) - 1

    def row(self, entries: Mapping[int, float], lower: float, upper: float) -> None:
        """A new row: the sum of entries lies between the bounds."""
        indices, values = list(entries), [float(v) for v in entries.values()]
        self.rows.append((indices, values, lower, upper))
        if self.solver is not None:
            self.solver.addRow(lower, upper, len(indices), indices, values)

    def at_most(self, entries: Mapping[int, float], upper: float) -> None:
        """A new row without a lower bound."""
        self.row(entries, -highspy.kHighsInf, upper)

    def solve(self, costs: Expression) -> list[float] | None:
        """Values of least cost, or None when nothing meets all rows. Raises UnsolvedError."""
        self._weigh(costs)
        # Most of these programs have whole vertices, so that the relaxation, which is far quicker, is the answer.
        relaxed = self._run(relaxed=True)
        if relaxed is None or all(map(_is_whole, compress(relaxed, self.whole))):
            return relaxed
        return self._run(relaxed=False)

    def copy(self) -> Program:
        """The same program, to be solved apart."""
        return Program(uppers=list(self.uppers), whole=list(self.whole), rows=list(self.rows))

    def numbers(self, *costs: Mapping[int, float]) -> bytes:
        """A digest of all numbers of the program and of costs: where it is the same, so is every answer."""
        return digest((self.uppers, self.whole, self.rows, [list(one.items()) for one in costs]))

    def _weigh(self, costs: Expression) -> None:
        if self.solver is None:
            self.solver = self.load()
        dense = [0.0] * len(self.uppers)
        for column, cost in costs.items():
            dense[column] += cost
        self.solver.changeColsCost(len(dense), list(range(len(dense))), dense)

    def _run(self, *, relaxed: bool) -> list[float] | None:
        self.solver.setOptionValue("solve_relaxation", relaxed)
        self.solver.run()
        status = self.solver.getModelStatus()
        if status == highspy.HighsModelStatus.kSolveError:
            # Now and then the solver finds that what it made of its own shortened program breaks a row of this one.
            self.solver.setOptionValue("presolve", "off")
            self.solver.run()
            self.solver.setOptionValue("presolve", "choose")
            status = self.solver.getModelStatus()
        if status == highspy.HighsModelStatus.kInfeasible:
            return None
        if status not in {highspy.HighsModelStatus.kOptimal, highspy.HighsModelStatus.kModelEmpty}:
            raise UnsolvedError(str(status))
        return list(self.solver.getSolution().col_value)

    def range_of(self, costs: Expression) -> int:
        """How much the value of costs can vary at most."""
        return int(sum(abs(cost) * self.uppers[column] for column, cost in costs.items()))

    def minimise_in_order(self, levels: list[Expression]) -> tuple[list[int], list[float]] | None:
        """The least value of each level, none at the expense of an earlier one, and a solution that has them all."""
        values: list[int] = []
        solution: list[float] | None = None
        waiting = [dict(level) for level in levels]
        while waiting:
            packed = [waiting.pop(0)]
            room = self.range_of(packed[0]) + 1
            while waiting and room * (self.range_of(waiting[0]) + 1) <= _LARGEST_RANGE:
                packed.append(waiting.pop(0))
                room *= self.range_of(packed[-1]) + 1
            solution = self.solve(self._weighed(packed))
            if solution is None:
                return None
            for level in packed:
                values.append(value_of(level, solution))
                self.hold(level, values[-1])
        return (values, solution) if solution is not None else None

    def hold(self, level: Expression, value: int) -> None:
        """From now on the level keeps its least value: the face of the best solutions, whose corners stay whole."""
        if level or value < 0:  # without columns a level is 0
            self.at_most({column: float(cost) for column, cost in level.items()}, value)

    def _weighed(self, levels: list[dict[int, int]]) -> dict[int, int]:
        total: dict[int, int] = {}
        scale = 1
        for level in reversed(levels):
            for column, cost in level.items():
                total[column] = total.get(column, 0) + cost * scale
            scale *= self.range_of(level) + 1
        return total

    def load(self, *, values_alone: bool = False) -> Any:
        """The program in a solver of its own, set to what is quickest where ``values_alone`` count."""
        solver = _Highs()
        solver.setOptionValue("output_flag", False)
        for option in ("mip_rel_gap", "mip_abs_gap"):
            solver.setOptionValue(option, 0.0)
        solver.setOptionValue("mip_feasibility_tolerance", 1e-9)
        solver.setOptionValue("parallel", "off")
        if values_alone:
            solver.setOptionValue("presolve", "off")  # takes longer than it saves on so small a program
            solver.setOptionValue("simplex_dual_edge_weight_strategy", 0)
        solver.passModel(self._model())
        return solver

    def _model(self) -> Any:
        model = highspy.HighsLp()
        model.num_col_, model.num_row_ = len(self.uppers), len(self.rows)
        model.col_cost_ = [0.0] * len(self.uppers)
        model.col_lower_, model.col_upper_ = [0.0] * len(self.uppers), self.uppers
        model.row_lower_ = [row[2] for row in self.rows]
        model.row_upper_ = [row[3] for row in self.rows]
        model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        starts = [0]
        for indices, _, _, _ in self.rows:
            starts.append(starts[-1] + len(indices))
        model.a_matrix_.start_ = starts
        model.a_matrix_.index_ = [i for row in self.rows for i in row[0]]
        model.a_matrix_.value_ = [v for row in self.rows for v in row[1]]
        kinds = highspy.HighsVarType
        model.integrality_ = [kinds.kInteger if whole else kinds.kContinuous for whole in self.whole]
        return model


class Bounds:
    """Asks one program for the least values of many costs if nothing need be whole, each from where the last one ended.

    ``rows`` are more rows, whose most is said anew each time. Only values come out of it: which of several best
    solutions is found depends on what was asked before.
    """

    def __init__(
        self, program: Program, rows: Iterable[Mapping[int, float]], levels: Iterable[Expression] = ()
    ) -> None:
        self._program = program.copy()
        self._whole = self._program.whole
        self._levels = list(levels)
        # Weight and number are often the same: then one of them says both.
        self._apart = [level for at, level in enumerate(self._levels) if level not in self._levels[:at]]
        for row in rows:
            self._program.at_most(row, highspy.kHighsInf)
        self._rows = range(len(program.rows), len(self._program.rows))
        self._program.solver = self._program.load(values_alone=True)

    def best(self) -> list[int] | None:
        """The best values of the levels, none at the expense of an earlier one; None when nothing meets all rows."""
        self._program.whole = self._whole
        self._limit(self._rows, [highspy.kHighsInf] * len(self._rows))
        found = self._program.minimise_in_order(self._apart)
        return None if found is None else [found[0][self._apart.index(level)] for level in self._levels]

    def least(self, costs: Expression, most: Sequence[float], values: Sequence[int] = ()) -> float | None:
        """The least value of costs, with the levels at their best ``values``, where told; None when there is none."""
        held = [(level, values[self._levels.index(level)]) for level in self._apart if level] if values else []
        if held and len(self._program.rows) == self._rows.stop:
            for level, value in held:
                self._program.hold(level, value)
        holds = range(self._rows.stop, len(self._program.rows))
        self._limit(self._rows, most)
        self._limit(holds, [value for _, value in held] or [highspy.kHighsInf] * len(holds))
        self._program.whole = [False] * len(self._whole)
        solution = self._program.solve(costs)
        return None if solution is None else sum(cost * solution[column] for column, cost in costs.items())

    def _limit(self, rows: Iterable[int], most: Sequence[float]) -> None:
        for row, upper in zip(rows, most, strict=True):
            self._program.solver.changeRowBounds(row, -highspy.kHighsInf, float(upper))


def digest(numbers: Any) -> bytes:
    """A short name for plain numbers in lists and tuples: the same for the same numbers alone."""
    return blake2b(marshal.dumps(numbers, 2), digest_size=16).digest()


def _is_whole(value: float) -> bool:
    return value in _MOSTLY or abs(value - round(value)) < _NEARLY


def value_of(level: Expression, solution: list[float]) -> int:
    """The level's value in a solution, rounded to the whole number that it is."""
    return round(sum(cost * solution[column] for column, cost in level.items()))
