"""How good the kept forecasts were: over the shop, of each item, and of one item in turn."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Avg, Count, F, Q, QuerySet

from forecasting.coverage import FAILS, HOLDS, TOO_FEW, Coverage
from inventory.models import ForecastRun, ForecastScore, Item

__all__ = [
    "FAILS",
    "HOLDS",
    "ItemAccuracy",
    "ShopAccuracy",
    "item_accuracy",
    "runs_kept",
    "scores_of",
    "shop_accuracy",
]

MEMORY = timedelta(days=366)
LAST_SCORES = 12
AHEAD = ForecastScore.Ahead

JUDGED = Q(q95__gt=0, ran_out=False)
ABOVE, BELOW = Q(used__gt=F("q95")), Q(used__lt=F("q05"))
WORST_FIRST = (FAILS, HOLDS, TOO_FEW)


@dataclass(frozen=True)
class ShopAccuracy:
    """All items over one stretch; errors in usual changes, None while no scale is known.

    left_out: stretches left out because an item ran out. unexpected: used though nothing was expected.
    """

    ahead: str
    judged: int
    above: int
    below: int
    left_out: int
    unexpected: int
    mean_error: float | None
    mean_loss: float | None

    @property
    def share_held(self) -> float | None:
        return 1 - (self.above + self.below) / self.judged if self.judged else None

    @property
    def share_above(self) -> float | None:
        return self.above / self.judged if self.judged else None


@dataclass(frozen=True)
class ItemAccuracy:
    """One item; coverage: of the stretch whose range does worst, of those that can be told.

    above: misses of it in which more was used than the range says. unexpected: stretches in which
    it was used though nothing was expected; they are in no coverage, because those in which it was
    not used either aren't scored.
    """

    item: Item
    ahead: str
    coverage: Coverage
    above: int
    judged: int
    left_out: int
    unexpected: int
    mean_error: float | None
    mean_loss: float | None

    @property
    def verdict(self) -> str:
        return self.coverage.verdict

    @property
    def is_failing(self) -> bool:
        return self.verdict == FAILS

    @property
    def below(self) -> int:
        return self.coverage.missed - self.above


def shop_accuracy(day: date) -> list[ShopAccuracy]:
    """A row for each stretch that was scored in the last year."""
    rows = _last_year(day).order_by().values("ahead").annotate(**_FIGURES)
    by_ahead = {row["ahead"]: ShopAccuracy(**row) for row in rows}
    return [by_ahead[ahead] for ahead in AHEAD if ahead in by_ahead]


def item_accuracy(day: date, items: list[int] | None = None) -> list[ItemAccuracy]:
    """Every item scored in the last year, or those ids; ranges that fail first."""
    scores = _last_year(day)
    if items is not None:
        scores = scores.filter(item__in=items)
    figures: dict[int, dict[str, dict]] = defaultdict(dict)
    apart = Q(stands_apart=True)
    rows = scores.order_by().values("item", "ahead")
    for row in rows.annotate(
        **{name: figure for name, figure in _FIGURES.items() if name not in ("above", "below")},
        apart=Count("pk", filter=apart),
        apart_above=Count("pk", filter=apart & ABOVE),
        apart_below=Count("pk", filter=apart & BELOW),
    ):
        figures[row["item"]][row["ahead"]] = row
    known = Item.objects.in_bulk(figures)
    found = [_of_item(known[item], by_ahead) for item, by_ahead in figures.items()]
    return sorted(found, key=_worst_first)


def scores_of(item: Item) -> list[ForecastScore]:
    """The newest scores of one item."""
    return list(item.forecast_scores.order_by("-until", "-as_of")[:LAST_SCORES])


def runs_kept() -> int:
    return ForecastRun.objects.filter(state=ForecastRun.State.DONE).count()


_FIGURES = {
    "judged": Count("pk", filter=JUDGED),
    "above": Count("pk", filter=JUDGED & ABOVE),
    "below": Count("pk", filter=JUDGED & BELOW),
    "left_out": Count("pk", filter=Q(ran_out=True)),
    "unexpected": Count("pk", filter=Q(q95=0, ran_out=False)),
    "mean_error": Avg("error", filter=JUDGED),
    "mean_loss": Avg("loss", filter=JUDGED),
}


def _last_year(day: date) -> QuerySet[ForecastScore]:
    return ForecastScore.objects.filter(until__gt=day - MEMORY, until__lte=day)


def _of_item(item: Item, by_ahead: dict[str, dict]) -> ItemAccuracy:
    coverages = {
        ahead: Coverage(row["apart"], row["apart_above"] + row["apart_below"])
        for ahead, row in by_ahead.items()
    }
    ahead = min(
        coverages,
        key=lambda ahead: (
            WORST_FIRST.index(coverages[ahead].verdict),
            coverages[ahead].chance,
            list(AHEAD).index(ahead),
        ),
    )
    row = by_ahead[ahead]
    counts = {
        name: sum(each[name] for each in by_ahead.values())
        for name in ("judged", "left_out", "unexpected")
    }
    return ItemAccuracy(
        item=item,
        ahead=ahead,
        coverage=coverages[ahead],
        above=row["apart_above"],
        **counts,
        mean_error=row["mean_error"],
        mean_loss=row["mean_loss"],
    )


def _worst_first(each: ItemAccuracy) -> tuple[int, float, str]:
    return WORST_FIRST.index(each.verdict), each.coverage.chance, each.item.code
