"""Invented shops whose batches follow a known law, so that forecasts can be judged on many futures.

Three laws: `regular` (each product has its rhythm), `stocked` (knives are made to stock, one batch a
week, the product with the least stock left first), `memoryless` (every day is as good as another).
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

PRODUCTS, MATERIALS, WEEKS = 12, 24, 156
FIRST_DAY = pd.Timestamp(2023, 1, 2)
Bill = list[tuple[int, int, float, float]]
SIZE_SPREAD = 0.15
KINDS = ("regular", "stocked", "memoryless")


@dataclass(frozen=True)
class Law:
    """How a product is made: days between batches, mean and squared variation, and mean knives."""

    gap: float
    variation: float
    size: float


@dataclass(frozen=True)
class Shop:
    """builds: product, day, qty over all WEEKS. usage: of the bills until now; new_usage: from now.

    In new_usage a third of the products take other materials in half of their lines. laws: by
    product, empty where none can be told.
    """

    builds: pd.DataFrame
    usage: pd.DataFrame
    new_usage: pd.DataFrame
    laws: dict[int, Law]


def invent_shop(kind: str, seed: int, *, gap_variation: float = 0.35**2) -> Shop:
    """A shop of that kind. gap_variation: squared variation of the gaps of a regular shop."""
    rng = np.random.default_rng([KINDS.index(kind), seed])
    laws: dict[int, Law] = {}
    if kind == "stocked":
        rows = _made_to_stock(rng)
    else:
        rows = _by_gaps(rng, gap_variation if kind == "regular" else 1.0, laws)
    builds = pd.DataFrame(rows, columns=["product", "ago", "qty"])
    builds["day"] = FIRST_DAY + pd.to_timedelta(builds.pop("ago"), unit="D")
    bills = {product: _bill(rng, product) for product in range(PRODUCTS)}
    changed = rng.choice(PRODUCTS, PRODUCTS // 3, replace=False).tolist()
    new = {product: _changed(rng, bills[product]) for product in changed}
    return Shop(builds, _table(bills), _table(bills | new), laws)


def _by_gaps(
    rng: np.random.Generator, variation: float, laws: dict[int, Law]
) -> list[tuple[int, int, float]]:
    rows = []
    for product in range(PRODUCTS):
        gap, size = rng.uniform(18, 80), rng.uniform(8, 30)
        laws[product] = Law(gap, variation, size)
        day = -rng.uniform(0, 10 * gap)
        while day < 7 * WEEKS:
            if day >= 0:
                rows.append((product, int(day), _knives(rng, size)))
            day += max(1.0, rng.gamma(1 / variation, gap * variation))
    return rows


def _made_to_stock(rng: np.random.Generator) -> list[tuple[int, int, float]]:
    """Every Monday the product with the fewest weeks of stock is made, if below its trigger."""
    sold = rng.gamma(2.0, 0.5, PRODUCTS)
    sold *= rng.uniform(8, 11) / sold.sum()
    size = np.maximum(4.0, np.rint(sold * rng.uniform(8, 16, PRODUCTS)))
    stock, trigger = size * rng.uniform(0.2, 1, PRODUCTS), rng.uniform(3, 6, PRODUCTS)
    rows = []
    for week in range(-40, WEEKS):
        stock -= rng.poisson(sold)
        cover = stock / sold
        product = int(np.argmin(cover))
        if cover[product] < trigger[product]:
            knives = _knives(rng, size[product])
            stock[product] += knives
            if week >= 0:
                rows.append((product, 7 * week, knives))
    return rows


def _knives(rng: np.random.Generator, size: float) -> float:
    return float(max(1, round(rng.normal(size, SIZE_SPREAD * size))))


def _bill(rng: np.random.Generator, product: int) -> Bill:
    materials = rng.choice(MATERIALS, rng.integers(4, 8), replace=False)
    return [(product, item, float(rng.choice([1, 2, 3, 6])), 0.0) for item in materials]


def _changed(rng: np.random.Generator, bill: Bill) -> Bill:
    kept = bill[: len(bill) // 2]
    others = [item for item in range(MATERIALS) if item not in {line[1] for line in bill}]
    new = rng.choice(others, len(bill) - len(kept), replace=False)
    moved = [(line[0], item, *line[2:]) for line, item in zip(bill[len(kept) :], new, strict=True)]
    return kept + moved


def _table(bills: dict[int, Bill]) -> pd.DataFrame:
    rows = [row for bill in bills.values() for row in bill]
    return pd.DataFrame(rows, columns=["product", "item", "per_knife", "per_batch"])
