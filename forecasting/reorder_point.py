"""When to order: run-out dates, and the textbook reorder points they are compared with.

Quick on purpose (standard library only): a page asks it for every line it shows.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from statistics import NormalDist

from forecasting.errors import require

__all__ = [
    "Arrival",
    "RunOut",
    "WeekUse",
    "fill_at",
    "fill_rate",
    "lead_time_spread",
    "order_by",
    "periodic_review_order",
    "reorder_point",
    "run_out",
    "safety_factor",
    "unit_normal_loss",
]

STANDARD_NORMAL = NormalDist()


@dataclass(frozen=True)
class Arrival:
    """Stock on order and the day it is expected."""

    day: date
    qty: float | Decimal


@dataclass(frozen=True)
class WeekUse:
    """Use counted from today to the end (Sunday) of the week that starts on Monday `week`.

    mean: expected; high: exceeded once in 20 times.
    """

    week: date
    mean: float
    high: float


@dataclass(frozen=True)
class RunOut:
    """Day on which stock runs out: with expected use, and early with high use. None: not in sight."""

    expected: date | None
    early: date | None


def run_out(
    on_hand: float | Decimal,
    arrivals: Iterable[Arrival],
    weeks: Sequence[WeekUse],
    *,
    as_of: date,
) -> RunOut:
    """First day on which cumulative use exceeds stock plus what has arrived by then.

    Use is spread evenly over the days of a week. An arrival due before `as_of` is overdue and not
    counted: nobody can cut from a bar that is late.
    """
    counted = sorted((a for a in arrivals if a.day >= as_of), key=lambda a: a.day)
    expected = _first_shortage(on_hand, counted, [(w.week, w.mean) for w in weeks], as_of)
    early = _first_shortage(on_hand, counted, [(w.week, w.high) for w in weeks], as_of)
    # Rare use can have a mean above its 95 % quantile; early is never the later of the two.
    return RunOut(expected, min(filter(None, (expected, early)), default=None))


def _first_shortage(
    on_hand: float | Decimal,
    arrivals: Sequence[Arrival],
    weeks: Sequence[tuple[date, float]],
    as_of: date,
) -> date | None:
    used, day = 0.0, as_of
    for monday, used_by_sunday in weeks:
        next_monday = monday + timedelta(days=7)
        if used_by_sunday > on_hand:
            days = (next_monday - day).days
            per_day = max(0.0, used_by_sunday - used) / days
            for today in (day + timedelta(days=offset) for offset in range(days)):
                used += per_day
                if used > _supply(on_hand, arrivals, today) * (1 + 1e-9):
                    return today
        used, day = used_by_sunday, next_monday
    return None


def _supply(on_hand: float | Decimal, arrivals: Sequence[Arrival], day: date) -> float:
    return float(on_hand) + sum(float(arrival.qty) for arrival in arrivals if arrival.day <= day)


def order_by(run_out_day: date | None, lead_days: float) -> date | None:
    """Last day to order so that the delivery is here when stock runs out; calendar days."""
    require(lead_days >= 0, "lead_days", "not be negative", lead_days)
    if run_out_day is None:
        return None
    return run_out_day - timedelta(days=math.ceil(lead_days))


def safety_factor(service_level: float) -> float:
    """Standard deviations of safety stock for a cycle service level; exact, not from a table."""
    require(
        0 < service_level < 1,
        "service_level",
        "lie between 0 and 1 (write 0.95 for 95 %)",
        service_level,
    )
    return STANDARD_NORMAL.inv_cdf(service_level)


def lead_time_spread(
    mean_per_period: float, sd_per_period: float, lead_mean: float, lead_sd: float = 0.0
) -> float:
    """Standard deviation of use over the lead time; use and lead time independent.

    Source: sqrt(L sd_d^2 + d^2 sd_L^2), e.g. Heizer & Render, Operations Management, inventory
        chapter | from memory.
    Checked in: tests/published/test_reorder_points.py
    """
    return math.sqrt(lead_mean * sd_per_period**2 + (mean_per_period * lead_sd) ** 2)


def reorder_point(
    mean_per_period: float,
    sd_per_period: float,
    lead_mean: float,
    lead_sd: float = 0.0,
    *,
    z: float,
) -> float:
    """Stock position at which to order if use over the lead time is normal.

    The textbook rule that the simulated reorder point is compared with.
    Source: as lead_time_spread.
    """
    spread = lead_time_spread(mean_per_period, sd_per_period, lead_mean, lead_sd)
    return mean_per_period * lead_mean + z * spread


def periodic_review_order(
    mean_per_period: float,
    sd_per_period: float,
    *,
    lead: float,
    review: float,
    position: float,
    z: float,
) -> float:
    """Order at a review so that stock lasts until the delivery after the next review.

    Source: fixed-time-period model, Jacobs & Chase, Operations and Supply Chain Management,
        inventory chapter | from memory.
    Checked in: tests/published/test_reorder_points.py
    """
    protection = lead + review
    target = mean_per_period * protection + z * sd_per_period * math.sqrt(protection)
    return max(0.0, target - position)


def unit_normal_loss(z: float) -> float:
    """Expected amount by which a standard normal exceeds z.

    Source: G(z) = pdf(z) - z (1 - cdf(z)), any textbook of inventory control.
    Checked in: tests/published/test_reorder_points.py
    """
    return STANDARD_NORMAL.pdf(z) - z * (1 - STANDARD_NORMAL.cdf(z))


def fill_rate(point: float, *, mean: float, sd: float, order_quantity: float) -> float:
    """Share of use served from stock: one minus units short per cycle over units per cycle.

    Args: point: reorder point; mean, sd: normal use over the lead time.
    Source: Chopra & Meindl, Supply Chain Management, chapter on safety inventory | from memory.
    Checked in: tests/published/test_reorder_points.py
    """
    short_per_cycle = sd * unit_normal_loss((point - mean) / sd)
    return 1 - short_per_cycle / order_quantity


def fill_at(curve: Sequence[Sequence[float]], order: float) -> float | None:
    """Fill at an order quantity, from a curve [[order quantity, fill], ...]; None without a curve.

    What is missing in an order cycle hardly depends on the quantity: it is what is interpolated.
    """
    if not curve or order <= 0:
        return None
    missing = [(quantity, (1 - fill) * quantity) for quantity, fill in curve]
    return min(1.0, max(0.0, 1 - _between(missing, order) / order))


def _between(points: Sequence[tuple[float, float]], x: float) -> float:
    """Straight between ascending points; from nothing before them, level after them."""
    if x <= points[0][0]:
        return points[0][1] * x / points[0][0]
    for (left, low), (right, high) in zip(points, points[1:], strict=False):
        if x <= right:
            return low + (high - low) * (x - left) / (right - left)
    return points[-1][1]
