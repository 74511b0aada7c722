"""A fill foretold, corrected by how far earlier ones were off, as far as that was no chance."""

import numpy as np
from scipy.special import expit, logit

__all__ = ["corrected_fill", "error_of_fill"]

LEAST_SHARE = 1e-3


def error_of_fill(served: np.ndarray, asked: np.ndarray) -> np.ndarray:
    """Standard error of the share served of all items together, per setting.

    Items stand for others like them, so that one that asks for much weighs much and tells little.
    Shapes: served (settings, items), asked (items,) or (settings, items); both in units or money.
    Source: ratio estimate, e.g. Cochran (1977), Sampling Techniques, chapter 6 | from memory.
    Checked in: tests/forecasting/test_fill_correction.py
    """
    total = np.maximum(np.sum(asked, axis=-1), np.finfo(float).tiny)
    fill = served.sum(axis=-1) / total
    left = served - fill[..., None] * asked
    return np.sqrt((left**2).sum(axis=-1)) / total


def corrected_fill(
    share: np.ndarray, foretold: np.ndarray, came: np.ndarray, error: np.ndarray
) -> np.ndarray:
    """Shares foretold now, moved in log odds as what came lay from what had been foretold then.

    Of a miss d with standard error e the part d^2 / (d^2 + e^2) is believed.
    Args: foretold, came, error: of the earlier ones; all arrays alike, shares between 0 and 1.
    """
    miss = came - foretold
    believed = miss**2 / np.maximum(miss**2 + error**2, np.finfo(float).tiny)
    return expit(_log_odds(share) + believed * (_log_odds(came) - _log_odds(foretold)))


def _log_odds(share: np.ndarray) -> np.ndarray:
    return logit(np.clip(share, LEAST_SHARE, 1 - LEAST_SHARE))
