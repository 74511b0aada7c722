"""Many series at once: class, model, mean and quantiles of the next periods' demand of each."""

from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd

from forecasting.classify import demand_classes, whole_numbers
from forecasting.errors import require
from forecasting.gamma_sums import dispersion_of, gamma_quantiles
from forecasting.model_choice import FEWEST_PERIODS
from forecasting.periodic_demand import FREQUENCIES, PeriodicDemand, periodic_demand
from forecasting.point_models import LEVEL_MODELS, expected_sums
from forecasting.series_lessons import (
    SHARED,
    Lessons,
    Survey,
    draw_lessons,
    lesson_rows,
    periods_since_first,
    survey,
    unbroken,
)
from forecasting.shared_counts import shared_quantiles

__all__ = [
    "forecast_many",
    "forecast_table",
    "quantile_column",
    "require_scope",
    "survey_table",
    "whole_result",
]

AT_ONCE = 5000
USUAL_PERIODS = 2
FEW = "own and usual demand averaged"
NOTHING = "no demand on record"


def forecast_many(
    demand: pd.DataFrame,
    *,
    periods_ahead: int,
    chances: Sequence[float],
    freq: str = "MS",
    stock_outs: pd.DataFrame | None = None,
    models: Sequence[str] = LEVEL_MODELS,
    windows: int = 3,
) -> pd.DataFrame:
    """Forecast of every series of a table: one row each, ascending by name, every number finite.

    The model of each demand class is the one whose quantiles of the sum over periods_ahead were
    best on past origins, pooled over the series of the class, 2,000 of them evenly chosen where there
    are more; season and trend enter where they
    won by more than chance. Quantiles come from counts shared across the series, or from a gamma
    distribution around the model, whichever foretold the class better. Series of fewer than two
    demands or eight known periods lean on what is usual in the table, and say so.
    Args: windows: past origins, periods_ahead apart. The others as in periodic_demand.
    Shapes: demand has series_id, period, qty; the result has series_id, demand_class, model,
        spread, periods_known, demands, mean (a period), one column per chance (q80: the sum over
        periods_ahead stays within it 4 times in 5) and note; its attrs["scores"] hold the loss of
        every model by demand class (see Choice).
    Raises: BadTable, OutOfRange.
    """
    require_scope(periods_ahead, chances, windows)
    table, season = periodic_demand(demand, freq, stock_outs), FREQUENCIES[freq]
    surveyed = survey_table(table, periods_ahead, windows)
    rows = lesson_rows(surveyed, periods_ahead, windows, season)
    taught = table.of(rows.all)
    lessons = draw_lessons(rows, taught.qty, models, periods_ahead, windows, season)
    return whole_result([forecast_table(table, lessons, periods_ahead, chances, season)], lessons)


def whole_result(parts: Sequence[pd.DataFrame], lessons: Lessons) -> pd.DataFrame:
    """The parts as one table that carries the scores of every class's models."""
    result = pd.concat(parts, ignore_index=True)
    result.attrs["scores"] = {name: choice.scores for name, choice in lessons.choices.items()}
    return result


def survey_table(table: PeriodicDemand, periods_ahead: int, windows: int) -> Survey:
    """First look at a whole table or a part of it."""
    parts = [survey(part, periods_ahead, windows) for part in _parts(table)]
    return Survey.joined(parts)


def forecast_table(
    table: PeriodicDemand,
    lessons: Lessons,
    periods_ahead: int,
    chances: Sequence[float],
    season: int,
) -> pd.DataFrame:
    """Result for a whole table or a part of it, by lessons drawn from the whole."""
    parts = [
        _forecast_part(part, lessons, periods_ahead, chances, season) for part in _parts(table)
    ]
    return pd.concat(parts, ignore_index=True)


def _forecast_part(
    table: PeriodicDemand,
    lessons: Lessons,
    periods_ahead: int,
    chances: Sequence[float],
    season: int,
) -> pd.DataFrame:
    qty = table.qty
    classes, known, demands = (
        demand_classes(qty),
        np.isfinite(qty).sum(axis=1),
        (qty > 0).sum(axis=1),
    )
    few = (known < FEWEST_PERIODS) | (demands < 2)
    model, mean = _means(qty, classes, few, lessons, periods_ahead, season)
    spread, quantiles = _quantiles(qty, classes, few, mean, lessons, periods_ahead, chances)
    quiet = demands == 0
    quantiles[quiet] = 0.0
    model[quiet], spread[quiet] = NOTHING, NOTHING
    columns = {
        "series_id": table.series,
        "demand_class": classes,
        "model": model,
        "spread": spread,
        "periods_known": known,
        "demands": demands,
        "mean": mean / periods_ahead,
    }
    columns |= {
        quantile_column(chance): quantiles[:, place] for place, chance in enumerate(chances)
    }
    compared = np.isin(classes, list(lessons.choices))
    return pd.DataFrame({**columns, "note": _notes(qty, known, demands, few, compared)})


