"""Spare parts month by month: how good the quantiles are, and what fill costs in stock.

Run with: SPARE_PARTS_CSV=parts.csv python manage.py test -m benchmark -s tests/benchmarks/test_spare_parts.py

Data: the set "carparts" of the R package expsmooth (Hyndman, Koehler, Ord & Snyder 2008, Forecasting
with exponential smoothing: the state space approach, Springer): 2,674 parts, 51 months, as a table
with the columns series_id, month, qty. The 2,509 parts without a missing month are used; 34 months
are known, the rest is played month by month, each forecast from the months before it. Three months
more are played before, so that the shelf is as if the rule had long been kept.

Fixed on months 1 to 34, by the loss of three-month sums at days among them and the stock at 95 %
fill of months 18 to 34: the correction of levels and what it looks at, the half-life of a sixth of
the history, no Poisson partner beside the mixture. Its caution was chosen on small random parts of
these months, of the known part of two other sets and of simulated demand, the widest dispersions on
simulated lumpy demand. What is learned (habits) is learned again each month from the months before.
The later months were seen, not used: a Poisson partner would have needed 3 % less stock in them.
The rivals are given what the played months say is best for them: the smoothing constant, and
whether to round up.

Any other table of those columns can be judged too: OTHER_DEMAND_CSV=a.csv:b.csv
"""

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from forecasting.accuracy import pinball_loss
from forecasting.count_demand import learn_habits
from forecasting.demand_series import demand_series
from forecasting.fill_allocation import levels_for_total_fill
from forecasting.sum_quantiles import (
    expected_demand,
    expected_fill,
    level_for_fill,
    quantiles_of_sums,
)
from forecasting.table_replay import replay_table

pytestmark = pytest.mark.benchmark

KNOWN, LEAD, REVIEW = 34, 2, 1
PROTECTED = LEAD + REVIEW
CHANCES = (0.8, 0.9, 0.95, 0.99)
KNOBS = (0.7, 0.8, 0.85, 0.9, 0.925, 0.95, 0.965, 0.975, 0.985, 0.99, 0.995, 0.997, 0.999)
FACTORS = (0.0, 0.4, 0.8, 1.2, 1.6, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0)
SMOOTHING = (0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4)
TARGETS = (0.8, 0.85, 0.9, 0.95, 0.97)
SHARES = (0.6, 0.7, 0.75, 0.8, 0.85, 0.9, 0.925, 0.95, 0.965, 0.975, 0.985, 0.99, 0.995)

Levels = dict[int, np.ndarray]
"""By month: what to hold and have on order, (parts, settings)."""


def complete_series(file: Path) -> np.ndarray:
    table = pd.read_csv(file).rename(columns={"period": "month"})
    table = table.pivot(index="series_id", columns="month", values="qty")
    return table.dropna().to_numpy(dtype=float)


@pytest.fixture(scope="module")
def parts() -> np.ndarray:
    file = os.environ.get("SPARE_PARTS_CSV")
    if not file:
        pytest.skip('SPARE_PARTS_CSV names no file; see "carparts" at the top of this test')
    return complete_series(Path(file))


@pytest.fixture(scope="module")
def ours(parts: np.ndarray) -> Levels:
    return our_levels(parts, KNOWN, (*CHANCES, *KNOBS))


@pytest.fixture(scope="module")
def allocated(parts: np.ndarray) -> Levels:
    return allocated_levels(parts, KNOWN, SHARES)


@pytest.fixture(scope="module")
def rivals(parts: np.ndarray) -> dict[str, Levels]:
    return normal_rivals(parts, KNOWN)


def our_levels(demand: np.ndarray, known: int, chances: tuple[float, ...]) -> Levels:
    months = range(known - PROTECTED, demand.shape[1])
    return {month: quantiles_of_sums(demand[:, :month], PROTECTED, chances) for month in months}


def allocated_levels(demand: np.ndarray, known: int, shares: tuple[float, ...]) -> Levels:
    months = range(known - PROTECTED, demand.shape[1])
    return {month: levels_for_total_fill(demand[:, :month], shares, lead=LEAD) for month in months}


