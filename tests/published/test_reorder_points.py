"""Textbook reorder points, fill rates and the loss function against published examples."""

import math

import pytest

from forecasting.order_quantity import economic_order_quantity
from forecasting.reorder_point import (
    fill_rate,
    lead_time_spread,
    periodic_review_order,
    reorder_point,
    safety_factor,
    unit_normal_loss,
)


@pytest.mark.parametrize(
    ("daily", "sd", "lead", "lead_sd", "z", "point", "tolerance"),
    [
        # B. W. Taylor, Introduction to Management Science, "Reorder Point with Variable Demand"
        # (author from memory; inputs and z read, result computed from them).
        pytest.param(30, 5, 10, 0, 1.65, 326.1, 0.05, id="carpet"),
        # Heizer & Render type exercise with constant demand (inputs and z read, 73500 from memory).
        pytest.param(12500, 0, 4, 1, 1.88, 73500, 0.5, id="constant-demand"),
        # Heizer & Render, Operations Management, battery packs (from memory).
        pytest.param(150, 16, 5, 1, 1.65, 1004, 0.6, id="battery-packs"),
        # Stevenson type exercise (read); the page rounds safety stock 10.1 to 10.
        pytest.param(12, 4, 9, 0, 0.8416, 118, 0.11, id="cycle-service-80"),
    ],
)
def test_reorder_point_is_the_published_one(daily, sd, lead, lead_sd, z, point, tolerance):
    assert reorder_point(daily, sd, lead, lead_sd, z=z) == pytest.approx(point, abs=tolerance)


def test_spread_with_both_sources_is_the_published_one():
    # Heizer & Render, battery packs (from memory).
    assert lead_time_spread(150, 16, 5, 1) == pytest.approx(154, abs=0.6)


def test_safety_factor_of_80_percent_is_the_published_one():
    # Stevenson type exercise (read).
    assert safety_factor(0.8) == pytest.approx(0.8416, abs=5e-5)


def test_caplice_slide_gives_quantity_and_spread():
    # C. Caplice, MIT ESD.260 Logistics Systems (Oct 2006), "Inventory Management: More
    # Probabilistic Demand", slide 3 (read): 13000 a year, RMSE 1316, lead two weeks.
    assert economic_order_quantity(13000, 50, 0.1 * 250) == pytest.approx(228, abs=0.1)
    assert lead_time_spread(250, 1316 / math.sqrt(52), 2) == pytest.approx(258, abs=0.1)


def test_fill_rate_differs_from_cycle_service_as_published():
    # Chopra & Meindl, Supply Chain Management, Exercise 11-4 (solution sheet, read).
    sd = lead_time_spread(250, 150, 2)
    assert sd == pytest.approx(212, abs=0.15)
    assert sd * unit_normal_loss(100 / sd) == pytest.approx(43.86, abs=0.005)
    assert fill_rate(600, mean=500, sd=sd, order_quantity=1000) == pytest.approx(0.96, abs=0.005)
    assert reorder_point(250, 150, 2, z=safety_factor(0.6813241)) == pytest.approx(600, abs=0.001)


@pytest.mark.parametrize(
    ("z", "loss"),
    # Standard table of the unit normal loss function (from memory).
    [(0, 0.3989), (0.5, 0.1978), (1, 0.0833), (1.5, 0.0293), (2, 0.0085), (3, 0.0004)],
)
def test_unit_normal_loss_is_the_tabled_one(z, loss):
    assert unit_normal_loss(z) == pytest.approx(loss, abs=6e-5)


def test_periodic_review_order_is_the_published_one():
    # Jacobs & Chase type exercise (read): 5000 a year, review 14 and lead 10 days, 150 on hand;
    # the page rounds the daily demand to 13.70.
    order = periodic_review_order(5000 / 365, 5, lead=10, review=14, position=150, z=1.64)
    assert order == pytest.approx(218.97, abs=0.1)
