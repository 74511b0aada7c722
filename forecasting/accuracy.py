"""How good forecasts were: losses of totals and of quantiles, and how often a quantile held."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

__all__ = [
    "pinball_loss",
    "quantile_summary",
    "scored_totals",
    "usual_change",
]

FEWEST_CHANGES = 2


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


def usual_change(totals: Sequence[float]) -> float | None:
    """Mean absolute change from one total to the next; None of fewer than 3, or when none changed.

    The error of whoever expects the same again: the scale of an error, so that 1 means no better.
    Shapes: totals of stretches of equal length without gaps between them, the oldest first.
    Source: Hyndman & Koehler (2006), Another look at measures of forecast accuracy, Int. J. of
        Forecasting 22(4), section 3, eq. (6) and MASE, for totals instead of single periods.
    Checked in: tests/published/test_accuracy.py
    """
    changes = np.abs(np.diff(np.asarray(totals, dtype=float)))
    if len(changes) < FEWEST_CHANGES or not changes.any():
        return None
    return float(changes.mean())


def scored_totals(totals: pd.DataFrame, chances: dict[str, float]) -> pd.DataFrame:
    """Error of the mean and mean loss of the quantiles of each total foretold, both in scales.

    Shapes: totals has the columns mean, used, scale (missing: no scale is known) and one per
    quantile named in chances; the result has its index and the columns error and loss, missing
    where the scale is.
    """
    losses = [
        pinball_loss(totals["used"].to_numpy(), totals[name].to_numpy(), chance)
        for name, chance in chances.items()
    ]
    scale = totals["scale"].astype(float)
    error = (totals["mean"] - totals["used"]).abs() / scale
    loss = pd.Series(np.mean(losses, axis=0), index=totals.index) / scale
    return pd.DataFrame({"error": error, "loss": loss})
