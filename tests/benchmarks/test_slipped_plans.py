"""Plans taken at their word against plans that come as late as this shop's plans came before.

Run with: python manage.py test -m benchmark -s tests/benchmarks/test_slipped_plans.py
Regular invented shops. Every batch is planned four weeks ahead; half begin up to four weeks late,
one planned batch in six is given up a month after its day. Loss as in test_synthetic_shops.py, of
the knives of each product in the next four weeks.
"""

import numpy as np
import pandas as pd
import pytest

from forecasting.accuracy import pinball_loss
from forecasting.plan_keeping import AS_PLANNED, PlanKeeping, PlannedStarts, learn_plan_keeping
from forecasting.product_outlook import product_outlooks
from tests.benchmarks.synthetic_shops import PRODUCTS, invent_shop
from tests.benchmarks.test_synthetic_shops import CHANCES, origins

pytestmark = pytest.mark.benchmark

DAYS_AHEAD, PATHS = 28, 1000
A_MONTH = pd.Timedelta(days=30)


def plans(builds: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """product, qty, due, begun (missing: given up) of every plan ever made."""
    late = np.where(rng.uniform(size=len(builds)) < 0.5, 0, rng.integers(1, 29, len(builds)))
    kept = builds.rename(columns={"day": "begun"})
    kept["due"] = kept["begun"] - pd.to_timedelta(late, unit="D")
    dropped = kept.sample(len(kept) // 5, random_state=int(rng.integers(1000)))
    moved = pd.to_timedelta(rng.integers(-60, 60, len(dropped)), unit="D")
    return pd.concat([kept, dropped.assign(due=dropped["due"] + moved, begun=pd.NaT)])


def known_plan(made: pd.DataFrame, day: pd.Timestamp) -> pd.DataFrame:
    """Batches still to start as planned on that day."""
    given_up = made["begun"].isna() & (made["due"] + A_MONTH <= day)
    begun = made["begun"] <= day
    known = made["due"] <= day + pd.Timedelta(days=DAYS_AHEAD)
    waiting = made[known & ~begun & ~given_up]
    return waiting.rename(columns={"due": "day"})[["product", "day", "qty"]]


def record(made: pd.DataFrame, day: pd.Timestamp) -> pd.DataFrame:
    """What plans had come to by that day: late, outcome."""
    due = made[made["due"] < day]
    begun = due["begun"] <= day
    given_up = due["begun"].isna() & (due["due"] + A_MONTH <= day)
    late = (due["begun"].where(begun, day) - due["due"]).dt.days
    outcome = np.select([begun, given_up], ["begun", "given up"], "waiting")
    return pd.DataFrame({"late": late.astype(float), "outcome": outcome})


def quantiles(
    past: pd.DataFrame, plan: pd.DataFrame, keeping: PlanKeeping, day: pd.Timestamp
) -> np.ndarray:
    products = product_outlooks(
        list(range(PRODUCTS)),
        past,
        plan,
        PlannedStarts(keeping, day, PATHS, 1),
        levels={},
        as_of=day,
        week_ends=np.array([float(DAYS_AHEAD)]),
        horizon_days=DAYS_AHEAD,
        paths=PATHS,
        seed=1,
    )
    knives = np.stack([products[number].knives_by_week[-1] for number in range(PRODUCTS)])
    return np.quantile(knives, CHANCES, axis=1, method="higher")


def test_plans_that_slip_are_foretold_better_by_how_they_slipped_before(capsys):
    losses, rates = {"word": [], "record": []}, {"word": [], "record": []}
    for seed in range(6):
        shop = invent_shop("regular", seed)
        made = plans(shop.builds, np.random.default_rng(seed))
        for day in origins(6):
            past = shop.builds[shop.builds["day"] <= day].reset_index(drop=True)
            ahead = shop.builds["day"].between(day, day + pd.Timedelta(days=DAYS_AHEAD), "right")
            actual = shop.builds[ahead].groupby("product")["qty"].sum()
            actual = actual.reindex(range(PRODUCTS), fill_value=0.0).to_numpy()
            learned = learn_plan_keeping(record(made, day))
            for name, keeping in (("word", AS_PLANNED), ("record", learned)):
                told = quantiles(past, known_plan(made, day), keeping, day)
                losses[name] += [
                    pinball_loss(actual, row, chance).mean()
                    for row, chance in zip(told, CHANCES, strict=True)
                ]
                rates[name].append((actual <= told[2]).mean())
    ratio = np.mean(losses["record"]) / np.mean(losses["word"])
    with capsys.disabled():
        print(
            f"\nloss with the record / at their word {ratio:.2f}; 95 % covered "
            f"{np.mean(rates['record']):.3f} and {np.mean(rates['word']):.3f}"
        )
    assert ratio < 1
