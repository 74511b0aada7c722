"""Time and memory of forecasting many series, beside what statsforecast takes, in one run.

Run with: python manage.py test -m benchmark -s tests/benchmarks/test_many_series.py
Seconds are processor seconds of one process, input in memory, series invented. Two things to
compare the whole with: the calls of the library's models inside it, and what the library takes for
the same models, three past origins and a forecast, by its own tables.
"""

import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from statsforecast import StatsForecast
from statsforecast.models import (
    ADIDA,
    TSB,
    CrostonOptimized,
    CrostonSBA,
    HistoricAverage,
    SimpleExponentialSmoothing,
    SimpleExponentialSmoothingOptimized,
)

from forecasting import many_series, model_choice
from forecasting.many_series import forecast_many
from forecasting.point_models import LEAN_MODELS, LEVEL_MODELS, SMOOTHED, expected_sums

pytestmark = pytest.mark.benchmark

MONTHS = 48
CHANCES = (0.8, 0.9, 0.95, 0.99)
MODELS = dict(
    zip(
        LEVEL_MODELS,
        [
            partial(SimpleExponentialSmoothing, 0.1),
            partial(SimpleExponentialSmoothing, 0.3),
            CrostonSBA,
            partial(TSB, 0.1, 0.1),
            HistoricAverage,
            SimpleExponentialSmoothingOptimized,
            CrostonOptimized,
            ADIDA,
        ],
        strict=True,
    )
)
HEADING = "  series models  seconds  inside models    over  by its tables   over  wall s  peak MB (before)"
SIZES = [
    (300, LEAN_MODELS),
    (300, LEVEL_MODELS),
    (1_000, LEAN_MODELS),
    (10_000, LEAN_MODELS),
    (10_000, LEVEL_MODELS),
    (100_000, LEAN_MODELS),
]


def demand(series: int, seed: int = 1) -> pd.DataFrame:
    """Series of every class: rates from one in ten months to dozens a month, some in lots."""
    rng = np.random.default_rng(seed)
    rate = np.exp(rng.normal(-0.5, 1.2, (series, 1)))
    shape = rng.choice([0.3, 1.0, 5.0], (series, 1))
    lot = np.where(rng.random((series, 1)) < 0.8, 1, np.ceil(np.exp(rng.normal(1, 1, (series, 1)))))
    qty = lot * rng.negative_binomial(shape, shape / (shape + rate), (series, MONTHS))
    months = pd.date_range("2022-01-01", periods=MONTHS, freq="MS")
    return pd.DataFrame(
        {
            "series_id": np.repeat(np.arange(series), MONTHS),
            "period": np.tile(months, series),
            "qty": qty.ravel(),
        }
    )


@contextmanager
def inside_models(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[float]]:
    """Processor seconds of every round of calls of the library's models."""
    spent = []

    def timed(*args: object) -> np.ndarray:
        began = time.process_time()
        result = expected_sums(*args)
        spent.append(time.process_time() - began)
        return result

    with monkeypatch.context() as patch:
        patch.setattr(model_choice, "expected_sums", timed)
        patch.setattr(many_series, "expected_sums", timed)
        yield spent


def by_its_tables(table: pd.DataFrame, models: Sequence[str]) -> float:
    """What the library takes by its own tables: three past origins, then a forecast."""
    long = table.rename(columns={"series_id": "unique_id", "period": "ds", "qty": "y"})
    engine = StatsForecast([MODELS[name](alias=name) for name in models], freq="MS", n_jobs=1)
    began = time.process_time()
    engine.cross_validation(df=long, h=3, n_windows=3, step_size=3)
    engine.forecast(df=long, h=3)
    return time.process_time() - began


def peak_megabytes(*, reset: bool = False) -> float:
    """Most memory the process held since the last reset; Linux."""
    if reset:
        Path("/proc/self/clear_refs").write_text("5")
    lines = Path("/proc/self/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("VmHWM")).split()[1]) / 1024


def test_time_and_memory_of_many_series(monkeypatch, capsys):
    forecast_many(demand(50), periods_ahead=3, chances=CHANCES)
    smoothing = 20_000 / by_its_tables(demand(20_000), [SMOOTHED]) * 4
    lines = [f"\nsmoothing alone, by the library's tables: {smoothing:,.0f} series a second"]
    lines.append(HEADING)
    for series, models in SIZES:
        table = demand(series)
        tables = by_its_tables(table, models) if series <= 10_000 else np.nan
        before, wall = peak_megabytes(reset=True), time.perf_counter()
        with inside_models(monkeypatch) as spent:
            began = time.process_time()
            result = forecast_many(table, periods_ahead=3, chances=CHANCES, models=models)
            taken = time.process_time() - began
        wall = time.perf_counter() - wall
        lines.append(
            f"{series:8,} {len(models):6} {taken:8.2f} {sum(spent):13.2f} {taken / sum(spent) - 1:7.0%}"
            f" {tables:13.2f} {taken / tables - 1:7.0%} {wall:7.1f} {peak_megabytes():8.0f} ({before:.0f})"
        )
        assert np.isfinite(result[["mean", "q80", "q99"]].to_numpy()).all()
        del table, result
    with capsys.disabled():
        print("\n".join(lines))
