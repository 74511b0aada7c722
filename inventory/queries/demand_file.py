"""A demand table in a CSV file, played again."""

import csv
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from inventory.errors import Refused
from inventory.queries.replay_data import table_replay_data

if TYPE_CHECKING:
    import pandas as pd

SEPARATORS = ",;\t"


def replay_file(
    path: Path, *, lead_time: int, review: int = 1, known: int | None = None
) -> dict[str, Any]:
    """Play a table's later periods again; keys as in table_replay_data, and seconds.

    Columns: series_id, period (or month), qty; unit_cost may be added. Refuses what cannot be read,
    naming the line and what to write.
    """
    from forecasting.demand_series import demand_series
    from forecasting.errors import BadInput
    from forecasting.table_replay import replay_table

    started = time.process_time()
    try:
        series = demand_series(_table(path))
        replay = replay_table(series, lead=lead_time, review=review, known=known)
    except BadInput as error:
        raise Refused(f"{path.name}: {error}") from error
    return {**table_replay_data(replay), "seconds": round(time.process_time() - started, 2)}


def _table(path: Path) -> "pd.DataFrame":
    import pandas as pd

    heading, *rows = _rows(path)
    for number, row in enumerate(rows, start=2):
        if len(row) != len(heading):
            raise Refused(
                f"{path.name}, line {number}: it has {len(row)} cells, the first line has "
                f"{len(heading)}. Give every line the same columns."
            )
    columns = zip(*rows, strict=True) if rows else [()] * len(heading)
    table = pd.DataFrame(dict(enumerate(columns)), dtype="string")
    table.columns = [name.strip().lower() for name in heading]
    return table


def _rows(path: Path) -> list[list[str]]:
    """Heading and rows; empty lines at the end are left out."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise Refused(f"{path.name} is no text in UTF-8. Save it as CSV, UTF-8.") from error
    except OSError as error:
        raise Refused(f"{path} can't be read: {error.strerror}. Check its name.") from error
    text = text.rstrip()
    if not text or "\0" in text:
        raise Refused(
            f"{path.name} holds no table. Write a first line series_id,period,qty and a line for "
            "each series and period."
        )
    first_line = text.partition("\n")[0]
    separator = max(SEPARATORS, key=first_line.count)
    try:
        return list(csv.reader(text.splitlines(), delimiter=separator, strict=True))
    except csv.Error as error:
        raise Refused(f"{path.name} is no CSV: {error}. Save it as CSV again.") from error
