"""Will the fitted cutters last a batch, and how many spares to lay out."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from forecasting.errors import BadInput
from forecasting.explosion import WearNeed
from forecasting.tool_life import LifeModel, changes, spares_to_lay_out
from inventory.errors import Refused
from inventory.models import Fitting, Item
from inventory.queries.availability import Stock
from inventory.queries.cutters import fitted_now, life_models

WILL_LAST = "will last"
MAY_NOT_LAST = "may not last"
WILL_NOT_LAST = "will not last"
NOT_FITTED = "not fitted"
EVEN_CHANCE = 0.5


@dataclass(frozen=True)
class WearCheck:
    """One wearing item over a batch; lives in its life unit.

    job: life the batch uses. fitted: the most worn of it in a machine, which goes first.
    chance: that it survives the job. spares: others fitted and in stock. changes_expected, changes_95:
    changes on average, and not exceeded 19 times in 20. spares_wanted: to lay out for the shop's
    confidence.
    """

    item: Item
    job: Decimal
    model: LifeModel
    fitted: Fitting | None
    chance: float
    spares: int
    changes_expected: float
    changes_95: int
    spares_wanted: int
    confidence: float

    @property
    def short(self) -> int:
        return max(self.spares_wanted - self.spares, 0)

    @property
    def status(self) -> str:
        if self.fitted is None:
            return NOT_FITTED
        if self.lasts:
            return WILL_LAST
        return MAY_NOT_LAST if self.chance >= EVEN_CHANCE else WILL_NOT_LAST

    @property
    def lasts(self) -> bool:
        return self.fitted is not None and self.spares_wanted == 0

    def enough_for(self, job: Decimal) -> bool:
        """Whether the spares there suffice for a smaller job."""
        to_fit = 0 if self.fitted else 1
        wanted = spares_to_lay_out(self.model, float(self.used), float(job), self.confidence)
        return to_fit + wanted <= self.spares

    @property
    def used(self) -> Decimal:
        return self.fitted.life_used if self.fitted else Decimal(0)


def check_wear(
    needs: Iterable[WearNeed], stock: Mapping[int, Stock], confidence: float
) -> list[WearCheck]:
    """Check every wearing item of an explosion against what is fitted and in stock.

    Raises: Refused, naming an item of which no life is known.
    """
    job: dict[str, Decimal] = defaultdict(Decimal)
    for need in needs:
        job[need.item] += need.life
    items = Item.objects.in_bulk(job, field_name="code")
    models = _models(items.values())
    fitted = _fitted_by_item(item.pk for item in items.values())
    return [
        check_one(item, job[code], models[item.pk], fitted[item.pk], stock[item.pk], confidence)
        for code, item in sorted(items.items())
    ]


def check_one(
    item: Item,
    job: Decimal,
    model: LifeModel,
    fitted: list[Fitting],
    stock: Stock,
    confidence: float,
) -> WearCheck:
    """Check one item for a job of that much life.

    With none fitted, the first spare is fitted before the job and isn't a spare any more.
    """
    first = max(fitted, key=lambda fitting: fitting.life_used, default=None)
    used = float(first.life_used) if first else 0.0
    to_fit = 0 if first else 1
    expected = changes(model, used, float(job))
    return WearCheck(
        item=item,
        job=job,
        model=model,
        fitted=first,
        chance=expected.chance_of_none,
        spares=max(len(fitted) - 1, 0) + int(stock.available),
        changes_expected=expected.expected,
        changes_95=expected.p95,
        spares_wanted=to_fit + expected.spares(confidence),
        confidence=confidence,
    )


def _models(items: Collection[Item]) -> dict[int, LifeModel]:
    try:
        return life_models(items)
    except BadInput as error:
        unstated = ", ".join(item.code for item in items if item.rated_life is None)
        raise Refused(
            f"{unstated}: no usual life is stated and too few worn ones are on record to tell "
            "one. Enter the usual life on the item's page."
        ) from error


def _fitted_by_item(item_ids: Iterable[int]) -> dict[int, list[Fitting]]:
    by_item: dict[int, list[Fitting]] = defaultdict(list)
    for fitting in fitted_now().filter(item__in=list(item_ids)):
        by_item[fitting.item_id].append(fitting)
    return by_item
