"""A demand table in a CSV file, forecast."""

import csv
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
COLUMNS = ("series_id", "period", "qty")
TEXT = {"series_id": str, "period": str}
NOT_KNOWN = ["", "NA", "NaN"]
"""How programs write an amount that is missing."""


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
        separator, names = _heading(path)
        table = pd.read_csv(
            path,
            sep=separator,
            header=0,
            names=names,
            encoding="utf-8-sig",
            skip_blank_lines=False,
            skipinitialspace=True,
            dtype=TEXT,
            # A series may be called NA; a quantity may be left out as NA.
            keep_default_na=False,
            na_values={name: [""] if name in TEXT else NOT_KNOWN for name in names},
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
    for name in TEXT.keys() & set(names):
        table[name] = table[name].str.rstrip()
    table.index = pd.RangeIndex(2, len(table) + 2, name="line")
    filled = table.notna().any(axis=1).to_numpy().nonzero()[0]
    return table.iloc[: filled[-1] + 1] if filled.size else table.iloc[:0]


def _heading(path: Path) -> tuple[str, list[str]]:
    """What separates the columns, and their names; those that say nothing go by their number."""
    with path.open(encoding="utf-8-sig") as lines:
        heading = lines.readline()
    separator = max(SEPARATORS, key=heading.count)
    cells = next(csv.reader([heading], delimiter=separator), [])
    written = [cell.strip().lower() for cell in cells]
    names = ["period" if name == "month" else name for name in written]
    for name in COLUMNS:
        if names.count(name) > 1:
            raise Refused(f"{path.name} has the column {name} twice. Keep one of each name.")
    return separator, [name if name in COLUMNS else str(place) for place, name in enumerate(names)]
