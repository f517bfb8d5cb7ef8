"""One linear programme through HiGHS: passed row by row, solved cold, its status always checked."""

from __future__ import annotations

from dataclasses import dataclass, field

import highspy
import numpy as np
from numpy.typing import ArrayLike, NDArray

from discwright.errors import SolverError

Float = NDArray[np.float64]
INFINITY = float("inf")


class _QuietHighs(highspy.Highs):
    """Says nothing from its first moment, and never calls back into Python while it solves."""

    def enableCallbacks(self) -> None:
        self.setOptionValue("output_flag", False)


@dataclass
class Rows:
    """Rows of a sparse matrix as they are added, `low <= row · x <= high`."""

    index: list[NDArray[np.int64]] = field(default_factory=list)
    value: list[Float] = field(default_factory=list)
    low: list[Float] = field(default_factory=list)
    high: list[Float] = field(default_factory=list)
    count: list[NDArray[np.int64]] = field(default_factory=list)

    def add(self, index: NDArray[np.int64], value: Float, low: ArrayLike, high: ArrayLike) -> None:
        """Add rows of equal length.

        Parameters
        ----------
        index, value : ndarray, shape (rows, terms)
            Columns and their factors.
        low, high : array_like, shape (rows,) or ()
        """
        rows, terms = index.shape
        self.index.append(index.ravel())
        self.value.append(value.ravel())
        self.low.append(np.broadcast_to(np.asarray(low, dtype=np.float64), (rows,)))
        self.high.append(np.broadcast_to(np.asarray(high, dtype=np.float64), (rows,)))
        self.count.append(np.full(rows, terms, dtype=np.int64))


@dataclass(frozen=True)
class Solution:
    """`x` where `optimal`, else the solver's word for what happened."""

    optimal: bool
    status: str
    x: Float
    objective: float


def solve(cost: Float, low: Float, high: Float, rows: Rows) -> Solution:
    """Minimise cost · x under bounds and rows, with dual simplex on one thread.

    Parameters
    ----------
    cost, low, high : ndarray, shape (n,)
    rows : Rows

    Returns
    -------
    Solution
        `optimal` is False only where the problem has no solution.

    Raises
    ------
    SolverError
        If the solver stopped for any other reason.
    """
    counts = np.concatenate(rows.count)
    start = np.concatenate([[0], np.cumsum(counts)])
    model = _QuietHighs()  # type: ignore[no-untyped-call]
    # One setting for the whole process: the solver fixes its threads at the first solve.
    model.setOptionValue("threads", 1)
    model.setOptionValue("parallel", "off")
    model.setOptionValue("solver", "simplex")
    model.setOptionValue("simplex_scale_strategy", 0)
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(cost), len(counts)
    lp.col_cost_, lp.col_lower_, lp.col_upper_ = cost, low, high
    lp.row_lower_, lp.row_upper_ = np.concatenate(rows.low), np.concatenate(rows.high)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.num_col_, lp.a_matrix_.num_row_ = len(cost), len(counts)
    lp.a_matrix_.start_ = start.astype(np.int32)
    lp.a_matrix_.index_ = np.concatenate(rows.index).astype(np.int32)
    lp.a_matrix_.value_ = np.concatenate(rows.value)
    model.passModel(lp)
    model.run()
    status = model.getModelStatus()
    word = model.modelStatusToString(status)
    if status in (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible):
        return Solution(False, word, np.zeros(0), INFINITY)
    if status != highspy.HighsModelStatus.kOptimal:
        raise SolverError(
            f"the spiral's solver stopped with “{word}”; run `discwright doctor` and report the file and options."
        )
    solution = model.getSolution()
    return Solution(True, word, np.array(solution.col_value), float(model.getObjectiveValue()))
