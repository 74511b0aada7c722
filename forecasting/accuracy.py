"""How good forecasts were: losses of totals and of quantiles, and how often a quantile held."""

import numpy as np
import pandas as pd

__all__ = ["pinball_loss", "quantile_summary", "scaled_squared_errors"]


def scaled_squared_errors(totals: pd.DataFrame, variance: pd.Series) -> dict[str, float]:
    """Mean squared error of each model over the variance of the series it foretold.

    Scaling lets series of different size count alike; 1 is the error of a forecast that is off by
    one standard deviation.
    Shapes: totals is indexed by unique_id and cutoff, with y and one column per model; variance is
    indexed by unique_id and holds the variance of y.
    """
    models = totals.drop(columns="y")
    squared = models.sub(totals["y"], axis=0) ** 2
    scaled = squared.div(variance, axis=0, level="unique_id")
    return {name: float(loss) for name, loss in scaled.mean().items()}


def pinball_loss(actual: np.ndarray, quantile: np.ndarray, chance: float) -> np.ndarray:
    """Loss of a quantile: what lies above it costs `chance` a unit, what lies below the rest.

    Convention: without the factor 2 that some books put before it.
    Source: Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 3rd ed., section 5.9.
    Checked in: tests/published/test_accuracy.py
    """
    above = np.asarray(actual) - np.asarray(quantile)
    return np.maximum(chance * above, (chance - 1) * above)


def quantile_summary(past: pd.DataFrame, by: str, chances: dict[str, float]) -> pd.DataFrame:
    """Per group and for all: forecasts judged, share that held, pinball loss over mean use.

    A right quantile q of a count has P(D < q) <= chance <= P(D <= q); both shares are given.
    Shapes: past has the columns by, actual and one per quantile named in chances; the result has
    one row per group (the last is "all") and quantile: by, quantile, chance, forecasts, below,
    below_or_at, loss.
    """
    groups = [*past.groupby(by, sort=True), ("all", past)]
    rows = [
        (name, column, chance, *_judged(rows["actual"], rows[column], chance))
        for name, rows in groups
        for column, chance in chances.items()
    ]
    names = [by, "quantile", "chance", "forecasts", "below", "below_or_at", "loss"]
    return pd.DataFrame(rows, columns=names)


def _judged(
    actual: pd.Series, quantile: pd.Series, chance: float
) -> tuple[int, float, float, float]:
    if actual.empty:
        return 0, 0.0, 0.0, 0.0
    loss = float(pinball_loss(actual.to_numpy(), quantile.to_numpy(), chance).mean())
    mean = float(actual.mean())
    return (
        len(actual),
        float((actual < quantile).mean()),
        float((actual <= quantile).mean()),
        loss / mean if mean > 0 else 0.0,
    )
