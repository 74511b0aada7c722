"""Time-phased netting against the figures of Orlicky's Material Requirements Planning.

Page numbers are those of the electronic edition; all figures read.
"""

from decimal import Decimal

import pytest

from forecasting.netting import fixed_quantity, net_requirements


@pytest.mark.parametrize("number", [int, Decimal], ids=["int", "Decimal"])
def test_figure_9_1_plans_one_lot_released_a_lead_time_earlier(number):
    # p. 186, Figure 9-1; the lot of 20 is inferred from the planned receipt shown.
    gross, scheduled = [10, 15, 75, 17], [8, 0, 25, 0]
    record = net_requirements(
        [number(qty) for qty in gross],
        [number(qty) for qty in scheduled],
        on_hand=number(72),
        lead=3,
        lot_rule=fixed_quantity(number(20)),
    )
    assert record.balance == (70, 55, 5, -12)
    assert record.net == (0, 0, 0, 12)
    assert record.receipts == (0, 0, 0, 20)
    assert record.releases == (20, 0, 0, 0)
    assert record.projected == (70, 55, 5, 8)
    assert record.past_due == 0


def test_figure_7_7_nets_requirements_against_stock_and_open_orders():
    # p. 142 and 144, Figures 7-3, 7-4 and 7-7.
    gross = [0, 20, 0, 25, 0, 15, 12, 0]
    record = net_requirements(gross, [0, 0, 30, 0, 0, 0, 0, 0], on_hand=23, lead=0)
    assert record.net == (0, 0, 0, 0, 0, 7, 12, 0)
    assert sum(record.net) == 19
    assert record.balance == (23, 3, 33, 8, 8, -7, -19, -19)


def test_figure_7_16_is_a_time_phased_order_point():
    # p. 155, Figure 7-16; two releases of 50 are read, their periods 3 and 6 computed.
    record = net_requirements(
        [17] * 8, [0] * 8, on_hand=170, lead=2, safety_stock=100, lot_rule=fixed_quantity(50)
    )
    assert record.balance == (153, 136, 119, 102, 85, 68, 51, 34)
    assert record.releases == (0, 0, 50, 0, 0, 50, 0, 0)


def test_figure_9_2_shows_the_whole_shortage():
    # p. 187, Figure 9-2A.
    record = net_requirements([30, 12, 25, 20], [0] * 4, on_hand=60, lead=0)
    assert record.balance == (30, 18, -7, -27)
    assert sum(record.receipts) == 27
