"""A growing integer program: named rows, columns added as they are found, an aim per solve.

The aim is always "make the activity of this row as small as possible". HiGHS (through SciPy)
solves it on one thread without a start, so the same program gives the same answer; the clock
only guards.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

Key = Hashable
FREE = math.inf
IMPROVES = -1e-7  # reduced costs above this are rounding
OPTIMAL, INFEASIBLE = 0, 2  # SciPy's status codes


@dataclass(frozen=True)
class Relaxed:
    """Optimum of the program with fractions allowed, and the price of each row."""

    value: float
    prices: Mapping[Key, float]

    def reduced_cost(self, aim: Key, entries: Mapping[Key, float]) -> float:
        """Change of the aim per unit of a column with these entries."""
        priced = sum(self.prices.get(row, 0.0) * entry for row, entry in entries.items())
        return entries.get(aim, 0.0) - priced


@dataclass(frozen=True)
class Priced:
    """What column generation found: the least reduced cost of each group, and of a donor."""

    added: bool
    reduced: Mapping[int, float]
    donor: float = 0.0

    def fall(self, counts: Mapping[int, int]) -> float:
        """How far the optimum may still fall when each group is used `counts` times."""
        return self.donor + sum(n * min(0.0, self.reduced[g]) for g, n in counts.items())


@dataclass(frozen=True)
class Solved:
    """Whole numbers per column, None if none were found.

    `exhausted`: nothing better exists among these columns.
    """

    values: Mapping[Key, int] | None
    exhausted: bool


def load_solver() -> None:
    """SciPy's solver takes a moment to load; nothing here needs it before."""
    import scipy.optimize
    import scipy.sparse  # noqa: F401


class Program:
    def __init__(self) -> None:
        self._row: dict[Key, int] = {}
        self._limits: list[tuple[float, float]] = []
        self._column: dict[Key, int] = {}
        self._upper: list[float] = []
        self._triplets: tuple[list[float], list[int], list[int]] = ([], [], [])

    def add_row(self, key: Key, lower: float = -FREE, upper: float = FREE) -> None:
        self._row[key] = len(self._limits)
        self._limits.append((lower, upper))

    def limit(self, key: Key, lower: float = -FREE, upper: float = FREE) -> None:
        self._limits[self._row[key]] = (lower, upper)

    def limits(self, key: Key) -> tuple[float, float]:
        return self._limits[self._row[key]]

    @contextmanager
    def lifted(self, key: Key) -> Iterator[None]:
        """The row without limits for a while."""
        before = self.limits(key)
        self.limit(key)
        try:
            yield
        finally:
            self.limit(key, *before)

    def add_column(self, key: Key, entries: Mapping[Key, float], upper: float = FREE) -> bool:
        """False when the column is there already."""
        if key in self._column:
            return False
        number = self._column[key] = len(self._column)
        self._upper.append(upper)
        values, rows, columns = self._triplets
        for row, entry in entries.items():
            if entry:
                values.append(entry)
                rows.append(self._row[row])
                columns.append(number)
        return True

    def relax(self, aim: Key) -> Relaxed | None:
        """Fractional optimum, None when no plan satisfies the rows."""
        import numpy as np
        from scipy.optimize import linprog
        from scipy.sparse import vstack

        matrix, lower, upper = self._arrays()
        cost = matrix[[self._row[aim]]].toarray()[0]
        low, high = np.isfinite(lower), np.isfinite(upper)
        found = linprog(
            cost,
            A_ub=vstack([-matrix[low], matrix[high]], format="csc"),
            b_ub=np.concatenate([-lower[low], upper[high]]),
            bounds=np.column_stack([np.zeros(len(self._upper)), self._upper]),
            method="highs-ds",
        )
        if found.status != OPTIMAL:
            return None
        price = np.zeros(len(lower))
        price[low] -= found.ineqlin.marginals[: low.sum()]
        price[high] += found.ineqlin.marginals[low.sum() :]
        return Relaxed(float(found.fun), {key: float(price[n]) for key, n in self._row.items()})

    def solve(self, aim: Key, seconds: float, nodes: int) -> Solved:
        """Best whole numbers found within the limits."""
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp

        matrix, lower, upper = self._arrays()
        found = milp(
            matrix[[self._row[aim]]].toarray()[0],
            integrality=np.ones(len(self._upper)),
            bounds=Bounds(0, np.asarray(self._upper)),
            constraints=LinearConstraint(matrix, lower, upper),
            options={"time_limit": max(seconds, 0.01), "node_limit": nodes, "mip_rel_gap": 0.0},
        )
        if found.x is None:
            return Solved(None, exhausted=found.status == INFEASIBLE)
        whole = np.rint(found.x).astype(int)
        values = {key: int(whole[n]) for key, n in self._column.items() if whole[n]}
        return Solved(values, exhausted=found.status == OPTIMAL)

    def _arrays(self) -> tuple[Any, Any, Any]:
        import numpy as np
        from scipy.sparse import csr_array

        values, rows, columns = self._triplets
        shape = (len(self._limits), len(self._upper))
        limits = np.asarray(self._limits)
        return csr_array((values, (rows, columns)), shape=shape), limits[:, 0], limits[:, 1]
