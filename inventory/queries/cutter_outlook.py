"""Will what is in the machines last the batches ahead, one after the other."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q

from forecasting.tool_life import LifeModel, survives
from inventory.models import Batch, Fitting, Item, Shop, WearLine
from inventory.queries.availability import Stock, stock_by_item
from inventory.queries.cutters import fitted_by_item, fitted_now
from inventory.queries.life_book import LifeBook
from inventory.queries.regrinds import reground_by_item
from inventory.queries.wear_ahead import Jobs, batches_ahead, jobs_ahead
from inventory.queries.wear_check import Supply, WearCheck, check_one, confidence_for
from inventory.queries.wear_places import Station, WearPlace, stations_of

NOTHING = Decimal(0)


@dataclass(frozen=True)
class Ahead:
    """One batch ahead: life it uses of the item, and the chance that the one now fitted is still
    good after it and all batches before it."""

    batch: Batch
    job: Decimal
    chance: float


@dataclass(frozen=True)
class StationOutlook:
    """One place over the batches ahead; fitted: the most worn first, which goes first."""

    fitted: tuple[Fitting, ...]
    ahead: tuple[Ahead, ...]
    confidence: float

    @property
    def last_sure(self) -> Ahead | None:
        """The last batch that the one fitted sees through with the shop's confidence."""
        sure = [step for step in self.ahead if step.chance >= self.confidence]
        return sure[-1] if sure else None

    @property
    def first_doubt(self) -> Ahead | None:
        """The first batch that it may not see the end of."""
        return next((step for step in self.ahead if step.chance < self.confidence), None)


@dataclass(frozen=True)
class CutterOutlook:
    """One wearing item over the batches ahead; lives in its life unit.

    stations: the places where it is used, each with what is fitted there. reground: here and ready
    to fit. model: of a new one, None while neither a usual life nor a failure is known; models: of
    each fitted one, by its id. first_batch: the first ahead that uses it; next_batch: its check,
    when it needs spares. left_out: ids of lives too long to be
    true.
    """

    item: Item
    stations: tuple[StationOutlook, ...]
    stock: Stock
    reground: int
    model: LifeModel | None
    models: Mapping[int, LifeModel | None]
    first_batch: Batch | None
    next_batch: WearCheck | None
    left_out: frozenset[int]

    @property
    def fitted(self) -> tuple[Fitting, ...]:
        """All that are fitted, the most worn first."""
        found = [one for station in self.stations for one in station.fitted]
        return tuple(sorted(found, key=lambda one: (-one.life_used, one.pk)))

    def station_of(self, fitting: Fitting | None) -> StationOutlook:
        """Where one is fitted; for None the first place that has none, else the first."""
        if fitting is None:
            return next((one for one in self.stations if not one.fitted), self.stations[0])
        return next(one for one in self.stations if fitting in one.fitted)

    @property
    def ahead(self) -> tuple[Ahead, ...]:
        """The batches ahead at the place that is first in doubt."""
        return min(
            (station.ahead for station in self.stations),
            key=lambda ahead: min((step.chance for step in ahead), default=2.0),
        )

    @property
    def in_stock(self) -> int:
        return int(self.stock.available)

    @property
    def usual_life(self) -> float | None:
        return None if self.model is None else self.model.weibull.mean

    def usual_life_of(self, fitting: Fitting | None) -> float | None:
        """Mean life of one reground so often and in that work."""
        model = self.model if fitting is None else self.models[fitting.pk]
        return None if model is None else model.weibull.mean

    def is_implausible(self, fitting: Fitting) -> bool:
        """Whether it ran so much longer than any other that a change may not have been logged."""
        return fitting.pk in self.left_out


@dataclass(frozen=True)
class UsualUse:
    """Life that one knife, or one part made in house, uses of an item in one operation."""

    owner: str
    operation: str
    amount: Decimal


