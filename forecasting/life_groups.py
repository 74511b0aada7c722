"""Whether lives of different work, or of reground and new cutters, are one kind of life.

Only `math` and `numpy` are loaded, so a page may import it without waiting.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp

from forecasting.errors import require
from forecasting.tool_life import ENOUGH_FAILURES, LifeRecord
from forecasting.weibull import WeibullFit, fit_many

__all__ = ["LifeGroup", "LifeSplit", "split_lives"]

POOLED = object()
SURELY = 0.05
"""A difference this unlikely by chance is taken as one: the usual 1 in 20, common practice."""


@dataclass(frozen=True)
class LifeGroup:
    """Lives of one kind of work; fit is None while they are too few for one of their own."""

    name: str
    failures: int
    censored: int
    longest: float
    fit: WeibullFit | None

    @property
    def has_enough(self) -> bool:
        return self.fit is not None and self.failures >= ENOUGH_FAILURES


@dataclass(frozen=True)
class LifeSplit:
    """Groups side by side, and the chance that lives of one kind look as unlike as these.

    chance: None while fewer than two groups have enough failures; groups without enough take no
    part in it.
    """

    groups: tuple[LifeGroup, ...]
    chance: float | None

    @property
    def differ(self) -> bool:
        return self.chance is not None and self.chance < SURELY


def split_lives(lives: Mapping[str, Sequence[LifeRecord]]) -> LifeSplit:
    """Fit each group by itself, and ask whether one life for all would fit nearly as well.

    Twice the log likelihood that separate fits gain over a common one is about chi-squared
    distributed, with two degrees of freedom for each group after the first.

    Raises: BadInput for lives that cannot be used, with the group named.
    Source: likelihood ratio test of equal Weibull distributions; Lawless (1982), Statistical Models
        and Methods for Lifetime Data, chapter 4: from memory.
    Checked in: tests/forecasting/test_life_groups.py, against lifelines and scipy.
    """
    fits = fit_many({name: _arrays(records) for name, records in lives.items()})
    groups = tuple(_group(name, records, fits[name]) for name, records in lives.items())
    enough = [group for group in groups if group.has_enough]
    if len(enough) < 2:
        return LifeSplit(groups, None)
    together = [record for group in enough for record in lives[group.name]]
    common = fit_many({POOLED: _arrays(together)})[POOLED]
    gain = 2 * (sum(group.fit.log_likelihood for group in enough) - common.log_likelihood)
    return LifeSplit(groups, chi_squared_beyond(max(gain, 0.0), len(enough) - 1))


def chi_squared_beyond(value: float, pairs: int) -> float:
    """Chance that chi-squared with 2 * pairs degrees of freedom exceeds a value.

    For an even number of degrees the tail is a sum: exp(-x/2) * sum((x/2)**j / j!), j < pairs.
    """
    require(pairs >= 1, "pairs", "be 1 or more", pairs)
    half, term, total = value / 2, 1.0, 1.0
    for power in range(1, pairs):
        term *= half / power
        total += term
    return exp(-half) * total


def _group(name: str, records: Sequence[LifeRecord], fit: WeibullFit | None) -> LifeGroup:
    failures = sum(record.failed for record in records)
    longest = max((record.life for record in records), default=0.0)
    return LifeGroup(name, failures, len(records) - failures, longest, fit)


def _arrays(records: Sequence[LifeRecord]) -> tuple[list[float], list[bool]]:
    return [record.life for record in records], [record.failed for record in records]
