"""Any demand table played again: our levels and those of textbooks, at every setting of a knob."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from forecasting.demand_series import DemandSeries
from forecasting.errors import BadInput, require
from forecasting.exchange_curve import CurvePoint, ExchangeCurve
from forecasting.own_curves import ALLOCATED, OURS, own_curves
from forecasting.rival_rules import mean_and_deviation, min_max, smoothed_normal
from forecasting.table_game import LevelsOf, TableGame

__all__ = ["ALLOCATED", "OURS", "TableReplay", "replay_table"]

FACTORS = tuple(np.round(np.arange(-0.5, 6.01, 0.25), 2))
TIMES = tuple(np.round(np.geomspace(0.25, 8, 26), 3))
SMOOTHINGS = (0.05, 0.1, 0.2, 0.3)
ERROR_SMOOTHINGS = (None, 0.05, 0.1)
BOOK = (0.1, None)
JUDGED_AT = (0.97, 0.95, 0.9, 0.85, 0.8)


@dataclass(frozen=True)
class TableReplay:
    """The periods after the known ones, played with demand that waits when the shelf is empty.

    curves: our two first. series: how many were played; left_out: how many were not, by the reason.
    in_money: stock is in money (the table had unit costs), else in units. demand: per period, in
    the same. fill is the share of units (of money) served at once, over all series together.
    """

    curves: tuple[ExchangeCurve, ...]
    series: int
    left_out: dict[str, int]
    periods: int
    known: int
    lead: int
    review: int
    in_money: bool
    demand: float

    @property
    def played(self) -> int:
        return self.periods - self.known


def replay_table(
    table: DemandSeries, *, lead: int, review: int = 1, known: int | None = None
) -> TableReplay:
    """Play every rule over the periods after the first `known` (two thirds without it).

    Every rule sees only what had happened by the day it orders. The last lead + review known
    periods are played too but not counted, so that each rule begins with a stock and orders of its
    own. Series with an unknown period among those played, or with none known before, are left out;
    periods not known before that are passed over.
    Raises: BadInput, OutOfRange.
    """
    periods = table.demand.shape[1]
    known = periods * 2 // 3 if known is None else known
    _check(periods, known, lead, review)
    played_from = known - min(lead + review, known - 1)
    left_out, kept = _left_out(table.demand, played_from)
    if not kept.any():
        raise BadInput(
            "No series can be played: none is known both before and throughout the periods to be "
            f"played, {table.periods[played_from]} to {table.periods[-1]}. Give a longer table or "
            "another number of known periods."
        )
    demand = table.demand[kept]
    worth = np.ones(len(demand)) if table.unit_cost is None else table.unit_cost[kept]
    game = TableGame(demand, worth, lead, review, known, played_from)
    return TableReplay(
        curves=_curves(game),
        series=len(demand),
        left_out=left_out,
        periods=periods,
        known=known,
        lead=lead,
        review=review,
        in_money=table.unit_cost is not None,
        demand=float(worth @ demand[:, known:].mean(axis=1)),
    )


def _check(periods: int, known: int, lead: int, review: int) -> None:
    require(lead >= 0, "lead time", "be 0 periods or more", lead)
    require(review >= 1, "review", "be 1 period or more", review)
    if periods < 3:
        raise BadInput(
            f"The table spans {periods} period(s); to learn and to play takes 3 or more."
        )
    require(2 <= known < periods, "known", f"be 2 to {periods - 1} of {periods} periods", known)


def _left_out(demand: np.ndarray, played_from: int) -> tuple[dict[str, int], np.ndarray]:
    unknown = np.isnan(demand)
    new = unknown[:, :played_from].all(axis=1)
    holes = unknown[:, played_from:].any(axis=1) & ~new
    reasons = {
        "nothing known before the periods played": int(new.sum()),
        "a period played is not known": int(holes.sum()),
    }
    return {reason: count for reason, count in reasons.items() if count}, ~(new | holes)


def _curves(game: TableGame) -> tuple[ExchangeCurve, ...]:
    smoothed = {pair: _smoothed(game, *pair) for pair in product(SMOOTHINGS, ERROR_SMOOTHINGS)}
    best = _least_stock(list(smoothed.values()))
    return (
        *own_curves(game),
        replace(best, rule=f"{best.rule} (the best of {len(smoothed)}, in hindsight)"),
        smoothed[BOOK],
        _curve(
            game,
            "normal, mean and deviation of all history",
            "z",
            FACTORS,
            lambda history: mean_and_deviation(history, game.lasts, FACTORS),
        ),
        _curve(
            game,
            "minimum of so many times the usual use",
            "times",
            TIMES,
            lambda history: min_max(history, game.lasts, TIMES),
        ),
    )


def _smoothed(game: TableGame, smoothing: float, error_smoothing: float | None) -> ExchangeCurve:
    errors = "errors averaged" if error_smoothing is None else f"errors {error_smoothing:g}"
    return _curve(
        game,
        f"normal, level smoothed by {smoothing:g}, {errors}",
        "z",
        FACTORS,
        lambda history: smoothed_normal(history, game.lasts, FACTORS, smoothing, error_smoothing),
    )


def _curve(
    game: TableGame, rule: str, knob: str, settings: Sequence[float], levels_of: LevelsOf
) -> ExchangeCurve:
    fills, stocks = game.fills_and_stocks(game.play(game.levels(levels_of)))
    points = zip(settings, fills, stocks, strict=True)
    return ExchangeCurve(rule, knob, tuple(CurvePoint(*map(float, point)) for point in points))


def _least_stock(curves: Sequence[ExchangeCurve]) -> ExchangeCurve:
    """The curve with the least stock at the highest fill that any of them reached."""
    for fill in JUDGED_AT:
        stocks = [(curve.stock_at(fill), curve) for curve in curves]
        reached = [(stock, curve) for stock, curve in stocks if stock is not None]
        if reached:
            return min(reached, key=lambda pair: pair[0])[1]
    return curves[0]
