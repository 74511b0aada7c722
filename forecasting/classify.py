"""Demand classes by how often and how evenly an item is asked for."""

from dataclasses import dataclass

import numpy as np

__all__ = ["TOO_FEW", "DemandPattern", "demand_classes", "demand_pattern", "whole_numbers"]

INTERVAL_CUT = 1.32
SPREAD_CUT = 0.49
"""Cut-offs of Syntetos, Boylan & Croston (2005), JORS 56; read second hand, paper not read."""

CLASSES = {
    (False, False): "smooth",
    (False, True): "erratic",
    (True, False): "intermittent",
    (True, True): "lumpy",
}


TOO_FEW = "too few to class"


@dataclass(frozen=True)
class DemandPattern:
    """interval: periods per demand; spread: squared variation of the sizes; name: the class."""

    interval: float
    spread: float
    name: str


def demand_pattern(series: np.ndarray) -> DemandPattern:
    """Class of a regular series, zeros included; periods not known (NaN) are passed over.

    Convention: interval (ADI) = periods / periods with demand; spread (CV2) = sample variance
    (n - 1) of the demands that are not zero / their mean squared. Below two demands no class.
    Source: Syntetos, Boylan & Croston (2005), On the categorization of demand patterns, JORS 56.
    Checked in: tests/published/test_intermittent_demand.py
    """
    periods = np.isfinite(series).sum()
    sizes = series[series > 0]
    if len(sizes) < 2:
        return DemandPattern(float(periods / max(1, len(sizes))), 0.0, TOO_FEW)
    interval = float(periods / len(sizes))
    spread = float(np.var(sizes, ddof=1) / np.mean(sizes) ** 2)
    return DemandPattern(interval, spread, CLASSES[interval > INTERVAL_CUT, spread > SPREAD_CUT])


def demand_classes(qty: np.ndarray) -> np.ndarray:
    """Class of many series at once, by the convention of demand_pattern.

    Shapes: qty is (series, periods), NaN where not known; the result (series,) holds names.
    """
    periods = np.isfinite(qty).sum(axis=1)
    demands = (qty > 0).sum(axis=1)
    total, squares = np.nansum(qty, axis=1), np.nansum(qty**2, axis=1)
    few = demands < 2
    count = np.where(few, 2, demands)
    mean = np.where(few, 1.0, total / count)
    spread = np.maximum(squares - count * mean**2, 0.0) / (count - 1) / mean**2
    rare, uneven = periods > INTERVAL_CUT * count, spread > SPREAD_CUT
    names = np.array(
        [[CLASSES[False, False], CLASSES[False, True]], [CLASSES[True, False], CLASSES[True, True]]]
    )
    return np.where(few, TOO_FEW, names[rare.astype(int), uneven.astype(int)])


def whole_numbers(qty: np.ndarray) -> np.ndarray:
    """Which series are counts: every known quantity is a whole number."""
    return (np.isnan(qty) | (qty == np.round(qty))).all(axis=1)
