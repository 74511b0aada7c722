"""Replays as plain data, for storing and for JSON; every share is between 0 and 1."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

    from forecasting.exchange_curve import ExchangeCurve
    from forecasting.replay import Replay
    from forecasting.table_replay import TableReplay

FILLS = (0.80, 0.85, 0.90, 0.95, 0.97)
"""Shares served at once at which the stock of the rules is compared."""
SERVED_WELL, MOST_LISTED = 0.95, 10


def shop_replay_data(replay: "Replay", costs: dict[str, float], currency: str) -> dict[str, Any]:
    """Keys: first_day, last_day, currency; items (played: used and of known cost), unused,
    without_cost (codes); rules and saved as in _compared; as_set (where each item stands at its own
    service level: fill, stock, expected_fill) and bend (chance, fill, stock), each may be None;
    least_served (as_set, the worst first: item, fill, expected_fill, stock, orders).
    """
    from forecasting.exchange_curve import bend
    from forecasting.shop_game import AS_SET

    curves = [curve for curve in replay.curves(costs) if curve.rule != AS_SET]
    as_set = [curve for curve in replay.curves(costs) if curve.rule == AS_SET]
    turn = bend(curves[0].points) if curves else None
    return {
        "first_day": replay.first_day.isoformat(),
        "last_day": replay.last_day.isoformat(),
        "currency": currency,
        **_items_played(replay.played, costs),
        **_compared(curves),
        "as_set": _without_knob(as_set[0]) if as_set else None,
        "bend": turn and {"chance": turn.knob, "fill": turn.fill, "stock": turn.stock},
        "least_served": _least_served(replay.played[replay.played["rule"] == AS_SET], costs),
    }


def table_replay_data(replay: "TableReplay") -> dict[str, Any]:
    """Keys: series, left_out (number by reason), periods, known, played, lead_time, review, stock_in
    ("units" or "money"), demand (a period, in the same), rules and saved as in _compared.
    """
    return {
        "series": replay.series,
        "left_out": replay.left_out,
        "periods": replay.periods,
        "known": replay.known,
        "played": replay.played,
        "lead_time": replay.lead,
        "review": replay.review,
        "stock_in": "money" if replay.in_money else "units",
        "demand": _brief(replay.demand),
        **_compared(replay.curves),
    }


def _compared(curves: Sequence["ExchangeCurve"]) -> dict[str, Any]:
    """rules: each rule, knob, points (knob, fill, stock, expected_fill) and stock_at_fill (fill ->
    stock, None where it was never reached), ours first. saved: for each other rule, the share of
    its stock that ours did without at each fill.
    """
    from forecasting.exchange_curve import saved

    rules = [
        {
            "rule": curve.rule,
            "knob": curve.knob,
            "points": [
                {
                    "knob": point.knob,
                    "fill": _brief(point.fill),
                    "stock": _brief(point.stock),
                    "expected_fill": _brief(point.expected_fill),
                }
                for point in curve.points
            ],
            "stock_at_fill": {f"{fill:.2f}": _brief(curve.stock_at(fill)) for fill in FILLS},
        }
        for curve in curves
    ]
    return {
        "rules": rules,
        "saved": [
            {
                "against": rival.rule,
                "at_fill": {f"{fill:.2f}": _brief(saved(curves[0], rival, fill)) for fill in FILLS},
            }
            for rival in curves[1:]
        ],
    }


def _items_played(played: "pd.DataFrame", costs: dict[str, float]) -> dict[str, Any]:
    demand = played.groupby("item", sort=True)["demand"].first()
    used = demand[demand > 0].index
    return {
        "items": sum(code in costs for code in used),
        "unused": int((demand <= 0).sum()),
        "without_cost": [code for code in used if code not in costs],
    }


def _least_served(as_set: "pd.DataFrame", costs: dict[str, float]) -> list[dict[str, Any]]:
    """Items below SERVED_WELL, at most MOST_LISTED, those of unknown cost with stock None."""
    poorly = as_set[(as_set["demand"] > 0) & (as_set["fill_rate"] < SERVED_WELL)]
    worst = poorly.sort_values(["fill_rate", "item"]).head(MOST_LISTED)
    return [
        {
            "item": row.item,
            "fill": _brief(row.fill_rate),
            "expected_fill": _brief(row.expected_fill),
            "stock": _brief(row.mean_stock * costs[row.item]) if row.item in costs else None,
            "orders": _brief(row.orders),
        }
        for row in worst.itertuples()
    ]


def _without_knob(curve: "ExchangeCurve") -> dict[str, Any]:
    point = curve.points[0]
    return {
        "fill": _brief(point.fill),
        "stock": _brief(point.stock),
        "expected_fill": _brief(point.expected_fill),
    }


def _brief(figure: float | None) -> float | None:
    """Six figures are enough for whoever reads it."""
    return None if figure is None else float(f"{figure:.6g}")
