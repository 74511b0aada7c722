"""Many series on more than one machine: the forecast of many_series over partitions, by Dask."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from forecasting.errors import BadInput
from forecasting.many_series import forecast_table, require_scope, survey_table, whole_result
from forecasting.periodic_demand import (
    FREQUENCIES,
    NO_PERIOD,
    PeriodicDemand,
    check_demand,
    check_stock_outs,
    periodic_demand,
)
from forecasting.point_models import LEVEL_MODELS
from forecasting.series_lessons import Survey, draw_lessons, lesson_rows

if TYPE_CHECKING:
    from dask.dataframe import DataFrame as DaskFrame
    from dask.distributed import Client

__all__ = ["forecast_many_distributed"]

SECONDS_TO_ANSWER = 20
INSTALL = "python3 -m pip install -r forecasting/requirements-distributed.txt"


def forecast_many_distributed(
    demand: "pd.DataFrame | DaskFrame",
    *,
    cluster: str | None,
    periods_ahead: int,
    chances: Sequence[float],
    freq: str = "MS",
    stock_outs: pd.DataFrame | None = None,
    models: Sequence[str] = LEVEL_MODELS,
    windows: int = 3,
    partitions: int | None = None,
) -> pd.DataFrame:
    """The same figures as forecast_many, worked out by the machines of a cluster.

    Partitions of many series each are surveyed where they lie; what the series teach each other is
    learned once, from all of them, and applied partition by partition. Only surveys, the few
    series that teach and the result travel.
    Args: cluster: address of a running scheduler, such as tcp://10.0.0.5:8786, whose workers have
        the same packages and this one; None starts workers on this machine, one a processor.
        partitions: of a table from memory; two a worker when not given.
    Shapes: demand as in forecast_many, from memory or as a Dask table of any size.
    Raises: BadTable, OutOfRange; BadInput when Dask is missing or no scheduler answers.
    """
    require_scope(periods_ahead, chances, windows)
    span = check_demand(demand, freq) if isinstance(demand, pd.DataFrame) else None
    season = FREQUENCIES[freq]
    with _client(cluster) as client:
        workers = len(client.scheduler_info()["workers"])
        lying = _by_series(demand, partitions or 2 * max(workers, 1)).persist()
        span = span or _widest(_each(lying, partial(check_demand, freq=freq)))
        read = partial(_read, freq=freq, stock_outs=stock_outs, span=span)
        looked = _each(lying, lambda part: survey_table(read(part), periods_ahead, windows))
        surveyed = Survey.joined(looked)
        if stock_outs is not None:
            check_stock_outs(stock_outs, surveyed.series)
        rows = lesson_rows(surveyed, periods_ahead, windows, season)
        names = surveyed.series[rows.all]
        taught = np.concatenate(_each(lying, lambda part: _of_names(read(part), names)))
        lessons = draw_lessons(rows, taught, models, periods_ahead, windows, season)
        forecasts = _each(
            lying,
            lambda part: forecast_table(read(part), lessons, periods_ahead, chances, season),
        )
    return whole_result(forecasts, lessons)


@contextmanager
def _client(address: str | None) -> Iterator["Client"]:
    try:
        from dask.distributed import Client, LocalCluster
    except ImportError as error:
        raise BadInput(f"Dask is not installed here. Run: {INSTALL}") from error
    if address is None:
        alone = {"threads_per_worker": 1, "dashboard_address": "127.0.0.1:0", "host": "127.0.0.1"}
        with LocalCluster(**alone) as local, Client(local) as client:
            yield client
        return
    try:
        client = Client(address, timeout=SECONDS_TO_ANSWER)
    except (OSError, ValueError) as error:
        raise BadInput(
            f"No scheduler answers at {address}. Start one with dask scheduler, or correct the "
            "address, such as tcp://10.0.0.5:8786"
        ) from error
    with client:
        yield client


def _by_series(demand: "pd.DataFrame | DaskFrame", partitions: int) -> "DaskFrame":
    """The table in partitions that ascend by series, each series whole in one of them."""
    import dask
    import dask.dataframe

    if not isinstance(demand, pd.DataFrame):
        return demand if demand.index.name == "series_id" else demand.set_index("series_id")
    with dask.config.set({"dataframe.convert-string": False}):
        return dask.dataframe.from_pandas(demand.set_index("series_id"), npartitions=partitions)


def _each(lying: "DaskFrame", work: Callable[[pd.DataFrame], Any]) -> list[Any]:
    """What the work makes of every partition, in their order."""
    boxed = lying.map_partitions(_boxed, work, meta=pd.Series(dtype=object))
    return boxed.compute().tolist()


def _boxed(part: pd.DataFrame, work: Callable[[pd.DataFrame], Any]) -> pd.Series:
    return pd.Series([work(part.reset_index())], dtype=object)


def _read(
    part: pd.DataFrame, freq: str, stock_outs: pd.DataFrame | None, span: tuple[int, int]
) -> PeriodicDemand:
    if stock_outs is not None:
        stock_outs = stock_outs[stock_outs["series_id"].isin(part["series_id"])]
    return periodic_demand(part, freq, stock_outs, span)


def _of_names(table: PeriodicDemand, names: np.ndarray) -> np.ndarray:
    return table.qty[np.isin(table.series, names)]


def _widest(spans: list[tuple[int, int]]) -> tuple[int, int]:
    """The first and last period of all partitions that have any."""
    firsts, lasts = zip(*[span for span in spans if span != NO_PERIOD] or [NO_PERIOD], strict=True)
    return min(firsts), max(lasts)
