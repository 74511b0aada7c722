"""What batches really took against what their bills said.

The ratio of the sums (a ratio estimate), drawn towards the bill while the batches are few: the bill
counts as much as two average batches (common practice, no source). Standard error of the ratio by
linearisation: W. G. Cochran, Sampling Techniques, 3rd ed. (1977), ch. 6, from memory.
Checked in: tests/forecasting/test_learned_use.py (against scipy's bootstrap)
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["AS_THE_BILL", "LearnedUse", "learned_use"]

BILL_COUNTS_AS = 2


@dataclass(frozen=True)
class LearnedUse:
    """factor: real use = factor x the bill's. error: its standard error, 0 below two batches.

    scatter: deviation of a next batch's real use from what is reckoned when it begins, as a share:
    scrap, offcuts and a full hand; 0 below two batches.
    """

    factor: float
    error: float
    batches: int
    scatter: float = 0.0


AS_THE_BILL = LearnedUse(1.0, 0.0, 0)


def learned_use(
    seen: Sequence[tuple[float, float]], foreseen: Sequence[tuple[float, float]] = ()
) -> LearnedUse:
    """Learn from (expected by the bill, really taken) of each batch, in the same unit.

    Args: seen: expected of the knives that reached each step. foreseen: of those that were begun.
    Batches that the bill expected nothing of are left out.
    """
    seen = [(expected, taken) for expected, taken in seen if expected > 0]
    if not seen:
        return AS_THE_BILL
    expected, taken = (sum(column) for column in zip(*seen, strict=True))
    bill = BILL_COUNTS_AS * expected / len(seen)
    factor = max((taken + bill) / (expected + bill), 0.0)
    return LearnedUse(factor, _error(seen, taken / expected), len(seen), _scatter(foreseen))


def _scatter(foreseen: Sequence[tuple[float, float]]) -> float:
    """Of one batch, and of the mean it is held against: s sqrt(1 + 1/n)."""
    foreseen = [(expected, taken) for expected, taken in foreseen if expected > 0]
    taken = sum(taken for _, taken in foreseen)
    if len(foreseen) < 2 or taken <= 0:
        return 0.0
    ratio = taken / sum(expected for expected, _ in foreseen)
    return _error(foreseen, ratio) * math.sqrt(len(foreseen) + 1) / ratio


def _error(seen: Sequence[tuple[float, float]], ratio: float) -> float:
    count = len(seen)
    if count < 2:
        return 0.0
    squares = sum((taken - ratio * expected) ** 2 for expected, taken in seen)
    return math.sqrt(squares * count / (count - 1)) / sum(expected for expected, _ in seen)
