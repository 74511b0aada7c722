"""Will what is in the machines last the batches ahead, one after the other."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Max

from forecasting.explosion import Build, explode
from forecasting.tool_life import LifeModel, survives
from inventory.models import Batch, BatchLine, Fitting, Item, Shop, WearLine
from inventory.queries.availability import Stock, stock_by_item
from inventory.queries.batch_use import wear_logged
from inventory.queries.bills import known_bill, made_bills
from inventory.queries.cutters import fitted_now, is_too_long, known_life_models
from inventory.queries.wear_check import WearCheck, check_one

NOTHING = Decimal(0)
STATE = Batch.State


@dataclass(frozen=True)
class Ahead:
    """One batch ahead: life it uses of the item, and the chance that the one now fitted is still
    good after it and all batches before it."""

    batch: Batch
    job: Decimal
    chance: float


@dataclass(frozen=True)
class CutterOutlook:
    """One wearing item over the batches ahead; lives in its life unit.

    fitted: the most worn first, which goes first. model: None while neither a usual life nor a
    failure is known. next_batch: the check of the first batch that uses it, when that needs spares.
    longest: the longest life that has ended.
    """

    item: Item
    fitted: tuple[Fitting, ...]
    stock: Stock
    model: LifeModel | None
    ahead: tuple[Ahead, ...]
    next_batch: WearCheck | None
    confidence: float
    longest: Decimal

    @property
    def in_stock(self) -> int:
        return int(self.stock.available)

    @property
    def usual_life(self) -> float | None:
        return None if self.model is None else self.model.weibull.mean

    @property
    def last_sure(self) -> Ahead | None:
        """The last batch that the fitted one sees through with the shop's confidence."""
        sure = [step for step in self.ahead if step.chance >= self.confidence]
        return sure[-1] if sure else None

    @property
    def first_doubt(self) -> Ahead | None:
        """The first batch that it may not see the end of."""
        return next((step for step in self.ahead if step.chance < self.confidence), None)

    def is_implausible(self, fitting: Fitting) -> bool:
        """Whether it ran so much longer than any before that a change may not have been logged."""
        return is_too_long(fitting.life_used, self.item, self.model, self.longest)


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
    jobs = _jobs(batches, day)
    fitted: dict[int, list[Fitting]] = defaultdict(list)
    for fitting in fitted_now().order_by("-life_used", "pk"):
        fitted[fitting.item_id].append(fitting)
    codes = {code for job in jobs for code in job}
    items = list(Item.objects.filter(code__in=codes) | Item.objects.filter(pk__in=fitted))
    return _outlooks(items, fitted, batches, jobs, day)


def outlook_of(item: Item, day: date) -> CutterOutlook:
    """The same for one item."""
    batches = batches_ahead()
    fitted = {item.pk: list(fitted_now().filter(item=item).order_by("-life_used", "pk"))}
    return _outlooks([item], fitted, batches, _jobs(batches, day), day)[0]


def batches_ahead() -> list[Batch]:
    """Batches in work, then those planned or reserved, in the order of their start."""
    open_ones = Batch.objects.filter(state__in=[STATE.PLANNED, STATE.RESERVED, STATE.IN_WORK])
    return sorted(
        open_ones.order_by("start_on", "pk"), key=lambda batch: batch.state != STATE.IN_WORK
    )


def usual_uses(item: Item) -> list[UsualUse]:
    """What one knife of each active bill uses of it, for logging without typing."""
    lines = WearLine.objects.filter(item=item, operation__bill__status="active").select_related(
        "operation__bill__product", "operation__bill__made_item"
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
    items: Sequence[Item],
    fitted: dict[int, list[Fitting]],
    batches: Sequence[Batch],
    jobs: Sequence[dict[str, Decimal]],
    day: date,
) -> list[CutterOutlook]:
    stock = stock_by_item(day, [item.pk for item in items])
    models = known_life_models(items)
    confidence = float(Shop.objects.get().wear_confidence)
    longest = _longest(items)
    return [
        _outlook(
            item,
            fitted.get(item.pk, []),
            stock[item.pk],
            models.get(item.pk),
            batches,
            jobs,
            confidence,
            longest.get(item.pk, NOTHING),
        )
        for item in sorted(items, key=lambda item: item.code)
    ]


def _outlook(
    item: Item,
    fitted: list[Fitting],
    stock: Stock,
    model: LifeModel | None,
    batches: Sequence[Batch],
    jobs: Sequence[dict[str, Decimal]],
    confidence: float,
    longest: Decimal,
) -> CutterOutlook:
    own = [
        (batch, job[item.code])
        for batch, job in zip(batches, jobs, strict=True)
        if job.get(item.code)
    ]
    ahead, check = (), None
    if model is not None and own:
        ahead = _ahead(own, model, fitted)
        if not fitted or ahead[0].chance < confidence:
            check = check_one(item, own[0][1], model, fitted, stock, confidence)
    return CutterOutlook(item, tuple(fitted), stock, model, ahead, check, confidence, longest)


def _ahead(
    own: Sequence[tuple[Batch, Decimal]], model: LifeModel, fitted: list[Fitting]
) -> tuple[Ahead, ...]:
    used = float(fitted[0].life_used) if fitted else 0.0
    total, steps = NOTHING, []
    for batch, job in own:
        total += job
        steps.append(Ahead(batch, job, survives(model, used, float(total))))
    return tuple(steps)


def _longest(items: Sequence[Item]) -> dict[int, Decimal]:
    """Longest life that has ended, by item id."""
    ended = Fitting.objects.filter(item__in=items, removed_on__isnull=False).order_by()
    return dict(ended.values_list("item").annotate(Max("life_used")))


def _jobs(batches: Sequence[Batch], day: date) -> list[dict[str, Decimal]]:
    """Life each batch still uses, by item code.

    Parts made in house that are there are used by the first batches that take them.
    """
    builds = _builds(batches)
    bills = made_bills()
    made = {item.code: item.pk for item in Item.objects.filter(kind=Item.Kind.MADE)}
    stock = stock_by_item(day, made.values())
    usable = {code: stock[pk].usable for code, pk in made.items()}
    logged = wear_logged(batches)
    jobs, before, so_far = [], defaultdict(Decimal), []
    for batch in batches:
        so_far += builds[batch.pk]
        total: dict[str, Decimal] = defaultdict(Decimal)
        for need in explode(so_far, bills, usable).wear:
            total[need.item] += need.life
        done = logged[batch.pk]
        jobs.append(
            {code: max(life - before[code] - done[code], NOTHING) for code, life in total.items()}
        )
        before = total
    return jobs


def _builds(batches: Sequence[Batch]) -> dict[int, list[Build]]:
    lines = BatchLine.objects.filter(batch__in=batches).select_related("bill")
    builds: dict[int, list[Build]] = defaultdict(list)
    for line in lines.prefetch_related("options"):
        bill = known_bill(line.bill, line.options.all())
        builds[line.batch_id].append(Build(bill, line.start_qty, line.wanted))
    return builds
