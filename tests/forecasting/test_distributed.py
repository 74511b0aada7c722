"""On a cluster of this machine: other machines get the same work."""

import numpy as np
import pandas as pd
import pytest

from forecasting import distributed
from forecasting.distributed import forecast_many_distributed
from forecasting.errors import BadInput, BadTable
from forecasting.many_series import forecast_many
from forecasting.point_models import LEAN_MODELS

dask_frames = pytest.importorskip("dask.dataframe")
MONTHS = pd.date_range("2022-01-01", periods=48, freq="MS")
ASKED = {"periods_ahead": 3, "chances": (0.8, 0.95), "models": LEAN_MODELS}


@pytest.fixture(scope="module")
def cluster():
    from dask.distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address="127.0.0.1:0", host="127.0.0.1"
    ) as local:
        yield local.scheduler_address


def shop(series=16, seed=1):
    """Rows in no order, some series newer than others, every third in a unit of its own."""
    rng = np.random.default_rng(seed)
    rate = rng.choice([0.2, 0.8, 6.0, 30.0], series)
    begun = rng.integers(0, 40, series)
    tables = [
        pd.DataFrame(
            {
                "series_id": f"s{n:02d}",
                "period": MONTHS[begun[n] :],
                "qty": rng.poisson(rate[n], 48 - begun[n]) * (0.25 if n % 3 else 1.0),
            }
        )
        for n in range(series)
    ]
    return pd.concat(tables).sample(frac=1, random_state=1).reset_index(drop=True)


def on(cluster, demand, **changes):
    return forecast_many_distributed(demand, cluster=cluster, **{**ASKED, **changes})


@pytest.mark.parametrize("partitions", [1, 30])
def test_cluster_gives_the_same_figures_to_the_last_digit(cluster, partitions):
    demand = shop()
    pd.testing.assert_frame_equal(
        on(cluster, demand, partitions=partitions), forecast_many(demand, **ASKED), check_exact=True
    )


def test_table_that_lies_on_the_cluster_is_forecast_there(cluster):
    demand = shop().assign(series_id=lambda rows: rows["series_id"].str[1:].astype(int))
    lying = dask_frames.from_pandas(demand, npartitions=4)
    pd.testing.assert_frame_equal(
        on(cluster, lying), forecast_many(demand, **ASKED), check_exact=True
    )


def test_stock_outs_reach_the_partition_of_their_series(cluster):
    outs = pd.DataFrame({"series_id": ["s03", "s13"], "period": MONTHS[[45, 46]]})
    demand = shop()
    pd.testing.assert_frame_equal(
        on(cluster, demand, stock_outs=outs), forecast_many(demand, stock_outs=outs, **ASKED)
    )
    with pytest.raises(BadTable, match="series_id, row 0: must be in the table demand.*got s99"):
        on(cluster, demand, stock_outs=outs.assign(series_id="s99"))


def test_row_at_fault_is_named_before_anything_travels(cluster):
    demand = shop()
    demand.loc[7, "qty"] = -1
    with pytest.raises(BadTable, match="column qty, row 7"):
        on(cluster, demand)


def test_table_without_rows_gives_none(cluster):
    assert on(cluster, shop()[:0]).empty


def test_address_where_nobody_answers_is_said(monkeypatch):
    monkeypatch.setattr(distributed, "SECONDS_TO_ANSWER", 1)
    with pytest.raises(BadInput, match="No scheduler answers at tcp://127.0.0.1:1"):
        on("tcp://127.0.0.1:1", shop(2))
