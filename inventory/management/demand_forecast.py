"""manage.py forecast --demand: any table instead of the shop's records."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import TYPE_CHECKING, Any

from inventory.queries.demand_forecast import FREQUENCY, forecast_file

if TYPE_CHECKING:
    import pandas as pd

CHANCES = [0.8, 0.9, 0.95, 0.99]


def add_demand_options(parser: ArgumentParser) -> None:
    """The options of a forecast of any table."""
    parser.add_argument(
        "--demand",
        type=Path,
        metavar="FILE.csv",
        help="forecast this table (columns series_id, period or month, qty) instead of the shop",
    )
    parser.add_argument(
        "--periods-ahead", type=int, default=3, help="of the table, summed; 3 when not given"
    )
    parser.add_argument("--period", choices=list(FREQUENCY), default="month", help="of the table")
    parser.add_argument(
        "--chances", type=float, nargs="+", default=CHANCES, help="of the quantiles, such as 0.95"
    )
    parser.add_argument(
        "--stock-outs",
        type=Path,
        metavar="FILE.csv",
        help="periods without stock (columns series_id, period): not known, instead of no demand",
    )
    parser.add_argument(
        "--cluster",
        default="",
        metavar="ADDRESS",
        help="work on a cluster: tcp://... of its scheduler, or here for all processors of this "
        "machine",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object, nothing else")


def demand_forecast(options: dict[str, Any]) -> "pd.DataFrame":
    """The table that was asked for. Raises: Refused."""
    names = ("periods_ahead", "chances", "period", "stock_outs", "cluster")
    return forecast_file(options["demand"], **{name: options[name] for name in names})


def as_json(result: "pd.DataFrame", options: dict[str, Any]) -> str:
    """The same figures with the losses of the models and the terms they were asked by."""
    asked = {name: options[name] for name in ("periods_ahead", "period", "chances")}
    series = result.to_dict(orient="records")
    return json.dumps({**asked, "scores": result.attrs["scores"], "series": series}, indent=2)


def in_words(result: "pd.DataFrame") -> str:
    """What each demand class was forecast by, and the losses of the models compared."""
    lines = [f"{len(result)} series."]
    scores = result.attrs["scores"]
    for name, rows in result.groupby("demand_class"):
        used = ", ".join(rows["model"].value_counts().index)
        lines.append(f"{name}: {len(rows)} series by {used}.")
        ranked = sorted(scores.get(name, {}).items(), key=lambda pair: pair[1])
        lines += [f"    {loss:.3f}  {model}" for model, loss in ranked]
    if scores:
        lines.append("Figures: loss of the stock each model would have called for, less is better.")
    return "\n".join(lines)
