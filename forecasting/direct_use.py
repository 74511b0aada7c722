"""Use outside batches (repairs, one-offs, samples): futures of single withdrawals."""

import numpy as np

from forecasting.paths import Paths, no_events

__all__ = ["simulate_direct_use"]


def simulate_direct_use(
    withdrawals: np.ndarray,
    per_day: float,
    *,
    horizon_days: int,
    paths: int,
    rng: np.random.Generator,
) -> Paths:
    """Withdrawals at random days, sizes drawn from those seen.

    Every path has its own rate around `per_day`, wide when few withdrawals were seen; with it the
    count is negative binomial.
    Args: withdrawals: stock units of each past withdrawal; per_day: expected stock units per day.
    """
    sizes = withdrawals[withdrawals > 0]
    if len(sizes) == 0 or per_day <= 0:
        return no_events(paths)
    expected = per_day / sizes.mean() * horizon_days
    known_as = len(sizes) + 1.0
    counts = rng.poisson(expected * rng.gamma(known_as, 1 / known_as, paths))
    most = int(counts.max(initial=0))
    happens = np.arange(most) < counts[:, None]
    day = np.where(happens, rng.integers(1, horizon_days + 1, (paths, most)), np.inf)
    qty = rng.choice(sizes, size=(paths, most))
    return Paths(day, qty, np.zeros_like(qty))
