"""The exchange curve: what share of demand a rule served against the stock it kept for that."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from forecasting.errors import require

__all__ = ["CurvePoint", "ExchangeCurve", "bend", "saved"]


@dataclass(frozen=True)
class CurvePoint:
    """A rule at one setting of its knob.

    fill: share of demand served at once. stock: mean on the shelf, units or money. expected_fill:
    what the rule itself expected beforehand, None where it expects nothing.
    """

    knob: float
    fill: float
    stock: float
    expected_fill: float | None = None


@dataclass(frozen=True)
class ExchangeCurve:
    """One rule at every setting tried, from the lowest to the highest."""

    rule: str
    knob: str
    points: tuple[CurvePoint, ...]

    def stock_at(self, fill: float) -> float | None:
        """Least stock at which the rule served that share; None when no setting tried did.

        Straight between neighbouring settings.
        Source: exchange curves: Brown (1967), Decision Rules for Inventory Management; Silver, Pyke
            & Thomas (2017), Inventory and Production Management in Supply Chains | from memory.
        """
        require(0 < fill <= 1, "fill", "lie between 0 and 1 (write 0.95 for 95 %)", fill)
        reached = [point.stock for point in self.points if point.fill == fill]
        for low, high in zip(self.points, self.points[1:], strict=False):
            below, above = sorted((low, high), key=lambda point: point.fill)
            if below.fill < fill < above.fill:
                part = (fill - below.fill) / (above.fill - below.fill)
                reached.append(below.stock + part * (above.stock - below.stock))
        return min(reached, default=None)


def saved(ours: ExchangeCurve, rival: ExchangeCurve, fill: float) -> float | None:
    """Share of the rival's stock that ours did without at the same fill; below 0 when it took more.

    None where either never reached that fill.
    """
    own, other = ours.stock_at(fill), rival.stock_at(fill)
    return None if own is None or not other else 1 - own / other


def bend(points: Sequence[CurvePoint]) -> CurvePoint | None:
    """Where the curve turns: up to there a little stock serves much, beyond it serves little.

    The point farthest above the straight line from the first to the last, both axes drawn from 0
    to 1. None with fewer than three points or without a turn.
    Source: Satopää, Albrecht, Irwin & Raghavan (2011), Finding a "kneedle" in a haystack | from
        memory.
    """
    if len(points) < 3:
        return None
    stock, fill = (np.array([getattr(p, name) for p in points]) for name in ("stock", "fill"))
    spans = np.ptp(stock), np.ptp(fill)
    if min(spans) <= 0:
        return None
    height = (fill - fill[0]) / spans[1] - (stock - stock[0]) / spans[0]
    highest = int(np.argmax(height))
    return points[highest] if height[highest] > 0 else None
