"""Any demand table played again: our levels and those of textbooks, at every setting of a knob."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from forecasting.count_demand import CountHabits, learn_habits
from forecasting.demand_series import DemandSeries
from forecasting.errors import BadInput, require
from forecasting.exchange_curve import CurvePoint, ExchangeCurve
from forecasting.fill_correction import corrected_fill, error_of_fill
from forecasting.ordering_rule import Levels, PlayedMany, play_many
from forecasting.rival_rules import mean_and_deviation, min_max, smoothed_normal
from forecasting.sum_quantiles import expected_demand, expected_fill, quantiles_of_sums

__all__ = ["OURS", "TableReplay", "replay_table"]

OURS = "ours: chance of lasting"
CHANCES = (
    *(0.4, 0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.88, 0.9, 0.92, 0.94, 0.95, 0.96, 0.97, 0.975, 0.98),
    *(0.985, 0.99, 0.9925, 0.995, 0.9965, 0.998, 0.999, 0.9995, 0.9998),
)
FACTORS = tuple(np.round(np.arange(-0.5, 6.01, 0.25), 2))
TIMES = tuple(np.round(np.geomspace(0.25, 8, 26), 3))
SMOOTHINGS = (0.05, 0.1, 0.2, 0.3)
ERROR_SMOOTHINGS = (None, 0.05, 0.1)
BOOK = (0.1, None)
JUDGED_AT = (0.97, 0.95, 0.9, 0.85, 0.8)
UNEVEN = 15.0
LOTS_UNEVEN = 5.0
"""Counts of variance over mean above 15 are counted in lots that bring it down to 5."""

LevelsOf = Callable[[np.ndarray], Levels]


@dataclass(frozen=True)
class TableReplay:
    """The periods after the known ones, played with demand that waits when the shelf is empty.

    curves: ours first. series: how many were played; left_out: how many were not, by the reason.
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
    game = _Game(demand, worth, lead, review, known, played_from)
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


@dataclass(frozen=True)
class _Game:
    """What all rules share: demand (series, periods), worth of a unit, terms."""

    demand: np.ndarray
    worth: np.ndarray
    lead: int
    review: int
    known: int
    played_from: int

    @property
    def lasts(self) -> int:
        return self.lead + self.review

    def before(self) -> "_Game | None":
        """The same played over the last known periods; None where they are too few to judge by."""
        stretch = min(self.demand.shape[1] - self.known, self.known // 3)
        known = self.known - stretch
        played_from = known - self.lasts
        if min(stretch, played_from) < self.lasts:
            return None
        demand = self.demand[:, : self.known]
        unknown = np.isnan(demand)
        kept = ~(unknown[:, played_from:].any(axis=1) | unknown[:, :played_from].all(axis=1))
        if not demand[kept, known:].any():
            return None
        return _Game(demand[kept], self.worth[kept], self.lead, self.review, known, played_from)

    @property
    def looks(self) -> range:
        """Periods before which a rule may order."""
        return range(self.played_from, self.demand.shape[1], self.review)

    def levels(self, rule: LevelsOf) -> list[Levels]:
        """What the rule asks for in each period played, from what was known at its last look."""
        whole = bool((np.mod(np.nan_to_num(self.demand), 1) == 0).all())
        seen = []
        for look in self.looks:
            level = rule(self.demand[:, :look])
            rounded = _rounded_up(level) if whole else level
            seen += [rounded] * min(self.review, self.demand.shape[1] - look)
        return seen

    def play(self, levels: list[Levels]) -> PlayedMany:
        return play_many(
            self.demand[:, self.played_from :],
            levels,
            start=levels[0].order_up_to,
            lead=self.lead,
            review=self.review,
            not_counted=self.known - self.played_from,
        )

    def fills_and_stocks(self, played: PlayedMany) -> tuple[np.ndarray, np.ndarray]:
        asked = played.demand @ self.worth
        fills = np.where(
            asked > 0, played.served_at_once @ self.worth / np.maximum(asked, 1e-12), 1
        )
        return fills, played.mean_stock @ self.worth


def _rounded_up(level: Levels) -> Levels:
    up_to = np.ceil(level.order_up_to - 1e-9)
    if level.reorder_point is level.order_up_to:
        return Levels(up_to, up_to)
    return Levels(np.ceil(level.reorder_point - 1e-9), up_to)


def _curves(game: _Game) -> tuple[ExchangeCurve, ...]:
    smoothed = {pair: _smoothed(game, *pair) for pair in product(SMOOTHINGS, ERROR_SMOOTHINGS)}
    best = _least_stock(list(smoothed.values()))
    return (
        _ours(game),
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


def _smoothed(game: _Game, smoothing: float, error_smoothing: float | None) -> ExchangeCurve:
    errors = "errors averaged" if error_smoothing is None else f"errors {error_smoothing:g}"
    return _curve(
        game,
        f"normal, level smoothed by {smoothing:g}, {errors}",
        "z",
        FACTORS,
        lambda history: smoothed_normal(history, game.lasts, FACTORS, smoothing, error_smoothing),
    )


def _curve(
    game: _Game, rule: str, knob: str, settings: Sequence[float], levels_of: LevelsOf
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


def _ours(game: _Game) -> ExchangeCurve:
    """Order up to the quantile of demand until the delivery after the next look.

    The fill shown beforehand is that of the levels, corrected by the last known periods: levels
    fall while nothing is asked for, and what they had brought here stays.
    """
    expected, fills, stocks, _ = _foretold(game)
    past = game.before()
    if past is not None:
        foretold, came, _, error = _foretold(past)
        expected = corrected_fill(expected, foretold, came, error)
    points = zip(CHANCES, fills, stocks, expected, strict=True)
    return ExchangeCurve(OURS, "chance", tuple(CurvePoint(*map(float, point)) for point in points))


def _foretold(game: _Game) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Fill expected at the first look counted, fill that came, mean stock, error of the fill.

    One entry per chance.

    What the series have in common is learned again as soon as another such stretch is over.
    """
    lot = _lots(game.demand[:, : game.played_from])
    learned: dict[int, CountHabits] = {}

    def habits(counts: np.ndarray) -> CountHabits:
        stretch = (counts.shape[1] - game.played_from) // game.lasts
        if stretch not in learned:
            learned[stretch] = learn_habits(counts, game.lasts)
        return learned[stretch]

    def quantiles(history: np.ndarray) -> Levels:
        counts = np.round(history / lot[:, None])
        level = quantiles_of_sums(counts, game.lasts, CHANCES, habits(counts)).T * lot
        return Levels(level, level)

    levels = game.levels(quantiles)
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


def _expected(game: _Game, levels: list[Levels], lot: np.ndarray) -> np.ndarray:
    """Fill foretold for the periods counted, at the first look of them, per setting."""
    look = max(look for look in game.looks if look <= game.known)
    counts = np.round(game.demand[:, :look] / lot[:, None])
    wanted = levels[look - game.played_from].order_up_to / lot
    habits = learn_habits(counts, game.lasts)
    fill = expected_fill(counts, wanted.T, lead=game.lead, review=game.review, habits=habits)
    weight = expected_demand(counts, 1, habits) * lot * game.worth
    return (weight @ fill) / max(weight.sum(), 1e-12)
