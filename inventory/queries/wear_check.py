"""Will the fitted cutters last a batch, and how many spares to lay out."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import prod
from types import MappingProxyType

from forecasting.cutter_line import InLine, changes_at_once, changes_in_line
from forecasting.explosion import WearNeed
from forecasting.tool_life import Changes, LifeModel
from inventory.errors import Refused
from inventory.models import Fitting, Item, Regrind
from inventory.queries.availability import Stock
from inventory.queries.cutters import fitted_by_item
from inventory.queries.life_book import LifeBook, Work
from inventory.queries.regrinds import reground_by_item
from inventory.queries.wear_ahead import Jobs
from inventory.queries.wear_places import ANYWHERE, Station, WearPlace, stations_of

WILL_LAST = "will last"
MAY_NOT_LAST = "may not last"
WILL_NOT_LAST = "will not last"
NOT_FITTED = "not fitted"
EVEN_CHANCE = 0.5
NOTHING = Decimal(0)


@dataclass(frozen=True)
class StationCheck:
    """One place over a batch: the cutters there, each at its own age, before new ones.

    job: life the batch uses; ahead: life used before it, by the batches that come first. line: the fitted one that goes first, or the spare that goes in before the job; those that follow
    it. new: life of a new one in the work done there.
    """

    fitted: tuple[Fitting, ...]
    job: Decimal
    ahead: Decimal
    line: tuple[InLine, ...]
    new: LifeModel

    def changes(self, share: float = 1.0) -> Changes:
        """Changes from now to the end of that share of the job."""
        return changes_in_line(self.line, self.new, float(self.ahead) + float(self.job) * share)

    @property
    def first(self) -> Fitting | None:
        return self.fitted[0] if self.fitted else None

    @property
    def chance(self) -> float:
        """Chance that the one that goes first is still good after what is ahead and the job."""
        return self.changes().chance_of_none


@dataclass(frozen=True)
class Supply:
    """What there is of an item to answer for a job: its lives, fitted ones, reground ones, stock."""

    book: LifeBook
    fitted: Sequence[Fitting]
    reground: Sequence[Regrind]
    stock: Stock

    @property
    def in_stock(self) -> int:
        return int(self.stock.available)


@dataclass(frozen=True)
class WearCheck:
    """One wearing item from now to the end of a batch; lives in its life unit.

    job: life the batch uses; ahead: life that the batches before it use, counted first. stations: the
    places where the batch uses it, the one in most doubt first. elsewhere: places where only those
    ahead use it; they take spares too.
    chance: that what is fitted now is still good after both. spares: others fitted, reground and ready, in stock.
    changes_expected, changes_95: changes on average, and not exceeded 19 times in 20. spares_wanted:
    to lay out for the shop's confidence.
    """

    item: Item
    job: Decimal
    model: LifeModel
    ahead: Decimal
    stations: tuple[StationCheck, ...]
    elsewhere: tuple[StationCheck, ...]
    chance: float
    spares: int
    reground: int
    changes_expected: float
    changes_95: int
    spares_wanted: int
    confidence: float

    @property
    def short(self) -> int:
        return max(self.spares_wanted - self.spares, 0)

    @property
    def fitted(self) -> Fitting | None:
        """The one in most doubt; None where a place has none."""
        return self.stations[0].first

    @property
    def to_fit(self) -> int:
        return sum(station.first is None for station in self.stations)

    @property
    def to_fit_elsewhere(self) -> int:
        return sum(station.first is None for station in self.elsewhere)

    @property
    def status(self) -> str:
        if self.to_fit:
            return NOT_FITTED
        if self.lasts:
            return WILL_LAST
        return MAY_NOT_LAST if self.chance >= EVEN_CHANCE else WILL_NOT_LAST

    @property
    def lasts(self) -> bool:
        return not self.to_fit and self.spares_wanted == 0

    def likely_carry(self, job: Decimal) -> bool:
        """Whether what is fitted and its spares more likely than not see a smaller job through.

        The job is shared out alike among the places.
        """
        share = float(job / self.job) if self.job else 0.0
        places = (*self.stations, *self.elsewhere)
        changes = changes_at_once([station.changes(share) for station in places])
        return self.to_fit + self.to_fit_elsewhere + changes.spares(EVEN_CHANCE) <= self.spares

    @property
    def used(self) -> Decimal:
        return self.fitted.life_used if self.fitted else NOTHING


def check_wear(
    needs: Iterable[WearNeed],
    stock: Mapping[int, Stock],
    confidence: float,
    ahead: Jobs | None = None,
) -> list[WearCheck]:
    """Check every wearing item of an explosion against what is fitted, reground and in stock.

    ahead: life used first, by the batches that come before; nothing if left out.
    Raises: Refused, naming the items of which no life is known.
    """
    jobs: dict[str, dict[WearPlace, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
    for need in needs:
        jobs[need.item][need.place or ANYWHERE] += need.life
    items = Item.objects.in_bulk(jobs, field_name="code")
    book = LifeBook(items.values())
    _refuse_unknown_lives(items.values(), book)
    fitted, reground = fitted_by_item(items.values()), reground_by_item(items.values())
    return [
        check_one(
            item,
            jobs[code],
            Supply(book, fitted[item.pk], reground[item.pk], stock[item.pk]),
            confidence_for(item, confidence),
            (ahead or {}).get(code, {}),
        )
        for code, item in sorted(items.items())
    ]


def confidence_for(item: Item, of_the_shop: float) -> float:
    """How surely spares of it must suffice: the shop's figure, or the item's service level above it.

    So a cutter that is ground to order, or comes from one supplier, gets more of them.
    """
    return max(of_the_shop, float(item.service_level or 0))


def check_one(
    item: Item,
    jobs: Mapping[WearPlace, Decimal],
    supply: Supply,
    confidence: float,
    ahead: Mapping[WearPlace, Decimal] = MappingProxyType({}),
) -> WearCheck:
    """Check one item of known life for the life its places use.

    A place with none fitted takes a spare before the job, which isn't a spare any more. Reground
    ones go in before new ones, where most is used. ahead: life used at each place before the job.
    """
    places = _stations(item, jobs, ahead, supply)
    stations = [station for station in places if station.job or not station.ahead]
    elsewhere = [station for station in places if station not in stations]
    expected = changes_at_once([station.changes() for station in places])
    to_fit = sum(station.first is None for station in places)
    waiting = sum(max(len(station.fitted) - 1, 0) for station in places)
    return WearCheck(
        item=item,
        job=sum(jobs.values(), NOTHING),
        model=supply.book.now(item).model,
        ahead=sum((station.ahead for station in stations), NOTHING),
        stations=tuple(sorted(stations, key=lambda one: (one.first is not None, one.chance))),
        elsewhere=tuple(elsewhere),
        chance=prod(station.chance for station in stations),
        spares=waiting + len(supply.reground) + supply.in_stock,
        reground=len(supply.reground),
        changes_expected=expected.expected,
        changes_95=expected.p95,
        spares_wanted=to_fit + expected.spares(confidence),
        confidence=confidence,
    )


def _stations(
    item: Item,
    jobs: Mapping[WearPlace, Decimal],
    ahead: Mapping[WearPlace, Decimal],
    supply: Supply,
) -> list[StationCheck]:
    used_first = {place: life for place, life in ahead.items() if life}
    stations = stations_of({*jobs, *used_first}, supply.fitted)
    used = {one: (one.job_of(jobs), one.job_of(used_first)) for one in stations}
    busiest = max(stations, key=lambda one: sum(used[one]))
    return [
        _check_station(item, station, *used[station], supply, with_reground=station == busiest)
        for station in stations
    ]


def _check_station(
    item: Item,
    station: Station,
    job: Decimal,
    ahead: Decimal,
    supply: Supply,
    *,
    with_reground: bool,
) -> StationCheck:
    book = supply.book
    work = Work.of(station.fitted[0]) if station.fitted else book.work_now(item)
    new = book.judged(item, work).model
    line = [
        InLine(book.model_of(item, fitting), float(fitting.life_used)) for fitting in station.fitted
    ]
    if with_reground:
        line += [
            InLine(book.judged(item, work, one.fitting.regrinds + 1).model)
            for one in supply.reground
        ]
    return StationCheck(station.fitted, job, ahead, tuple(line) or (InLine(new),), new)


def _refuse_unknown_lives(items: Iterable[Item], book: LifeBook) -> None:
    unknown = [item.code for item in items if book.now(item).model is None]
    if unknown:
        raise Refused(
            f"{', '.join(sorted(unknown))}: no usual life is stated and too few worn ones are on "
            "record to tell one. Enter the usual life on the item's page."
        )
