"""A demand table in a CSV file, forecast."""

import logging
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from inventory.errors import Refused

if TYPE_CHECKING:
    import pandas as pd

FREQUENCY = {"month": "MS", "week": "W-MON"}
THIS_MACHINE = "here"
SEPARATORS = ",;\t"


def forecast_file(
    path: Path,
    *,
    periods_ahead: int,
    chances: Sequence[float],
    period: str = "month",
    stock_outs: Path | None = None,
    cluster: str = "",
) -> "pd.DataFrame":
    """Forecast of every series in a table, as forecasting.many_series.forecast_many gives it.

    Args: period: "month" or "week". cluster: address of a scheduler, or "here" for all processors
        of this machine; empty for this process alone.
    Refuses what cannot be read, naming the line and what to write.
    """
    from forecasting.errors import BadInput
    from forecasting.many_series import forecast_many

    terms = {
        "periods_ahead": periods_ahead,
        "chances": chances,
        "freq": FREQUENCY[period],
        "stock_outs": None if stock_outs is None else _table(stock_outs),
    }
    demand = _table(path)
    try:
        if not cluster:
            return forecast_many(demand, **terms)
        from forecasting.distributed import forecast_many_distributed

        # Every connection between its processes would be told on the terminal.
        logging.getLogger("distributed").setLevel(logging.ERROR)
        address = None if cluster == THIS_MACHINE else cluster
        return forecast_many_distributed(demand, cluster=address, **terms)
    except BadInput as error:
        raise Refused(f"{path.name}: {error}.") from error


def _table(path: Path) -> "pd.DataFrame":
    """The rows under the numbers their lines have in the file."""
    import pandas as pd

    try:
        with path.open(encoding="utf-8-sig") as lines:
            heading = lines.readline()
        table = pd.read_csv(
            path,
            sep=max(SEPARATORS, key=heading.count),
            encoding="utf-8-sig",
            skip_blank_lines=False,
            skipinitialspace=True,
            dtype={"series_id": str, "period": str, "month": str},
        )
    except UnicodeDecodeError as error:
        raise Refused(f"{path.name} is no text in UTF-8. Save it as CSV, UTF-8.") from error
    except OSError as error:
        raise Refused(f"{path} can't be read: {error.strerror}. Check its name.") from error
    except ValueError as error:
        raise Refused(f"{path.name} is no table in CSV: {error}. Save it as CSV again.") from error
    if not isinstance(table.index, pd.RangeIndex):
        raise Refused(
            f"{path.name}, line 2: it has more cells than the first line. Give every line the same "
            "columns."
        )
    table.index = pd.RangeIndex(2, len(table) + 2, name="line")
    filled = table.notna().any(axis=1).to_numpy().nonzero()[0]
    table = table.iloc[: filled[-1] + 1] if filled.size else table.iloc[:0]
    return table.rename(columns=lambda name: name.strip().lower()).rename(
        columns={"month": "period"}
    )
