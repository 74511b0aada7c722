"""How good forecasts were: errors of single forecasts, of quantiles and of whole models."""

import pandas as pd

__all__ = ["scaled_squared_errors"]


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
