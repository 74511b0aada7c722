"""Which items earn the care: ranked by the value used in a year, classed by how evenly they go."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from forecasting.errors import BadInput

__all__ = ["ValueRank", "use_class", "value_ranks", "variation"]

VALUE_CUTS = (0.80, 0.95)
"""Shares of the yearly value at which A and B end: common practice, no source."""

USE_CUTS = (0.5, 1.0)
"""Variation up to which use is X and Y: common practice, no source."""

FEWEST_MONTHS = 3


@dataclass(frozen=True)
class ValueRank:
    """One item in the ranking.

    value: money a year. share: of all value. before: share of everything above it in the ranking.
    """

    item: str
    value: float
    share: float
    before: float
    letter: str


def value_ranks(
    values: Mapping[str, float], cuts: tuple[float, float] = VALUE_CUTS
) -> list[ValueRank]:
    """Items by yearly value, the largest first, with their class A, B or C.

    Convention: an item belongs to the class in which its share begins, so that the dearest is
    always A, however large its share; an item of no value is C.

    Args:
        values: item -> yearly use times unit cost, 0 or more.
        cuts: cumulative shares at which A and B end.
    Raises: BadInput for a value below zero.
    Source: Heizer & Render, Operations Management, ch. 12, ABC analysis; they draw the lines by
        eye (A about 70 to 80 % of the value), the cut-offs here are common practice, no source.
    Checked in: tests/published/test_stock_classes.py
    """
    if wrong := [item for item, value in values.items() if not value >= 0]:
        raise BadInput(f"value of {wrong[0]} must be 0 or more, but got {values[wrong[0]]}")
    total = sum(values.values())
    ranks, before = [], 0.0
    for item, value in sorted(values.items(), key=lambda pair: (-pair[1], pair[0])):
        share = value / total if value else 0.0
        ranks.append(ValueRank(item, value, share, before, _letter(value, before, cuts)))
        before += share
    return ranks


def use_class(months: Sequence[float]) -> str:
    """X for even use from month to month, Y for uneven, Z for now and then.

    Args:
        months: use in each whole month, zeros included.
    Returns: empty with fewer than three months, or when nothing was used.
    Cut-offs: variation up to 0.5 and up to 1; common practice, no source.
    """
    spread = variation(months)
    if spread is None:
        return ""
    return "X" if spread <= USE_CUTS[0] else "Y" if spread <= USE_CUTS[1] else "Z"


def variation(months: Sequence[float]) -> float | None:
    """Coefficient of variation: sample standard deviation (n - 1) over the mean.

    None with fewer than three months, or when nothing was used.
    """
    if len(months) < FEWEST_MONTHS or sum(months) <= 0:
        return None
    return stdev(months) / fmean(months)


def _letter(value: float, before: float, cuts: tuple[float, float]) -> str:
    if not value or before >= cuts[1]:
        return "C"
    return "A" if before < cuts[0] else "B"
