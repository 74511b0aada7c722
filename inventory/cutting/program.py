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
ROUNDING = 1e-6
IMPROVES = -1e-7  # reduced costs above this are rounding
OPTIMAL, INFEASIBLE = 0, 2  # SciPy's status codes


@dataclass(frozen=True)
class Relaxed:
    """Optimum of the program with fractions allowed, and the price of each row."""

    value: float
    prices: Mapping[Key, float]
    columns: Mapping[Key, float]

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

    `exhausted`: nothing better than the gap allowed exists among these columns; `bound`: no whole
    numbers over them make the aim smaller.
    """

    values: Mapping[Key, int] | None
    exhausted: bool
    bound: float = -math.inf


def load_solver() -> None:
    """SciPy's solver takes a moment to load; nothing here needs it before."""
    import scipy.optimize
    import scipy.sparse  # noqa: F401


class Program:
    def __init__(self) -> None:
        self._row: dict[Key, int] = {}
        self._limits: list[tuple[float, float]] = []
        self._column: dict[Key, int] = {}
        self._most: list[float] = []
        self._least: list[int] = []
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

    @contextmanager
    def fixing(self) -> Iterator[None]:
        """Columns bounded meanwhile are free again afterwards."""
        least, most = list(self._least), list(self._most)
        try:
            yield
        finally:
            self._least[: len(least)] = least
            self._least[len(least) :] = [0] * (len(self._least) - len(least))
            self._most[: len(most)] = most
            self._most[len(most) :] = [FREE] * (len(self._most) - len(most))

    def use(self, key: Key, *, least: int = 0, most: float = FREE) -> None:
        """Bounds on how often a column is used."""
        number = self._column[key]
        self._least[number], self._most[number] = least, most

    def least_use(self, key: Key) -> int:
        return self._least[self._column[key]]

    def add_column(self, key: Key, entries: Mapping[Key, float], upper: float = FREE) -> bool:
        """False when the column is there already."""
        if key in self._column:
            return False
        number = self._column[key] = len(self._column)
        self._most.append(upper)
        self._least.append(0)
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
        from scipy.sparse import csc_array

        values, rows, columns, limits = self._arrays()
        bounded = np.isfinite(limits)
        place = np.cumsum(bounded.T).reshape(2, -1) - 1  # lower limits first, then upper ones
        low, high = bounded[rows, 0], bounded[rows, 1]
        entries = np.concatenate([-values[low], values[high]])
        sides = np.concatenate([place[0, rows[low]], place[1, rows[high]]])
        matrix = csc_array(
            (entries, (sides, np.concatenate([columns[low], columns[high]]))),
            shape=(bounded.sum(), len(self._most)),
        )
        found = linprog(
            self._cost(aim, values, rows, columns),
            A_ub=matrix,
            b_ub=np.concatenate([-limits[bounded[:, 0], 0], limits[bounded[:, 1], 1]]),
            bounds=np.column_stack([self._least, self._most]),
            method="highs-ds",
        )
        if found.status != OPTIMAL:
            return None
        price = np.zeros(len(limits))
        below = bounded[:, 0].sum()
        price[bounded[:, 0]] -= found.ineqlin.marginals[:below]
        price[bounded[:, 1]] += found.ineqlin.marginals[below:]
        return Relaxed(
            float(found.fun),
            dict(zip(self._row, price.tolist(), strict=True)),
            {key: x for key, x in zip(self._column, found.x.tolist(), strict=True) if x > ROUNDING},
        )

    def solve(self, aim: Key, seconds: float, nodes: int, gap: float = 0.0) -> Solved:
        """Best whole numbers found within the limits, or within the gap (a share of the value)."""
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_array

        values, rows, columns, limits = self._arrays()
        matrix = csr_array((values, (rows, columns)), shape=(len(limits), len(self._most)))
        found = milp(
            self._cost(aim, values, rows, columns),
            integrality=np.ones(len(self._most)),
            bounds=Bounds(np.asarray(self._least), np.asarray(self._most)),
            constraints=LinearConstraint(matrix, limits[:, 0], limits[:, 1]),
            options={"time_limit": max(seconds, 0.01), "node_limit": nodes, "mip_rel_gap": gap},
        )
        if found.x is None:
            return Solved(None, exhausted=found.status == INFEASIBLE)
        whole = np.rint(found.x).astype(int)
        values = {key: int(whole[n]) for key, n in self._column.items() if whole[n]}
        bound = -math.inf if found.mip_dual_bound is None else found.mip_dual_bound
        return Solved(values, exhausted=found.status == OPTIMAL, bound=bound)

    def _cost(self, aim: Key, values: Any, rows: Any, columns: Any) -> Any:
        import numpy as np

        of_aim = rows == self._row[aim]
        return np.bincount(columns[of_aim], values[of_aim], len(self._most))

    def _arrays(self) -> tuple[Any, Any, Any, Any]:
        """Entries as (values, rows, columns), and the limits of the rows, shape (rows, 2)."""
        import numpy as np

        values, rows, columns = self._triplets
        return (
            np.asarray(values, dtype=float),
            np.asarray(rows, dtype=np.int64),
            np.asarray(columns, dtype=np.int64),
            np.asarray(self._limits),
        )
