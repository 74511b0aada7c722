"""Orders that share a fee, against a published example."""

import pytest

from forecasting.joint_orders import SharedItem, common_rhythm

# L. V. Snyder, open documentation of the methods of Fundamentals of Supply Chain Theory, module
# eoq, joint replenishment example; method of E. A. Silver (1976). Read there: shared fee 600,
# item fees 120, 840, 300, holding 160, 20, 50, use 1 a year each.
ITEMS = [SharedItem(120, 1, 160), SharedItem(840, 1, 20), SharedItem(300, 1, 50)]


def test_silvers_example_orders_every_three_years_and_one_item_every_third_time():
    rhythm = common_rhythm(600, ITEMS)
    assert rhythm.interval == pytest.approx(3.10316445, abs=1e-6)
    assert rhythm.multiples == (1, 3, 1)
    assert rhythm.cost == pytest.approx(837.8544026, abs=1e-6)