def normal_rivals(demand: np.ndarray, known: int) -> dict[str, Levels]:
    """Normal safety stock: history's mean and deviation, and smoothing at every constant."""
    factors = np.array([*norm.ppf(CHANCES), *FACTORS])
    months = range(known - PROTECTED, demand.shape[1])
    found = {}
    for smoothing in (None, *SMOOTHING):
        levels = {month: normal(demand[:, :month], smoothing, factors) for month in months}
        name = f"normal, smoothing {smoothing}" if smoothing else "normal, history"
        found[name] = levels
        found[f"{name}, rounded up"] = {month: np.ceil(one) for month, one in levels.items()}
    return found


def normal(history: np.ndarray, smoothing: float | None, factors: np.ndarray) -> np.ndarray:
    """Mean and deviation of the months, or smoothed level and root mean square of its errors."""
    if smoothing is None:
        mean, deviation = history.mean(axis=1), history.std(axis=1, ddof=1)
    else:
        mean, squares = history[:, :6].mean(axis=1), np.zeros(len(history))
        for count in history.T:
            squares += (count - mean) ** 2
            mean = mean + smoothing * (count - mean)
        deviation = np.sqrt(squares / history.shape[1])
    level = PROTECTED * mean[:, None] + np.sqrt(PROTECTED) * deviation[:, None] * factors
    return np.maximum(level, 0.0)


def play(demand: np.ndarray, levels: Levels) -> tuple[np.ndarray, np.ndarray]:
    """Fill and mean stock at the months' ends; raised to its level each month, late demand waits.

    What is ordered at the start of a month is there for the second month after it. The first months
    start the shelf and what is on its way, and aren't counted.
    """
    first, last = min(levels), max(levels)
    counted = range(first + PROTECTED, last + 1)
    on_hand = levels[first].copy()
    coming = [np.zeros_like(on_hand) for _ in range(LEAD)]
    met, stock = np.zeros(on_hand.shape[1]), np.zeros(on_hand.shape[1])
    for month in range(first, last + 1):
        on_hand = on_hand + coming.pop(0)
        coming.append(np.maximum(levels[month] - on_hand - sum(coming), 0.0))
        asked = demand[:, month, None]
        if month in counted:
            met += np.minimum(np.maximum(on_hand, 0.0), asked).sum(axis=0)
        on_hand = on_hand - asked
        if month in counted:
            stock += np.maximum(on_hand, 0.0).sum(axis=0)
    return met / demand[:, counted].sum(), stock / len(counted)


def loss_and_coverage(demand: np.ndarray, levels: Levels) -> tuple[float, np.ndarray]:
    """Losses of the sums over their mean, added up over CHANCES; share of sums within each."""
    months = range(min(levels) + PROTECTED, demand.shape[1] - PROTECTED + 1)
    came = np.concatenate([demand[:, month : month + PROTECTED].sum(axis=1) for month in months])
    told = np.concatenate([levels[month][:, : len(CHANCES)] for month in months])
    losses = [
        pinball_loss(came, told[:, column], chance).mean() / came.mean()
        for column, chance in enumerate(CHANCES)
    ]
    return float(sum(losses)), (came[:, None] <= told).mean(axis=0)


def stock_at(fills: np.ndarray, stocks: np.ndarray, fill: float) -> float:
    order = np.argsort(fills)
    return float(np.interp(fill, fills[order], stocks[order], left=np.nan, right=np.nan))


def exchange(
    demand: np.ndarray, levels: Levels, without: int = len(CHANCES)
) -> Callable[[float], float]:
    fills, stocks = play(demand, {month: one[:, without:] for month, one in levels.items()})
    return lambda fill: stock_at(fills, stocks, fill)


def stands(demand: np.ndarray, levels: Levels) -> Levels:
    """On hand and on order after ordering: a level that falls leaves above it what it brought."""
    first = min(levels)
    found = {first: levels[first]}
    for month in range(first + 1, max(levels) + 1):
        left = found[month - 1] - demand[:, month - 1, None]
        found[month] = np.maximum(left, levels[month])
    return found


def print_losses(title: str, judged: dict[str, tuple[float, np.ndarray]]) -> None:
    print(f"\n{title:38} loss   within .80  .90  .95  .99")
    for name, (loss, within) in judged.items():
        print(f"{name:38} {loss:.3f}      " + " ".join(f"{share:.3f}" for share in within))


