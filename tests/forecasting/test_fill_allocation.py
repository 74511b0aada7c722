"""Laws of demand, sums and optima here are SciPy's, not ours."""

from itertools import product

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.stats import nbinom, poisson

from forecasting.errors import OutOfRange
from forecasting.fill_allocation import allocated_levels, levels_for_total_fill
from forecasting.fill_tables import FillTable
from forecasting.sum_quantiles import expected_demand, expected_fill

LEAD, REVIEW, HIGHEST = 2, 1, 400


def steady(mean):
    return lambda periods: poisson(mean * periods)


def lumpy(mean, dispersion):
    return lambda periods: nbinom(mean * periods / (dispersion - 1), 1 / dispersion)


class Shelf:
    """What each level 0, 1, 2, ... of one part meets of a period's demand and leaves, on average.

    Stock is counted at the end of the period before a delivery; sums over every possible demand.
    """

    def __init__(self, demand_of, highest=HIGHEST):
        demand, level = np.arange(4 * highest), np.arange(highest + 1)[:, None]
        self.before, self.until = (demand_of(periods) for periods in (LEAD, LEAD + REVIEW))
        short_before, short_after = (
            np.maximum(demand - level, 0) @ law.pmf(demand) for law in (self.before, self.until)
        )
        self.demand = demand_of(REVIEW).mean()
        self.met = self.demand - (short_after - short_before)
        self.left = np.maximum(level - demand, 0) @ self.until.pmf(demand)


def table(shelves):
    levels = np.arange(len(shelves[0].met) - 1)
    demand = np.array([shelf.demand for shelf in shelves])
    return FillTable(
        rows=np.arange(len(shelves)),
        step=1,
        demand=demand,
        fill=np.array([shelf.met for shelf in shelves]) / demand[:, None],
        within_lead=np.array([shelf.before.cdf(levels) for shelf in shelves]),
        within_protected=np.array([shelf.until.cdf(levels) for shelf in shelves]),
    )


def at(figure, shelves, levels):
    return np.array([getattr(s, figure)[int(n)] for s, n in zip(shelves, levels, strict=True)])


FEW_PARTS = {
    "steady and lumpy": [steady(1.5), lumpy(0.4, 3.0), lumpy(1.0, 5.0)],
    "all rare": [steady(0.05), steady(0.2), lumpy(0.1, 2.0), lumpy(0.1, 6.0)],
}


@pytest.mark.parametrize("laws", FEW_PARTS.values(), ids=FEW_PARTS)
@pytest.mark.parametrize("target", [0.3, 0.6, 0.8, 0.9])
def test_no_other_levels_of_a_few_parts_meet_as_much_with_less_stock(laws, target):
    shelves = [Shelf(law, highest=16) for law in laws]
    levels = allocated_levels([table(shelves)], [target])[:, 0]
    met, left = (at(figure, shelves, levels).sum() for figure in ("met", "left"))
    assert met >= target * sum(shelf.demand for shelf in shelves) - 1e-9
    every = list(product(range(17), repeat=len(shelves)))
    others_met = sum(shelf.met[n] for shelf, n in zip(shelves, np.transpose(every), strict=True))
    others_left = sum(shelf.left[n] for shelf, n in zip(shelves, np.transpose(every), strict=True))
    assert others_left[others_met >= met - 1e-9].min() == pytest.approx(left, abs=1e-9)


def test_many_parts_of_unlike_cost_get_the_levels_integer_programming_finds():
    """HiGHS, through scipy.optimize.milp, picks one level of each part."""
    rng = np.random.default_rng(3)
    laws = [steady(mean) for mean in rng.uniform(1, 8, 15)]
    laws += [lumpy(*part) for part in rng.uniform((0.2, 2), (2, 6), (15, 2))]
    cost = rng.uniform(1, 50, len(laws))
    shelves = [Shelf(law, highest=60) for law in laws]
    levels = allocated_levels([table(shelves)], [0.93], cost=cost)[:, 0]
    met, left = at("met", shelves, levels).sum(), at("left", shelves, levels) @ cost
    choices = len(shelves[0].met)
    optimum = milp(
        np.concatenate([shelf.left * each for shelf, each in zip(shelves, cost, strict=True)]),
        integrality=1,
        bounds=Bounds(0, 1),
        constraints=[
            LinearConstraint(np.kron(np.eye(len(laws)), np.ones(choices)), 1, 1),
            LinearConstraint(np.concatenate([shelf.met for shelf in shelves]), met - 1e-7),
        ],
    )
    assert optimum.success
    assert left == pytest.approx(optimum.fun, rel=1e-3)


def test_steady_part_gets_a_higher_chance_of_lasting_than_a_lumpy_one():
    shelves = [Shelf(steady(10)), Shelf(lumpy(1, 6))]
    levels = allocated_levels([table(shelves)], [0.95])[:, 0]
    chance = [shelf.until.cdf(n) for shelf, n in zip(shelves, levels, strict=True)]
    assert chance[0] > chance[1]


def test_money_met_for_money_kept_buys_as_units_for_units_where_parts_are_asked_for_alike():
    shelves = [Shelf(lumpy(1, 3)), Shelf(lumpy(1, 3))]
    unit_cost = np.array([1.0, 40.0])
    units = allocated_levels([table(shelves)], [0.9])
    money = allocated_levels([table(shelves)], [0.9], worth=unit_cost, cost=unit_cost)
    assert (money == units).all()


def test_dear_part_is_kept_short_where_every_unit_met_counts_the_same():
    shelves = [Shelf(lumpy(1, 3)), Shelf(lumpy(1, 3))]
    cheap, dear = allocated_levels([table(shelves)], [0.9], cost=np.array([1.0, 40.0]))[:, 0]
    assert cheap > dear


def test_dispensable_part_is_kept_short():
    shelves = [Shelf(lumpy(1, 3)), Shelf(lumpy(1, 3))]
    needed, spare = allocated_levels([table(shelves)], [0.9], worth=np.array([1.0, 0.2]))[:, 0]
    assert needed > spare


@pytest.fixture(scope="module")
def counts():
    rng = np.random.default_rng(5)
    rare = rng.negative_binomial(0.3, 0.3, (150, 40))
    return np.vstack([rng.poisson(30, (150, 40)), rare, 5000 * rare[:3]]).astype(float)


def test_targets_are_reached_and_hardly_passed_whatever_the_sizes(counts):
    targets = [0.6, 0.9, 0.99]
    levels = levels_for_total_fill(counts[:300], targets, lead=2)
    fill = expected_fill(counts[:300], levels, lead=2)
    total = np.average(fill, axis=0, weights=expected_demand(counts[:300], 1))
    assert (total >= np.array(targets) - 1e-9).all()
    assert total == pytest.approx(targets, abs=0.003)


def test_higher_target_lowers_no_level(counts):
    levels = levels_for_total_fill(counts, [0.5, 0.8, 0.95, 0.999], lead=2)
    assert (np.diff(levels, axis=1) >= 0).all()


def test_parts_nobody_asks_for_get_nothing():
    assert (levels_for_total_fill(np.zeros((3, 12)), [0.95], lead=1) == 0).all()


def test_empty_table_has_no_levels():
    assert levels_for_total_fill(np.zeros((0, 12)), [0.95], lead=1).shape == (0, 1)


@pytest.mark.parametrize("target", [0.0, 1.0, 95])
def test_impossible_target_is_refused(target):
    with pytest.raises(OutOfRange, match="target must lie between 0 and 1"):
        levels_for_total_fill(np.ones((1, 6)), [target], lead=1)
