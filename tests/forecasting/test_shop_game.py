from itertools import product

import numpy as np
import pandas as pd
import pytest

from forecasting.shop_game import AS_SET, CHANCES, OURS, THUMB, Stretch, play_shop, shop_curves

ITEMS = pd.DataFrame(
    [("bar", "mill", 14.0, 7.0, 0.95), ("rag", "shop", 7.0, 7.0, 0.9)],
    columns=["item", "supplier", "lead_days", "review_days", "service_level"],
)
PUNCTUAL = pd.DataFrame(
    [("mill", "bar", 14.0, 14.0)] * 5, columns=["supplier", "item", "quoted_days", "actual_days"]
)
WEEKS = 60


def stretch(days=84, use=(2.0, 1.0)):
    """A forecast of steady use: each chance asks for a little more than the one before."""
    daily = np.repeat(np.array(use)[:, None], days, axis=1)
    points = {"bar": 21 * use[0], "rag": 14 * use[1]}
    ladder = pd.DataFrame(
        [
            (
                item,
                chance,
                points[item] * (chance - 0.2),
                points[item] * (chance - 0.2) + 60,
                chance,
            )
            for item, chance in product(points, CHANCES)
        ],
        columns=["item", "chance", "reorder_point", "order_up_to", "expected_fill"],
    )
    asked = ITEMS[["item", "service_level"]].rename(columns={"service_level": "chance"})
    items = asked.merge(ladder, on=["item", "chance"])
    items["lead_mean_days"] = ITEMS["lead_days"]
    return Stretch(ladder, items, 7 * daily[:, :1].repeat(WEEKS, axis=1), daily)


def rows(played, rule, item="bar"):
    return played[(played["rule"] == rule) & (played["item"] == item)]


def play(receipts=PUNCTUAL, *stretches, before=28, **changes):
    stretches = stretches or (stretch(56), stretch(28))
    return play_shop(ITEMS, receipts, stretches, stretch(before).days, **changes)


@pytest.fixture(scope="module")
def played():
    return play()


def test_days_before_the_first_forecast_are_played_but_not_counted(played):
    assert (played[played["item"] == "bar"]["demand"] == 2 * (56 + 28)).all()
    at_once = rows(play(before=0), OURS).set_index("knob")["mean_stock"]
    assert (at_once != rows(played, OURS).set_index("knob")["mean_stock"]).all()


def test_steady_use_and_punctual_deliveries_leave_nothing_short(played):
    served = rows(played, THUMB).set_index("knob")["fill_rate"]
    assert (served[served.index > 1] == 1).all()


def test_each_item_at_its_own_service_level_is_one_step_of_the_ladder(played):
    for item, chance in (("bar", 0.95), ("rag", 0.9)):
        own = rows(played, AS_SET, item).iloc[0]
        step = rows(played, OURS, item).set_index("knob").loc[chance]
        for figure in ("fill_rate", "mean_stock", "expected_fill"):
            assert own[figure] == pytest.approx(step[figure])


def test_asking_for_more_serves_more(played):
    served = rows(played, OURS)["fill_rate"]
    assert served.is_monotonic_increasing
    assert served.iloc[0] < 0.9


def test_late_deliveries_of_the_past_come_late_again(played):
    late = PUNCTUAL.assign(actual_days=[14, 14, 14, 45, 60])
    again = play(late)
    for item in ("bar", "rag"):  # the rag's supplier has no delivery yet, so it leans on all
        before, after = (rows(each, OURS, item)["fill_rate"].mean() for each in (played, again))
        assert after < before


def test_two_deliveries_say_too_little_and_the_quote_holds(played):
    few = PUNCTUAL.iloc[:2].assign(actual_days=[90, 90])
    pd.testing.assert_frame_equal(play(few), played)


def test_same_past_is_played_the_same_way_twice():
    late = PUNCTUAL.assign(actual_days=[14, 14, 14, 45, 60])
    first, second = (play(late, seed=4) for _ in range(2))
    pd.testing.assert_frame_equal(first, second)


def test_fill_of_the_shop_counts_every_used_item_alike_and_stock_is_money(played):
    ours = shop_curves(played, {"bar": 0.5, "rag": 2.0})[0]
    bar, rag = rows(played, OURS), rows(played, OURS, "rag")
    fills = (bar["fill_rate"].to_numpy() + rag["fill_rate"].to_numpy()) / 2
    money = 0.5 * bar["mean_stock"].to_numpy() + 2 * rag["mean_stock"].to_numpy()
    assert [point.fill for point in ours.points] == pytest.approx(fills.tolist())
    assert [point.stock for point in ours.points] == pytest.approx(money.tolist())


def test_item_nobody_used_says_nothing_about_service():
    played = play(PUNCTUAL, stretch(use=(2.0, 0.0)))
    with_rag, without = (
        shop_curves(played, cost)[0] for cost in ({"bar": 0.5, "rag": 9.0}, {"bar": 0.5})
    )
    assert with_rag == without
