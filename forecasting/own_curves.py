"""Our own two rules played over a demand table, and the fill they show beforehand."""

from itertools import pairwise

import numpy as np

from forecasting.count_demand import CountHabits, learn_habits
from forecasting.exchange_curve import CurvePoint, ExchangeCurve
from forecasting.fill_allocation import levels_for_total_fill
from forecasting.fill_correction import corrected_fill, error_of_fill
from forecasting.ordering_rule import Levels
from forecasting.sum_quantiles import expected_demand, expected_fill, quantiles_of_sums
from forecasting.table_game import TableGame

__all__ = ["ALLOCATED", "OURS", "own_curves"]

OURS = "ours: chance of lasting"
CHANCES = (
    *(0.4, 0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.88, 0.9, 0.92, 0.94, 0.95, 0.96, 0.97, 0.975, 0.98),
    *(0.985, 0.99, 0.9925, 0.995, 0.9965, 0.998, 0.999, 0.9995, 0.9998),
)
ALLOCATED = "ours: share of all demand together"
SHARES = (
    *(0.3, 0.4, 0.5, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.88, 0.9, 0.92, 0.94, 0.95, 0.96, 0.97),
    *(0.975, 0.98, 0.985, 0.99, 0.995, 0.998, 0.999),
)
UNEVEN = 15.0
LOTS_UNEVEN = 5.0
"""Counts of variance over mean above 15 are counted in lots that bring it down to 5."""


def own_curves(game: TableGame) -> tuple[ExchangeCurve, ExchangeCurve]:
    """The same chance for every series, and the least stock for a share of all demand.

    The first orders up to the quantile of demand until the delivery after the next look, the second
    up to what forecasting.fill_allocation gives each series. The fill shown beforehand is that of
    what stands on the shelf and on order at the first look counted, corrected by the last known
    periods: levels fall while nothing is asked for, and what they had brought here stays.
    """
    expected, fills, stocks, _ = _foretold(game)
    past = game.before()
    if past is not None:
        foretold, came, _, error = _foretold(past)
        expected = corrected_fill(expected, foretold, came, error)
    points = [
        CurvePoint(*map(float, point))
        for point in zip((*CHANCES, *SHARES), fills, stocks, expected, strict=True)
    ]
    return (
        ExchangeCurve(OURS, "chance", tuple(points[: len(CHANCES)])),
        ExchangeCurve(ALLOCATED, "share", tuple(points[len(CHANCES) :])),
    )


def _foretold(game: TableGame) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Fill expected at the first look counted, fill that came, mean stock, error of the fill.

    One entry per chance and share. What the series have in common is learned again as soon as
    another stretch of lead time and review is over.
    """
    lot = _lots(game.demand[:, : game.played_from])
    worth = lot * game.worth
    learned: dict[int, CountHabits] = {}

    def habits(counts: np.ndarray) -> CountHabits:
        stretch = (counts.shape[1] - game.played_from) // game.lasts
        if stretch not in learned:
            learned[stretch] = learn_habits(counts, game.lasts)
        return learned[stretch]

    def own_levels(history: np.ndarray) -> Levels:
        counts = np.round(history / lot[:, None])
        usual = habits(counts)
        alike = quantiles_of_sums(counts, game.lasts, CHANCES, usual)
        terms = {"lead": game.lead, "review": game.review, "habits": usual}
        allocated = levels_for_total_fill(counts, SHARES, worth=worth, cost=worth, **terms)
        level = np.hstack([alike, allocated]).T * lot
        return Levels(level, level)

    levels = game.levels(own_levels)
    played = game.play(levels)
    error = error_of_fill(played.served_at_once * game.worth, played.demand * game.worth)
    return _expected(game, levels, lot), *game.fills_and_stocks(played), error


def _lots(history: np.ndarray) -> np.ndarray:
    """Amounts to count demand in: 1, or more where single amounts are large or not whole."""
    known = ~np.isnan(history)
    amounts = np.where(known, history, 0.0)
    mean = amounts.sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    spread = (np.where(known, history - mean[:, None], 0.0) ** 2).sum(axis=1)
    uneven = spread / np.maximum(known.sum(axis=1), 1) / np.where(mean > 0, mean, 1.0)
    broken = (amounts % 1 != 0).any(axis=1)
    return np.where((uneven > UNEVEN) | (broken & (uneven > 0)), uneven / LOTS_UNEVEN, 1.0)


def _expected(game: TableGame, levels: list[Levels], lot: np.ndarray) -> np.ndarray:
    """Fill foretold for the periods counted, at the first look of them, per setting."""
    look = max(look for look in game.looks if look <= game.known)
    counts = np.round(game.demand[:, :look] / lot[:, None])
    stands = _position(game, levels, look) / lot
    habits = learn_habits(counts, game.lasts)
    fill = expected_fill(counts, stands.T, lead=game.lead, review=game.review, habits=habits)
    weight = expected_demand(counts, 1, habits) * lot * game.worth
    return (weight @ fill) / max(weight.sum(), 1e-12)


def _position(game: TableGame, levels: list[Levels], look: int) -> np.ndarray:
    """On hand and on order after ordering at a look, (settings, series)."""
    position = levels[0].order_up_to
    for before, now in pairwise(game.looks[: game.looks.index(look) + 1]):
        left = position - game.demand[:, before:now].sum(axis=1)
        position = np.maximum(left, levels[now - game.played_from].order_up_to)
    return position
