"""What happened in a workshop, ordered by day, so that it can be done again."""

from abc import ABC, abstractmethod
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from inventory.exchange.workshop.files import Row, blaming, find, read_rows
from inventory.models import Item

__all__ = ["QUICK_PLAN", "DatedFiles", "Deed", "together"]

QUICK_PLAN = "bought"
"""Past cuts are as they would be by hand: three years of them are to load in seconds."""

ORDER_OF_DAY = (
    "bill",
    "stock",
    "delivery",
    "decision",
    "cutter",
    "regrind",
    "made",
    "plan",
    "cancel",
    "reserve",
    "start",
    "stages",
    "finish",
    "reading",
    "other use",
    "count",
    "order",
    "forecast",
)


@dataclass(frozen=True)
class Deed:
    """Something done on a day; deeds of one day follow ORDER_OF_DAY, then their place in the file."""

    day: date
    kind: str
    do: Callable[[], None]

    @property
    def turn(self) -> tuple[date, int]:
        return self.day, ORDER_OF_DAY.index(self.kind)


class DatedFiles(ABC):
    """Files whose rows were done on some day; subclasses say how each kind is done."""

    def __init__(self, folder: Path, items: Mapping[str, Item], today: date) -> None:
        self.folder, self.items, self.today = folder, items, today

    @abstractmethod
    def deeds(self) -> list[Deed]:
        """Every deed of these files, in the order of the rows."""

    def item(self, row: Row) -> Item:
        return find(self.items, row["item"], "item")

    def each_row(
        self, file: str, kind: str, do: Callable[[Row, date], None], column: str = "day"
    ) -> Iterable[Deed]:
        """One deed for every row of a file."""
        for row in read_rows(self.folder / file):
            yield from self.deed([row], kind, column, lambda rows, day: do(rows[0], day))

    def deed(
        self, rows: list[Row], kind: str, column: str, do: Callable[[list[Row], date], None]
    ) -> list[Deed]:
        """One deed for rows that belong together; none where the day's cell is empty."""
        with blaming(rows[0]):
            day = rows[0].day(column, self.today)
        if day is None:
            return []

        def act() -> None:
            with blaming(rows[0]):
                do(rows, day)

        return [Deed(day, kind, act)]


def together(rows: Iterable[Row], column: str) -> list[list[Row]]:
    """Rows of one order or one batch, in the order of the file."""
    found: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        found[row[column]].append(row)
    return list(found.values())
