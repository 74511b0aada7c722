"""A reorder point and a fixed order quantity, watched all the time, cost what is published for them.

Snyder & Shen (2019), Fundamentals of Supply Chain Theory, 2nd ed., Examples 5.1, 5.2 and 5.8;
numbers read in the first author's open documentation and tests, the printed book was not read.
Watching all the time is played in short steps; the tolerances, 1 and 2 %, are for the steps and for
chance.
"""

import numpy as np
import pytest

from forecasting.ordering_rule import Levels, play_many

RUNS = 400


def cost_per_unit_of_time(demand, rule, *, steps, lead, not_counted, holding, waiting, per_order):
    played = play_many(
        demand,
        [rule] * demand.shape[1],
        start=rule.order_up_to,
        lead=round(lead * steps),
        not_counted=not_counted,
    )
    orders = played.orders / (demand.shape[1] - not_counted) * steps
    stock, late = played.mean_stock.mean(), played.mean_waiting.mean()
    return holding * stock + waiting * late + per_order * orders.mean()


def poisson_cost(point, quantity):
    # Poisson demand of 1.5, lead time 2; holding 20, waiting 150 a unit and time unit, order 100.
    steps = 50
    demand = np.random.default_rng(11).poisson(1.5 / steps, (RUNS, 60 * steps)).astype(float)
    return cost_per_unit_of_time(
        demand,
        Levels(point, point + quantity),
        steps=steps,
        lead=2,
        not_counted=10 * steps,
        holding=20,
        waiting=150,
        per_order=100,
    )


def test_example_5_8_with_whole_units_costs_what_is_published():
    assert poisson_cost(3, 5) == pytest.approx(107.9235806, rel=0.01)


@pytest.mark.parametrize(("point", "quantity"), [(2, 5), (4, 5), (3, 3), (3, 8)])
def test_neighbours_of_example_5_8_cost_more(point, quantity):
    assert poisson_cost(point, quantity) > poisson_cost(3, 5)


def test_examples_5_1_and_5_2_with_normal_demand_cost_what_is_published():
    # 1300 +- 150 a year, lead time a twelfth; holding 0.225, waiting 7.5 a unit and year, order 8:
    # ordering 328.5 at 126.8 costs 78.0711625 a year.
    steps, years = 600, 6
    rng = np.random.default_rng(12)
    demand = rng.normal(1300 / steps, 150 / steps**0.5, (RUNS, years * steps))
    cost = cost_per_unit_of_time(
        demand,
        Levels(126.8, 126.8 + 328.5),
        steps=steps,
        lead=1 / 12,
        not_counted=steps,
        holding=0.225,
        waiting=7.5,
        per_order=8,
    )
    assert cost == pytest.approx(78.0711625, rel=0.02)
