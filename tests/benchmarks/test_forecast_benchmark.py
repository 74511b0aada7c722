"""Time of a whole shop, and reorder quantities against textbook rules on invented shops.

Run with: python manage.py test -m benchmark -s tests/benchmarks/test_forecast_benchmark.py
The shops are simulated, with batches by rhythm, by pure chance, and with a pace that changes; the
first favours our method, the others do not.
"""

import time
from datetime import date

import numpy as np
import pandas as pd
import pytest

from forecasting.accuracy import pinball_loss
from forecasting.plan import forecast_shop
from forecasting.reorder_point import safety_factor

pytestmark = pytest.mark.benchmark

TODAY = pd.Timestamp(2026, 11, 22)
CHANCES = (0.8, 0.95)
LEAD_DAYS = 28
NOTHING = {
    "plan": pd.DataFrame(columns=["product", "day", "qty"]),
    "direct": pd.DataFrame(columns=["item", "day", "qty"]),
    "receipts": pd.DataFrame(columns=["supplier", "item", "quoted_days", "actual_days"]),
}


def builds(kind, rng, products=12, weeks=120):
    rows = []
    for product in range(products):
        gap, size = rng.uniform(21, 70), rng.integers(8, 30)
        day = rng.uniform(0, gap)
        while day < 7 * weeks:
            rows.append((product, int(day), max(1, round(rng.normal(size, 0.2 * size)))))
            pace = (0.5 if product % 2 else 2.0) if kind == "change" and day > 3.5 * weeks else 1.0
            variation = 1.0 if kind == "chance" else 0.12
            day += rng.gamma(1 / variation, gap * pace * variation)
    table = pd.DataFrame(rows, columns=["product", "ago", "qty"])
    table["day"] = TODAY - pd.to_timedelta(7 * weeks - table.pop("ago"), unit="D")
    return table


def usage(rng, items, products=12):
    rows = [
        (product, item, float(rng.choice([1, 2, 4])), 0.0)
        for item in range(items)
        for product in rng.choice(products, rng.integers(1, 5), replace=False)
    ]
    return pd.DataFrame(rows, columns=["product", "item", "per_knife", "per_batch"])


def terms(items, level=0.95):
    return pd.DataFrame(
        {
            "item": range(items),
            "supplier": 0,
            "lead_days": float(LEAD_DAYS),
            "review_days": 0.0,
            "service_level": level,
        }
    )


def used(history, needs, after, up_to):
    built = history[(history["day"] > after) & (history["day"] <= up_to)].merge(needs)
    return (built["qty"] * built["per_knife"]).groupby(built["item"]).sum()


def textbook_points(history, needs, origin, items):
    """Exponentially smoothed weeks and their normal spread, a usual rule."""
    weeks = np.array(
        [
            used(
                history,
                needs,
                origin - pd.Timedelta(days=7 * n + 7),
                origin - pd.Timedelta(days=7 * n),
            )
            .reindex(range(items), fill_value=0.0)
            .to_numpy()
            for n in reversed(range(78))
        ]
    )
    level, squares = weeks[:8].mean(axis=0), []
    for week in weeks:
        squares.append((week - level) ** 2)
        level = level + 0.1 * (week - level)
    spread = np.sqrt(np.mean(squares, axis=0))
    periods = LEAD_DAYS / 7
    return {
        chance: np.maximum(0, level * periods + safety_factor(chance) * spread * periods**0.5)
        for chance in CHANCES
    }


def our_points(history, needs, origin, items):
    forecast = forecast_shop(
        history[history["day"] <= origin],
        usage=needs,
        items=terms(items),
        as_of=origin.date(),
        horizon_weeks=1 + LEAD_DAYS // 7,
        paths=500,
        **NOTHING,
    )
    week = forecast.item_weeks[forecast.item_weeks["week"] == forecast.item_weeks["week"].max()]
    return {0.8: week["q80"].to_numpy(), 0.95: week["q95"].to_numpy()}


@pytest.mark.parametrize("kind", ["rhythm", "chance", "change"])
def test_loss_of_our_quantiles_over_that_of_the_textbook(kind, capsys):
    losses, held, items = {"ours": [], "textbook": []}, [], 20
    for seed in range(3):
        rng = np.random.default_rng(seed)
        history, needs = builds(kind, rng), usage(rng, items)
        for back in range(4, 25, 4):
            origin = TODAY - pd.Timedelta(weeks=back)
            actual = used(history, needs, origin, origin + pd.Timedelta(days=LEAD_DAYS))
            actual = actual.reindex(range(items), fill_value=0.0).to_numpy()
            ours = our_points(history, needs, origin, items)
            textbook = textbook_points(history, needs, origin, items)
            for chance in ours:
                losses["ours"].append(pinball_loss(actual, ours[chance], chance))
                losses["textbook"].append(pinball_loss(actual, textbook[chance], chance))
            held.append(actual <= ours[0.95])
    ratio = np.mean(losses["ours"]) / np.mean(losses["textbook"])
    with capsys.disabled():
        print(f"\n{kind}: pinball loss ours / textbook {ratio:.2f}, 95 % held {np.mean(held):.3f}")
    assert ratio < 1


def test_time_for_a_shop_with_300_items(capsys):
    rng = np.random.default_rng(1)
    tables = {"usage": usage(rng, 300), "items": terms(300), **NOTHING}
    history = builds("rhythm", rng)
    taken = []
    for _ in range(3):
        start = time.perf_counter()
        forecast_shop(history, as_of=date(2026, 11, 22), **tables)
        taken.append(time.perf_counter() - start)
    with capsys.disabled():
        print(
            f"\n300 items, 12 products, 2000 futures: {min(taken):.2f} s (first {taken[0]:.2f} s)"
        )
