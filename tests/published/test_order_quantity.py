"""Order quantities against published examples."""

from decimal import Decimal

import pytest

from forecasting.order_quantity import Pack, economic_order_quantity, packs_to_order, yearly_cost

# Snyder & Shen (2019), Fundamentals of Supply Chain Theory, 2nd ed., Example 3.1: order cost 8,
# holding 0.225 a unit and year, demand 1300 a year. Numbers read in the first author's open
# documentation; the printed book was not read.
CANDY = {"use_per_year": 1300, "order_fee": 8, "holding_per_unit_year": 0.225}


def test_snyder_shen_example_3_1_gives_the_printed_quantity_and_cost():
    best = economic_order_quantity(**CANDY)
    assert best == pytest.approx(304.04678, abs=1e-5)
    assert yearly_cost(best, **CANDY) == pytest.approx(68.41052551, abs=1e-6)


def test_snyder_shen_example_3_1_costs_more_at_another_quantity():
    # Same source; the cost 69.725 was read, the quantity 250 found by solving for it.
    assert yearly_cost(250, **CANDY) == pytest.approx(69.725, abs=1e-6)


# Render, Stair & Hanna, Quantitative Analysis for Management, quantity-discount example
# (attribution and costs from memory; inputs and the answer 1000 read second hand).
RACE_CARS = Pack(
    Decimal(1),
    price_breaks=((1, Decimal(5)), (1000, Decimal("4.8")), (2000, Decimal("4.75"))),
    order_fee=Decimal(49),
)
# Snyder & Shen (2019), Example 3.6: all-units discount, rate 0.3 (open documentation, read).
CANDY_BANDS = Pack(
    Decimal(1),
    price_breaks=((1, Decimal("0.75")), (400, Decimal("0.72")), (800, Decimal("0.68"))),
    order_fee=Decimal(8),
)


@pytest.mark.parametrize(
    ("pack", "use_per_year", "rate", "quantity"),
    [
        pytest.param(RACE_CARS, 5000, 0.2, 1000, id="render-stair-hanna"),
        pytest.param(CANDY_BANDS, 1300, 0.3, 800, id="snyder-shen-3.6"),
    ],
)
def test_price_breaks_lead_to_the_published_quantity(pack, use_per_year, rate, quantity):
    choice = packs_to_order(Decimal(1), use_per_year, pack, holding_rate=rate)
    assert choice.packs == quantity
    assert choice.reason == f"price break at {quantity}"


@pytest.mark.parametrize(
    ("quantity", "price", "fee", "rate", "use_per_year", "cost", "tolerance"),
    [
        pytest.param(700, 5, 49, 0.2, 5000, 25700, 0.01, id="render-700"),
        pytest.param(1000, 4.8, 49, 0.2, 5000, 24725, 0.01, id="render-1000"),
        pytest.param(2000, 4.75, 49, 0.2, 5000, 24822.5, 0.01, id="render-2000"),
        pytest.param(800, 0.68, 8, 0.3, 1300, 978.6, 0.005, id="snyder-shen-3.6"),
    ],
)
def test_a_year_in_each_price_band_costs_what_is_published(
    quantity, price, fee, rate, use_per_year, cost, tolerance
):
    ours = yearly_cost(
        quantity,
        use_per_year=use_per_year,
        order_fee=fee,
        holding_per_unit_year=rate * price,
        unit_price=price,
    )
    assert ours == pytest.approx(cost, abs=tolerance)


# Derived from Example 3.1 (no published example of pack rounding found): packs of 48 bracket the
# economic quantity 304.05 with 288 (68.5111) and 336 (68.7524); a minimum of 400 costs 71.
CANDY_PACKS = Pack(Decimal(48), price_breaks=((1, Decimal(36)),), order_fee=Decimal(8))
CANDY_MINIMUM = Pack(
    Decimal(1), minimum_packs=400, price_breaks=((1, Decimal("0.75")),), order_fee=Decimal(8)
)


@pytest.mark.parametrize(
    ("pack", "quantity", "cost"),
    [
        pytest.param(CANDY_PACKS, 288, 68.5111, id="packs-of-48"),
        pytest.param(CANDY_MINIMUM, 400, 71.0, id="minimum-400"),
    ],
)
def test_packs_and_minimum_take_the_cheapest_allowed_quantity(pack, quantity, cost):
    choice = packs_to_order(Decimal(10), 1300, pack, holding_rate=0.3)
    assert choice.qty == quantity
    assert yearly_cost(quantity, **CANDY) == pytest.approx(cost, abs=0.001)


def test_rounding_up_to_packs_costs_more_than_rounding_down_here():
    assert yearly_cost(336, **CANDY) == pytest.approx(68.7524, abs=0.001)
