"""What a forecast takes of cutters: likely lives, and what is in line at each station."""

from collections.abc import Iterable, Sequence

import pandas as pd

from forecasting.tool_life import LifeModel
from inventory.models import Fitting, Item, Regrind
from inventory.queries.cutters import fitted_by_item
from inventory.queries.life_book import LifeBook, Work
from inventory.queries.regrinds import reground_by_item
from inventory.queries.usage import ItemUsage
from inventory.queries.wear_places import Station, WearPlace, stations_of

COLUMNS = ["item", "station", "turn", "mean_life", "shape", "scale", "used"]


def stations_of_use(usage: Iterable[ItemUsage]) -> dict[tuple[int, WearPlace], str]:
    """Name of the station that serves each place, by item id and place."""
    return {
        (item.pk, place): name
        for item, found in _stations(usage).items()
        for name, station in found.items()
        for place in station.places
    }


def wear_lives(usage: Iterable[ItemUsage], items: set[str]) -> pd.DataFrame:
    """item, station, turn, mean_life, shape, scale, used: likely lives of what wears, and its age.

    Every fitted one has its turn at its own station, the most worn first; reground ones go in after
    them where most is used.
    """
    usage = [row for row in usage if row.item.code in items and row.item.wears]
    rows: list[tuple] = []
    wearing = list({row.item.pk: row.item for row in usage}.values())
    book, reground = LifeBook(wearing), reground_by_item(wearing)
    for item, found in _stations(usage).items():
        model = book.now(item).model
        if model is None:
            continue
        busiest = max(found, key=lambda name: _use_at(found[name], item, usage))
        for name, station in found.items():
            ready = reground[item.pk] if name == busiest else []
            for turn, (life, used) in enumerate(_line(book, item, station, ready)):
                rows += [
                    (item.code, name, turn, model.weibull.mean, shape, scale, used)
                    for shape, scale in zip(*life.around.few_pairs(), strict=True)
                ]
    return pd.DataFrame(rows, columns=COLUMNS)


def _stations(usage: Iterable[ItemUsage]) -> dict[Item, dict[str, Station]]:
    places: dict[Item, set[WearPlace]] = {}
    for row in usage:
        if row.place is not None:
            places.setdefault(row.item, set()).add(row.place)
    fitted = fitted_by_item(places)
    return {
        item: {
            str(number): station
            for number, station in enumerate(stations_of(of_item, fitted[item.pk]), start=1)
        }
        for item, of_item in places.items()
    }


def _use_at(station: Station, item: Item, usage: Sequence[ItemUsage]) -> float:
    return sum(row.per_knife for row in usage if row.item == item and row.place in station.places)


def _line(
    book: LifeBook, item: Item, station: Station, reground: Sequence[Regrind]
) -> list[tuple[LifeModel, float]]:
    """Life of a new one, then of those that go in before any new one, each with its use so far."""
    first: Fitting | None = station.fitted[0] if station.fitted else None
    work = Work.of(first) if first else book.work_now(item)
    return [
        (book.judged(item, work).model, 0.0),
        *((book.model_of(item, one), float(one.life_used)) for one in station.fitted),
        *((book.judged(item, work, one.fitting.regrinds + 1).model, 0.0) for one in reground),
    ]
