"""What the shop asks about a cutter: will it last the job, how many changes, when to change it.

Lives are kept per cutter, operation, work material and cutting data, in the cutter's own life unit
(minutes in cut, holes, metres); mixing them makes every answer here wrong.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import gamma, isfinite, log, sqrt

import numpy as np

from forecasting.errors import BadInput, require
from forecasting.renewal import ChangeCount, weibull_changes
from forecasting.replacement_age import weibull_replacement_age
from forecasting.weibull import Weibull, fit
from forecasting.weibull_range import NINE_IN_TEN, Expectation, WeibullRange, weibull_range

__all__ = [
    "END_REASONS",
    "ENOUGH_FAILURES",
    "ChangePolicy",
    "Changes",
    "LifeModel",
    "LifeRecord",
    "Prior",
    "change_policy",
    "changes",
    "life_model",
    "spares_to_lay_out",
    "survival_range",
    "survives",
]

# Whether the end of a life tells that the cutter failed; otherwise it was still good (censored).
END_REASONS = {
    "worn": True,
    "broken": True,
    "removed_early": False,
    "lost": False,
    "still_in_use": False,
}

ENOUGH_FAILURES = 5  # common practice, no source: below this a fit alone misleads
# Common practice, no source: breakage-dominated cutters lie near 0.9, wear-dominated ones up to 4.
ANY_CUTTER = Expectation(shape=1.9, shape_factor=2.1)
SHAPE_FACTOR = 2.0
ON_FAILURE = "Replace on failure, keep a spare"


@dataclass(frozen=True)
class LifeRecord:
    """One life of one cutter.

    Args:
        life: use reached, in the life unit.
        failed: True if it was worn or broke; False if it was still good as far as known.
    """

    life: float
    failed: bool

    @classmethod
    def ended(cls, life: float, reason: str) -> "LifeRecord":
        """A life with the reason it ended, one of END_REASONS.

        Raises: BadInput for another reason.
        """
        if reason not in END_REASONS:
            raise BadInput(f"reason must be one of {', '.join(END_REASONS)}, but got {reason!r}")
        return cls(life, END_REASONS[reason])


@dataclass(frozen=True)
class Prior:
    """What the shop expects of a cutter before its own records tell.

    Args:
        nominal_life: mean life expected, in the life unit.
        shape: Weibull shape expected.
        low, high: mean lives of a bad and a good shop, holding nine in ten; default a factor of
            three from low to high, the usual spread between two shops (common practice, no source).
        source: where the numbers come from, in words shown to people.
    Raises: OutOfRange unless 0 < low <= nominal_life <= high and low < high.
    """

    nominal_life: float
    shape: float
    low: float | None = None
    high: float | None = None
    source: str = "stated by the shop"

    def __post_init__(self) -> None:
        Weibull(self.shape, self.nominal_life)
        low, high = self.range
        holds = isfinite(high) and 0 < low <= self.nominal_life <= high and low < high
        require(holds, "low and high", f"enclose the life {self.nominal_life:g}", (low, high))

    @property
    def range(self) -> tuple[float, float]:
        low = self.nominal_life / sqrt(3) if self.low is None else self.low
        high = self.nominal_life * sqrt(3) if self.high is None else self.high
        return low, high

    @property
    def weight(self) -> float:
        """How many failures seen the stated life counts for: the narrower its range, the more."""
        low, high = self.range
        # Variance of ln(scale ** -shape), which for a gamma variable of order w is close to
        # 1 / w + 1 / (2 w**2), the head of the trigamma series.
        variance = (self.shape * log(high / low) / (2 * NINE_IN_TEN)) ** 2
        return float(np.clip((1 + sqrt(1 + 2 * variance)) / (2 * variance), 0.25, 10.0))

    @property
    def expectation(self) -> Expectation:
        scale = self.nominal_life / gamma(1 + 1 / self.shape)
        return Expectation(self.shape, SHAPE_FACTOR, scale, self.weight)


@dataclass(frozen=True, eq=False)
class LifeModel:
    """Life of one kind of cutter in one kind of work.

    Args:
        weibull: best single estimate: maximum likelihood from ENOUGH_FAILURES failures on, below
            that the middle of the range given the expectation and the records.
        around: equally likely pairs of shape and scale; chances are averaged over them.
        failures, censored: lives used.
        from_expectation: True while an expectation takes part.
        words: how the estimate came about, for people.
    """

    weibull: Weibull
    around: WeibullRange = field(repr=False)
    failures: int
    censored: int
    from_expectation: bool
    words: str

    @property
    def shape_interval(self) -> tuple[float, float]:
        """Shapes that hold the true one nine times in ten."""
        return self.around.shape_interval(0.9)


@dataclass(frozen=True)
class Changes:
    """Changes during a job: expected number, number not exceeded 19 times in 20, chance of none."""

    expected: float
    p95: int
    chance_of_none: float
    count: ChangeCount = field(repr=False, compare=False)

    def spares(self, confidence: float) -> int:
        """Fewest new cutters beside the fitted one that see the job through this surely."""
        require(0 < confidence < 1, "confidence", "lie between 0 and 1", confidence)
        return 0 if self.chance_of_none >= confidence else max(1, self.count.at_most(confidence))


@dataclass(frozen=True)
class ChangePolicy:
    """When to change: at `age`, or on failure if None; `saving` is the share of cost saved.

    cost_rate, cost_rate_on_failure: money per unit of life at that age, and when each runs until it
    fails; one and the same where age is None.
    """

    age: float | None
    saving: float
    cost_rate: float
    cost_rate_on_failure: float
    words: str

    def saved_over(self, life: float) -> float:
        """Money that changing at `age` saves over so much life."""
        return (self.cost_rate_on_failure - self.cost_rate) * life


def life_model(records: Iterable[LifeRecord], prior: Prior | None = None) -> LifeModel:
    """Life of a cutter from its records, and from what is expected while failures are few.

    Args:
        records: every life of this cutter in this work, the one now fitted included.
        prior: stated life and shape; without it only the shape usual for cutters is assumed.
    Raises: BadInput for lives that cannot be used, and without a failure if no prior is stated.
    """
    lives = list(records)
    life, failed = [one.life for one in lives], [bool(one.failed) for one in lives]
    failures = sum(failed)
    counts = {"failures": failures, "censored": len(lives) - failures}
    if failures >= ENOUGH_FAILURES and _differ(lives):
        return LifeModel(
            fit(life, failed).weibull,
            weibull_range(life, failed),
            from_expectation=False,
            words=_counted(**counts) + ".",
            **counts,
        )
    around = weibull_range(life, failed, ANY_CUTTER if prior is None else prior.expectation)
    words = f"{_counted(**counts)}: {_why_expected(failures)}. {_expected(prior)}"
    return LifeModel(around.middle, around, from_expectation=True, words=words, **counts)


def survives(model: LifeModel, used: float, job: float) -> float:
    """Chance that the cutter, used so far for `used`, lasts the job, averaged over the range."""
    _check_use(used, job)
    return float(model.around.survival_chances(used, job).mean())


def survival_range(
    model: LifeModel, used: float, job: float, confidence: float = 0.9
) -> tuple[float, float]:
    """Lowest and highest chance of lasting the job that the few records allow."""
    _check_use(used, job)
    require(0 < confidence < 1, "confidence", "lie between 0 and 1", confidence)
    tail = (1 - confidence) / 2
    low, high = np.quantile(model.around.survival_chances(used, job), [tail, 1 - tail])
    return float(low), float(high)


def changes(model: LifeModel, used: float, job: float) -> Changes:
    """Changes to expect during a job, each cutter replaced as it fails."""
    count = _count(model, used, job)
    return Changes(count.expected, count.at_most(0.95), survives(model, used, job), count)


def spares_to_lay_out(model: LifeModel, used: float, job: float, confidence: float = 0.95) -> int:
    """Fewest new cutters beside the fitted one that see the job through with this confidence."""
    require(0 < confidence < 1, "confidence", "lie between 0 and 1", confidence)
    if survives(model, used, job) >= confidence:
        return 0
    return changes(model, used, job).spares(confidence)


def change_policy(model: LifeModel, cost_planned: float, cost_failure: float) -> ChangePolicy:
    """Whether to change at an age or to run until failure, and what that saves.

    While a shape of 1 lies in the interval, failures may well be chance breakage, which a planned
    change cannot prevent; then no age is given, but the words name the age that would pay if the
    likeliest shape were true.

    Args:
        cost_planned: a change made in time (cutter, minutes).
        cost_failure: a change after failure (cutter, minutes, spoilt pieces).
    """
    best = weibull_replacement_age(model.weibull, cost_planned, cost_failure)
    low, high = model.shape_interval
    interval = f"the shape lies between {low:.3g} and {high:.3g}"
    on_failure = best.cost_rate_on_failure
    run_out = (None, 0.0, on_failure, on_failure)
    if best.age is None:
        return ChangePolicy(
            *run_out, f"{ON_FAILURE}: a planned change would not cost less ({interval})."
        )
    gain = f"changing at {best.age:.3g} saves about {100 * best.saving:.0f}\u202f% against running to failure"
    if low <= 1:
        return ChangePolicy(
            *run_out,
            f"{ON_FAILURE}: {interval}, so it may break by chance, and changing early would throw "
            f"away good cutters. If it wears (likeliest shape {model.weibull.shape:.2g}), {gain}; "
            "more recorded lives will tell.",
        )
    rests = " It rests on the expected life as well as on records." * model.from_expectation
    words = f"{gain[0].upper()}{gain[1:]} ({interval}).{rests}"
    return ChangePolicy(best.age, best.saving, best.cost_rate, on_failure, words)


def _count(model: LifeModel, used: float, job: float) -> ChangeCount:
    _check_use(used, job)
    return weibull_changes(*model.around.few_pairs(), used, job)


def _differ(lives: Sequence[LifeRecord]) -> bool:
    return min(one.life for one in lives if one.failed) < max(one.life for one in lives)


def _counted(failures: int, censored: int) -> str:
    seen = {0: "No failure seen", 1: "1 failure seen"}.get(failures, f"{failures} failures seen")
    good = "cutter was" if censored == 1 else "cutters were"
    return seen if censored == 0 else f"{seen}, {censored} {good} still good when last noted"


def _why_expected(failures: int) -> str:
    if failures >= ENOUGH_FAILURES:
        return "they all ended at the longest life, so a fit is not possible"
    return f"fewer than {ENOUGH_FAILURES} are too few for a fit of their own"


def _expected(prior: Prior | None) -> str:
    if prior is None:
        return "Only the spread usual for cutters is assumed; expect wide ranges."
    low, high = prior.range
    return (
        f"The expected life of {prior.nominal_life:g} ({low:.3g} to {high:.3g}; {prior.source}) "
        f"counts like {prior.weight:.1f} failures and is moved by the records."
    )


def _check_use(used: float, job: float) -> None:
    for name, value in (("used", used), ("job", job)):
        require(isfinite(value) and value >= 0, name, "be a number of 0 or more", value)