def outlook(day: date) -> list[CutterOutlook]:
    """Every wearing item that is fitted or that a batch ahead uses, by code.

    Batches in work come first, with what is not yet logged of them; then planned and reserved ones
    in the order of their start.
    """
    batches = batches_ahead()
    jobs = jobs_ahead(batches, day)
    codes = {code for job in jobs for code in job}
    fitted = fitted_now().order_by().values("item")
    items = list(Item.objects.filter(code__in=codes) | Item.objects.filter(pk__in=fitted))
    return _outlooks(items, batches, jobs, day)


def outlook_of(item: Item, day: date) -> CutterOutlook:
    """The same for one item."""
    batches = batches_ahead()
    return _outlooks([item], batches, jobs_ahead(batches, day), day)[0]


def usual_uses(fitting: Fitting) -> list[UsualUse]:
    """What one knife of each active bill uses of it in its pocket, for logging without typing."""
    lines = (
        WearLine.objects.filter(item=fitting.item, operation__bill__status="active")
        .filter(Q(machine=None) | Q(machine=fitting.machine, pocket__in=["", fitting.pocket]))
        .select_related("operation__bill__product", "operation__bill__made_item")
    )
    return [
        UsualUse(
            (line.operation.bill.product or line.operation.bill.made_item).code,
            line.operation.name,
            line.life_per_knife,
        )
        for line in lines
    ]


def _outlooks(
    items: Sequence[Item], batches: Sequence[Batch], jobs: Sequence[Jobs], day: date
) -> list[CutterOutlook]:
    stock = stock_by_item(day, [item.pk for item in items])
    book = LifeBook(items)
    fitted, reground = fitted_by_item(items), reground_by_item(items)
    confidence = float(Shop.objects.get().wear_confidence)
    return [
        _outlook(
            item,
            Supply(book, fitted[item.pk], reground[item.pk], stock[item.pk]),
            [(batch, job[item.code]) for batch, job in zip(batches, jobs, strict=True)],
            confidence_for(item, confidence),
        )
        for item in sorted(items, key=lambda item: item.code)
    ]


def _outlook(
    item: Item,
    supply: Supply,
    jobs: Sequence[tuple[Batch, dict[WearPlace, Decimal]]],
    confidence: float,
) -> CutterOutlook:
    own = [(batch, job) for batch, job in jobs if any(job.values())]
    stations = stations_of({place for _, job in own for place in job}, supply.fitted)
    model = supply.book.now(item).model
    views = tuple(
        StationOutlook(
            station.fitted, _ahead(item, station, own, supply.book) if model else (), confidence
        )
        for station in stations
    )
    check = None
    if model is not None and own and any(_is_in_doubt(view, own[0][0]) for view in views):
        check = check_one(item, own[0][1], supply, confidence)
    return CutterOutlook(
        item=item,
        stations=views,
        stock=supply.stock,
        reground=len(supply.reground),
        model=model,
        models={one.pk: supply.book.model_of(item, one) for one in supply.fitted},
        first_batch=own[0][0] if own else None,
        next_batch=check,
        left_out=supply.book.left_out,
    )


def _ahead(
    item: Item,
    station: Station,
    own: Sequence[tuple[Batch, dict[WearPlace, Decimal]]],
    book: LifeBook,
) -> tuple[Ahead, ...]:
    first = station.fitted[0] if station.fitted else None
    model = book.model_of(item, first) if first else book.now(item).model
    used = float(first.life_used) if first else 0.0
    total, steps = NOTHING, []
    for batch, jobs in own:
        if job := station.job_of(jobs):
            total += job
            steps.append(Ahead(batch, job, survives(model, used, float(total))))
    return tuple(steps)


def _is_in_doubt(view: StationOutlook, batch: Batch) -> bool:
    """Whether a batch uses it there and none is fitted, or the one fitted may not last."""
    step = next((step for step in view.ahead if step.batch == batch), None)
    return step is not None and (not view.fitted or step.chance < view.confidence)