def require_scope(periods_ahead: int, chances: Sequence[float], windows: int) -> None:
    """Refuse what cannot be forecast. Raises: OutOfRange."""
    require(periods_ahead >= 1, "periods_ahead", "be 1 or more", periods_ahead)
    require(windows >= 1, "windows", "be 1 or more", windows)
    for chance in chances:
        require(0 < chance < 1, "chance", "lie between 0 and 1 (write 0.95 for 95 %)", chance)


def quantile_column(chance: float) -> str:
    """q05, q80, q99.5."""
    percent = f"{100 * chance:.6g}"
    return f"q{'0' if 100 * chance < 10 else ''}{percent}"


def _parts(table: PeriodicDemand) -> Iterator[PeriodicDemand]:
    """A few thousand series at a time, so that memory does not grow; one part at least."""
    for start in range(0, max(len(table.series), 1), AT_ONCE):
        yield table.of(slice(start, start + AT_ONCE))


def _means(
    qty: np.ndarray,
    classes: np.ndarray,
    few: np.ndarray,
    lessons: Lessons,
    periods_ahead: int,
    season: int,
) -> tuple[np.ndarray, np.ndarray]:
    """Model of every series, and its expected sum over the periods ahead."""
    model = np.full(len(qty), FEW, dtype=object)
    two_years = unbroken(qty) >= 2 * season
    for name in set(classes[~few].tolist()):
        choice, of_class = lessons.of(name), ~few & (classes == name)
        model[of_class] = np.where(two_years[of_class], choice.model, choice.level_model)
    mean = np.zeros(len(qty))
    mean[few] = periods_ahead * _usual_mean(qty[few], lessons.busy)
    for name in set(model[~few]):
        rows = np.flatnonzero(~few & (model == name))
        mean[rows] = expected_sums(qty[rows], [name], periods_ahead, season)[:, 0]
    return model, mean


def _usual_mean(qty: np.ndarray, busy: float) -> np.ndarray:
    """Mean of the own periods and two usual ones: its own size, as often as others are asked for."""
    demands = (qty > 0).sum(axis=1)
    total, known = np.nansum(qty, axis=1), np.isfinite(qty).sum(axis=1)
    usual = busy * total / np.maximum(demands, 1)
    return (total + USUAL_PERIODS * usual) / (known + USUAL_PERIODS)


def _quantiles(
    qty: np.ndarray,
    classes: np.ndarray,
    few: np.ndarray,
    mean: np.ndarray,
    lessons: Lessons,
    periods_ahead: int,
    chances: Sequence[float],
) -> tuple[np.ndarray, np.ndarray]:
    """Where the quantiles of every series come from, and the quantiles."""
    spread = np.full(len(qty), SHARED, dtype=object)
    factor = np.ones(len(qty))
    for name in set(classes[~few].tolist()):
        choice, of_class = lessons.of(name), ~few & (classes == name)
        spread[of_class], factor[of_class] = choice.spread, choice.spread_factor
    quantiles = np.zeros((len(qty), len(chances)))
    shared = spread == SHARED
    quantiles[shared] = shared_quantiles(qty[shared], periods_ahead, chances, lessons.habits)
    own, whole = qty[~shared], whole_numbers(qty[~shared])
    dispersion = dispersion_of(own) * factor[~shared]
    for place, chance in enumerate(chances):
        quantile = gamma_quantiles(mean[~shared], dispersion, chance)
        quantiles[~shared, place] = np.where(whole, np.ceil(quantile - 1e-9), quantile)
    return spread, quantiles


def _notes(
    qty: np.ndarray, known: np.ndarray, demands: np.ndarray, few: np.ndarray, compared: np.ndarray
) -> np.ndarray:
    unknown = periods_since_first(qty) - known
    notes = np.full(len(qty), "", dtype=object)
    for row in np.flatnonzero(few | (unknown > 0) | ~compared):
        figures = int(known[row]), int(demands[row]), bool(few[row]), int(unknown[row])
        notes[row] = _note(*figures, bool(compared[row]))
    return notes


def _note(known: int, demands: int, few: bool, unknown: int, compared: bool) -> str:
    words = []
    if not known:
        words.append("no period known: nothing is forecast")
    elif not demands:
        words.append(f"never asked for in {_periods(known)}: nothing is forecast")
    elif few:
        times = "one demand" if demands == 1 else f"{demands} demands"
        words.append(f"only {times} in {_periods(known)}: leans on what is usual in this table")
    elif not compared:
        words.append("too short a past to compare models on")
    if unknown:
        words.append(f"{_periods(unknown)} not known, passed over")
    return "; ".join(words)


def _periods(count: int) -> str:
    return "1 period" if count == 1 else f"{count} periods"