def test_quantiles_of_three_months_lose_less_and_hold(
    parts: np.ndarray, ours: Levels, rivals: dict[str, Levels]
) -> None:
    judged = {
        name: loss_and_coverage(parts, levels) for name, levels in {"ours": ours, **rivals}.items()
    }
    print_losses(f"{len(parts)} parts, sums of {PROTECTED} months", judged)
    loss, within = judged["ours"]
    assert loss <= 1.075
    assert loss < 0.95 * min(loss for name, (loss, _) in judged.items() if name != "ours")
    assert 0.94 <= within[2] <= 0.97
    assert within[3] >= 0.985


def test_same_fill_needs_less_stock(
    parts: np.ndarray, ours: Levels, allocated: Levels, rivals: dict[str, Levels]
) -> None:
    stocks = {name: exchange(parts, levels) for name, levels in rivals.items()}
    our_stock, least = exchange(parts, ours), exchange(parts, allocated, without=0)
    print(f"\n{'units on the shelf at a fill of':38} " + " ".join(f"{t:>8.0%}" for t in TARGETS))
    for name, stock in {"ours": our_stock, "ours, share of all": least, **stocks}.items():
        print(f"{name:38} " + " ".join(f"{stock(target):8.0f}" for target in TARGETS))

    def saved(*names: str) -> float:
        least = [stock(0.95) for name, stock in stocks.items() if name.split(", r")[0] in names]
        return 1 - our_stock(0.95) / float(np.nanmin(least))

    best = saved(*(f"normal, smoothing {smoothing}" for smoothing in SMOOTHING))
    tenth, history = saved("normal, smoothing 0.1"), saved("normal, history")
    print(f"saved at 95 %: {best:.1%} best smoothing, {tenth:.1%} 0.1, {history:.1%} history")
    assert best >= 0.10
    assert tenth >= 0.15
    assert history >= 0.25
    assert all(least(target) < our_stock(target) for target in TARGETS)


def test_fill_shown_is_met_in_the_months_that_follow(
    parts: np.ndarray, ours: Levels, allocated: Levels
) -> None:
    """Shown each month of what stands on the shelf and on order then, for the delivery after it.

    Of the levels alone, 5 to 6 points too little would be shown at a chance of .80: levels fall
    while nothing is asked for, and what they had brought stays. In months 18 to 34, 4 points too
    much are shown there: over a quarter of what was short was of parts never asked for before; of
    parts asked for three times or more, shown and met are within a point.
    """
    by_fill = {
        month: level_for_fill(parts[:, :month], TARGETS, lead=LEAD)
        for month in range(KNOWN - PROTECTED, parts.shape[1])
    }
    asked = {
        "fill asked of every part": (TARGETS, by_fill),
        "same chance for every part": (
            CHANCES,
            {month: one[:, : len(CHANCES)] for month, one in ours.items()},
        ),
        "share of all demand": (SHARES, allocated),
    }
    for name, (settings, levels) in asked.items():
        shown, (came, stock) = fill_shown(parts, levels), play(parts, levels)
        print(f"\n{name:26}   shown    came   units on the shelf")
        for row in zip(settings, shown, came, stock, strict=True):
            print("{:26.1%} {:8.1%} {:7.1%} {:10.0f}".format(*row))
        assert came == pytest.approx(shown, abs=0.03), name


def fill_shown(demand: np.ndarray, levels: Levels) -> np.ndarray:
    """By setting, over all parts and the months whose deliveries are counted."""
    position, shown, expected = stands(demand, levels), 0.0, 0.0
    for month in range(min(levels) + PROTECTED - LEAD, max(levels) + 1 - LEAD):
        history = demand[:, :month]
        habits = learn_habits(history, PROTECTED)
        weight = expected_demand(history, 1, habits)
        shown = shown + weight @ expected_fill(history, position[month], lead=LEAD, habits=habits)
        expected += weight.sum()
    return shown / expected


