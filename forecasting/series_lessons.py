"""What many series teach each other: the model of each class, its spread, the usual counts."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from forecasting.accuracy import pinball_loss
from forecasting.classify import TOO_FEW, demand_classes
from forecasting.count_demand import CountHabits
from forecasting.model_choice import (
    JUDGED_CHANCES,
    Judged,
    judge,
    judgeable,
    judged_rows,
    origins,
    pays,
    series_variance,
)
from forecasting.periodic_demand import PeriodicDemand
from forecasting.point_models import SEASON_AND_TREND_MODELS, SMOOTHED
from forecasting.shared_counts import learn_shared_counts, shared_quantiles

__all__ = [
    "SHARED",
    "Choice",
    "LessonRows",
    "Lessons",
    "Survey",
    "draw_lessons",
    "lesson_rows",
    "periods_since_first",
    "survey",
    "unbroken",
]

SHARED, AROUND_MODEL = "counts shared across series", "gamma around the model"
STEADY_CLASSES = ("smooth", "erratic")
"""Classes whose season and trend can be told from chance."""
FOR_HABITS, FOR_MODELS, FOR_SPREAD, FOR_SEASON = 3000, 2000, 250, 100
"""Series that teach what is usual; of each class, its model and its spread; of each steady class,
season. More of them would change no choice that matters, and take their time."""


NOTHING = np.zeros(0, dtype=int)


@dataclass(frozen=True)
class Choice:
    """What a class is forecast by.

    model: the best; level_model: the best without season and trend, for series that can't show
    them. scores: loss of each (see Judged), of season and trend on a sample, brought to the scale
    of the others. spread: where quantiles come from; spread_factor widens the gamma distribution.
    """

    model: str
    level_model: str
    scores: dict[str, float]
    spread: str
    spread_factor: float


UNTRIED = Choice(SMOOTHED, SMOOTHED, {}, SHARED, 1.0)
"""For a class of which no series is long enough to compare models on."""


@dataclass(frozen=True)
class Lessons:
    """choices: by demand class. habits: usual counts. busy: share of known periods with demand."""

    choices: dict[str, Choice]
    habits: CountHabits
    busy: float

    def of(self, demand_class: str) -> Choice:
        return self.choices.get(demand_class, UNTRIED)


@dataclass(frozen=True)
class Survey:
    """First look at many series: class, periods known up to the end without a hole, and whether
    models can be compared on its past."""

    series: np.ndarray
    classes: np.ndarray
    run: np.ndarray
    judgeable: np.ndarray

    @classmethod
    def joined(cls, parts: Sequence["Survey"]) -> "Survey":
        names = ("series", "classes", "run", "judgeable")
        return cls(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


@dataclass(frozen=True)
class LessonRows:
    """Places of the series that teach, spread evenly over all; `all` holds every one, ascending."""

    habits: np.ndarray
    models: dict[str, np.ndarray]
    spread: dict[str, np.ndarray]
    season: dict[str, np.ndarray]

    @property
    def all(self) -> np.ndarray:
        by_class = (self.models, self.spread, self.season)
        places = [rows for of_class in by_class for rows in of_class.values()]
        return np.unique(np.concatenate([self.habits, *places]))


def survey(table: PeriodicDemand, periods_ahead: int, windows: int) -> Survey:
    """Classes of some series, and which of them can be judged."""
    qty = table.qty
    known_at = origins(qty.shape[1], periods_ahead, windows, periods_ahead)
    told = judgeable(qty, periods_ahead, known_at)
    return Survey(table.series, demand_classes(qty), unbroken(qty), told)


def unbroken(qty: np.ndarray) -> np.ndarray:
    """Known periods of every series up to the last; 0 when one after the first is not known."""
    known = np.isfinite(qty).sum(axis=1)
    return np.where(known == periods_since_first(qty), known, 0)


def periods_since_first(qty: np.ndarray) -> np.ndarray:
    """Periods from the first one known of every series to the last of the table."""
    return (np.cumsum(np.isfinite(qty), axis=1) > 0).sum(axis=1)


def lesson_rows(surveyed: Survey, periods_ahead: int, windows: int, season: int) -> LessonRows:
    """Which series teach: an even share of all, of each class, of those with two years to compare."""
    told = surveyed.judgeable
    two_years = surveyed.run >= 2 * season + periods_ahead * windows
    models, spread, seasonal = {}, {}, {}
    for name in sorted({*surveyed.classes[told].tolist()} - {TOO_FEW}):
        of_class = told & (surveyed.classes == name)
        models[name] = _even_share(of_class, FOR_MODELS)
        spread[name] = _even_share(of_class, FOR_SPREAD)
        if name in STEADY_CLASSES:
            seasonal[name] = _even_share(of_class & two_years, FOR_SEASON)
    every = np.ones(len(told), dtype=bool)
    return LessonRows(_even_share(every, FOR_HABITS), models, spread, seasonal)


def draw_lessons(
    rows: LessonRows,
    qty: np.ndarray,
    models: Sequence[str],
    periods_ahead: int,
    windows: int,
    season: int,
) -> Lessons:
    """The choice for each class, and what is usual.

    Shapes: qty holds the series rows.all, in that order.
    """
    known_at = origins(qty.shape[1], periods_ahead, windows, periods_ahead)
    every = rows.all

    def taught(places: np.ndarray) -> np.ndarray:
        return qty[np.searchsorted(every, places)]

    usual = taught(rows.habits)
    known = np.isfinite(usual).sum()
    habits = learn_shared_counts(usual, periods_ahead)
    compared = np.unique(np.concatenate([NOTHING, *rows.spread.values()]))
    shared = _shared_losses(taught(compared), periods_ahead, known_at)
    choices = {}
    for name, sample in rows.spread.items():
        choice = _best_level(judge(taught(rows.models[name]), models, periods_ahead, known_at))
        moving = taught(rows.season.get(name, NOTHING))
        if moving.size:
            plain = judge(moving, models, periods_ahead, known_at)
            richer = judge(moving, SEASON_AND_TREND_MODELS, periods_ahead, known_at, season)
            choice = _with_season_and_trend(choice, plain, richer)
        own = taught(sample)
        factor = choice.spread_factor
        around = judge(own, [choice.model], periods_ahead, known_at, season, factor).losses
        by_counts = shared[np.searchsorted(compared, sample)]
        choices[name] = _with_spread(choice, around[:, :, 0], by_counts)
    return Lessons(choices, habits, float((usual > 0).sum() / max(known, 1)))


def _even_share(wanted: np.ndarray, most: int) -> np.ndarray:
    places = np.flatnonzero(wanted)
    return places[:: -(-len(places) // most) or 1]


def _best_level(judged: Judged) -> Choice:
    every = np.arange(len(judged.losses))
    scores = judged.scores(every)
    best = min(scores, key=lambda model: scores[model])
    return Choice(best, best, scores, SHARED, judged.spread_factor(every, best))


def _with_season_and_trend(choice: Choice, plain: Judged, richer: Judged) -> Choice:
    """The choice, changed when a model of season or trend was better by more than chance."""
    level = plain.losses[:, :, plain.models.index(choice.level_model)]
    scale = choice.scores[choice.level_model] / np.nanmean(level)
    scores = dict(choice.scores)
    best, model = np.nanmean(level), choice.model
    for column, name in enumerate(richer.models):
        losses = richer.losses[:, :, column]
        mean = float(np.nanmean(losses))
        scores[name] = mean * scale
        if mean < best and pays(losses, level):
            best, model = mean, name
    judged = plain if model == choice.model else richer
    factor = judged.spread_factor(np.arange(len(level)), model)
    return replace(choice, model=model, scores=scores, spread_factor=factor)


def _with_spread(choice: Choice, around: np.ndarray, shared: np.ndarray) -> Choice:
    """The choice with the gamma distribution where it lost less than shared counts.

    Shared counts know no season and no trend: where they aren't beaten, neither pays.
    """
    if pays(around, shared):
        return replace(choice, spread=AROUND_MODEL)
    return replace(choice, model=choice.level_model)


def _shared_losses(qty: np.ndarray, periods_ahead: int, known_at: Sequence[int]) -> np.ndarray:
    """Losses of the shared counts' quantiles, as those of a model; (series, origins)."""
    unit = np.sqrt(series_variance(qty) * periods_ahead)
    losses = np.full((len(qty), len(known_at)), np.nan)
    for place, known in enumerate(known_at):
        past, actual = qty[:, :known], qty[:, known : known + periods_ahead].sum(axis=1)
        rows = judged_rows(past, np.isfinite(actual))
        if rows.size:
            habits = learn_shared_counts(past[rows], periods_ahead)
            quantiles = shared_quantiles(past[rows], periods_ahead, JUDGED_CHANCES, habits)
            lost = [
                pinball_loss(actual[rows], quantile, chance)
                for quantile, chance in zip(quantiles.T, JUDGED_CHANCES, strict=True)
            ]
            losses[rows, place] = sum(lost) / unit[rows]
    return losses
