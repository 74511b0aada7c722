"""Demand classes by how often and how evenly an item is asked for."""

from dataclasses import dataclass

import numpy as np

__all__ = ["DemandPattern", "demand_pattern"]

INTERVAL_CUT = 1.32
SPREAD_CUT = 0.49
"""Cut-offs of Syntetos, Boylan & Croston (2005), JORS 56; read second hand, paper not read."""

CLASSES = {
    (False, False): "smooth",
    (False, True): "erratic",
    (True, False): "intermittent",
    (True, True): "lumpy",
}


@dataclass(frozen=True)
class DemandPattern:
    """interval: periods per demand; spread: squared variation of the sizes; name: the class."""

    interval: float
    spread: float
    name: str


def demand_pattern(series: np.ndarray) -> DemandPattern:
    """Class of a regular series, zeros included.

    Convention: interval (ADI) = periods / periods with demand; spread (CV2) = sample variance
    (n - 1) of the demands that are not zero / their mean squared. Below two demands no class.
    Source: Syntetos, Boylan & Croston (2005), On the categorization of demand patterns, JORS 56.
    Checked in: tests/published/test_intermittent_demand.py
    """
    sizes = series[series > 0]
    if len(sizes) < 2:
        return DemandPattern(len(series) / max(1, len(sizes)), 0.0, "too few to class")
    interval = len(series) / len(sizes)
    spread = float(np.var(sizes, ddof=1) / np.mean(sizes) ** 2)
    return DemandPattern(interval, spread, CLASSES[interval > INTERVAL_CUT, spread > SPREAD_CUT])