def test_fill_a_replay_shows_once_for_all_months_is_met(parts: np.ndarray) -> None:
    """Corrected by months 23 to 34, without the parts not asked for before month 21.

    These were a quarter of all then and are one in a hundred now. With them the fill that came is
    3.3 points above at most; this was seen when they were left out. Played over months 23 to 34 in
    turn, when many had only begun, it is up to 3.7 points below what is shown.
    """
    names, months = zip(*np.ndindex(parts.shape), strict=True)
    table = pd.DataFrame({"series_id": names, "period": months, "qty": parts.ravel()})
    replay = replay_table(demand_series(table), lead=LEAD, review=REVIEW, known=KNOWN)
    for curve in replay.curves[:2]:
        print(f"\n{curve.rule:40} shown    came")
        for point in curve.points:
            print(f"{point.knob:39.1%} {point.expected_fill:6.1%} {point.fill:7.1%}")
            assert point.fill == pytest.approx(point.expected_fill, abs=0.03)


def other_demand() -> dict[str, np.ndarray]:
    """Simulated shops, and tables named by OTHER_DEMAND_CSV, of the same columns."""
    rng = np.random.default_rng(1)
    mean, shape = rng.gamma(0.6, 2.5, (500, 1)) + 0.05, (500, 51)
    clumps = 1 + rng.gamma(2, 1, (500, 1))
    wanders = np.exp(np.cumsum(rng.normal(0, 0.12, shape), axis=1))
    sizes = 1 + rng.geometric(1 / (1 + rng.gamma(1, 6, (500, 1))), shape)
    clumped = rng.negative_binomial(mean / (clumps - 1), 1 / clumps, shape)
    found = {
        "at random": rng.poisson(mean, shape),
        "clumped": clumped,
        "lumpy": (rng.random(shape) < rng.beta(1, 4, (500, 1))) * sizes,
        "wandering": rng.poisson(mean * wanders),
        "ending": np.where(np.arange(51) < rng.integers(0, 102, (500, 1)), clumped, 0),
    }
    files = filter(None, os.environ.get("OTHER_DEMAND_CSV", "").split(os.pathsep))
    found |= {Path(file).stem: complete_series(Path(file)) for file in files}
    return {name: demand.astype(float) for name, demand in found.items()}


@pytest.mark.parametrize(
    ("name", "demand"), other_demand().items(), ids=lambda one: one if isinstance(one, str) else ""
)
def test_other_demand_is_foretold_better_too(name: str, demand: np.ndarray) -> None:
    known = demand.shape[1] * 2 // 3
    levels = our_levels(demand, known, (*CHANCES, *KNOBS))
    judged = {"ours": loss_and_coverage(demand, levels)}
    rivals = normal_rivals(demand, known)
    judged |= {rival: loss_and_coverage(demand, one) for rival, one in rivals.items()}
    best = min(judged, key=lambda rival: (rival == "ours", judged[rival][0]))
    print_losses(f"{name}, {len(demand)} series", {one: judged[one] for one in ("ours", best)})
    stock = min(exchange(demand, one)(0.95) for one in rivals.values())
    print(f"stock at 95 %: {1 - exchange(demand, levels)(0.95) / stock:.1%} less than the best")
    assert judged["ours"][0] < judged[best][0]


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_steady_and_lumpy_parts_in_one_shop_need_no_more_stock_than_normal(seed: int) -> None:
    rng = np.random.default_rng(seed)
    steady = rng.poisson(rng.uniform(5, 40, (500, 1)), (500, 48))
    mean, clumps = np.exp(rng.uniform(*np.log([0.2, 2]), (500, 1))), rng.uniform(3, 8, (500, 1))
    lumpy = rng.negative_binomial(mean / (clumps - 1), 1 / clumps, (500, 48))
    demand, known = np.vstack([steady, lumpy]).astype(float), 32
    least = exchange(demand, allocated_levels(demand, known, SHARES), without=0)
    alike = exchange(demand, our_levels(demand, known, (*CHANCES, *KNOBS)))
    rivals = [exchange(demand, one) for one in normal_rivals(demand, known).values()]
    for fill in (0.9, 0.95, 0.97):
        best = float(np.nanmin([rival(fill) for rival in rivals]))
        print(
            f"\n{fill:.0%}: share of all {1 - least(fill) / best:.1%}, "
            f"same chance {1 - alike(fill) / best:.1%} less than the best normal"
        )
        assert least(fill) < best
