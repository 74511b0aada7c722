"""How long each kind of cutter lasted here, and one cutter's own record."""

from collections import Counter
from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import numpy as np
from django.db.models import Q, QuerySet

from forecasting.kaplan_meier import KaplanMeier, kaplan_meier
from forecasting.tool_life import LifeModel
from forecasting.wear_curve import WearLife, life_at_wear
from inventory.models import Fitting, Item, WearLog, WearReading
from inventory.queries.cutters import FAILED, prior_of, too_long
from inventory.queries.life_book import Judged, LifeBook, known_life_models, model_of_lives
from inventory.queries.life_traits import (
    SideBySide,
    Trait,
    lives_to_tell,
    operations_of,
    reader,
    side_by_side,
)

POINTS = 61
IN_USE = "still in use"


@dataclass(frozen=True)
class Share:
    """How many of the lives of a kind ended for one reason."""

    reason: str
    count: int
    share: float


@dataclass(frozen=True)
class CurvePoint:
    """Share still good after a life: as fitted, and the range that holds it 9 times in 10."""

    life: float
    fitted: float
    low: float
    high: float


@dataclass(frozen=True)
class KindOfCutter:
    """Everything known about the life of one kind.

    lives: all of them; counted: those the rest is worked out from, that is used lives of new ones of
    the item's present revision, in the work done now where other work is unlike (or of one kind of
    work, when asked for). left_out: too long to be true, so not counted. model: None while neither a usual life nor a failure is known. steps:
    share still good by the records alone; None without a failure.
    b10, median: life, and its range 9 times in 10.
    """

    item: Item
    lives: list[Fitting]
    counted: list[Fitting]
    left_out: list[Fitting]
    shares: list[Share]
    model: LifeModel | None
    steps: KaplanMeier | None
    curve: list[CurvePoint]

    @property
    def side_by_side(self) -> list[SideBySide]:
        """The lives told apart by whatever they differ in."""
        believed = [life for life in self.lives if life not in self.left_out]
        return side_by_side(believed, self.item.revision)

    @property
    def leaves_reground_out(self) -> bool:
        """Whether there are lives of reground ones, and none of them is counted."""
        reground = [life for life in self.lives if life.regrinds and life.life_used]
        return bool(reground) and not any(life.regrinds for life in self.counted)

    @property
    def failed_unlogged(self) -> list[Fitting]:
        """Worn or broken with nothing logged on them: they can't be counted."""
        return [life for life in self.lives if life.end_reason in FAILED and not life.life_used]

    @property
    def still_good(self) -> list[float]:
        """Lives that hadn't ended in a failure when last noted."""
        return [float(life.life_used) for life in self.counted if life.end_reason not in FAILED]

    @property
    def b10(self) -> tuple[float, float, float]:
        return self._life_gone_by(0.1)

    @property
    def median(self) -> tuple[float, float, float]:
        return self._life_gone_by(0.5)

    def _life_gone_by(self, share: float) -> tuple[float, float, float]:
        low, high = self.model.around.life_interval(share)
        return self.model.weibull.life_failed_by(share), low, high


def kind_of_cutter(item: Item, work: tuple[Trait, str] | None = None) -> KindOfCutter:
    """Lives, end reasons and the fit of one kind; of one kind of work where that is asked for."""
    lives = list(lives_of(item))
    book = LifeBook([item])
    judged = book.now(item) if work is None else _in_work(lives, book, item, *work)
    counted = list(judged.lives)
    return KindOfCutter(
        item,
        lives,
        counted,
        [life for life in lives if life.pk in book.left_out],
        _shares(counted),
        judged.model,
        _steps(counted),
        _curve(judged.model, counted),
    )


def _in_work(
    lives: Sequence[Fitting], book: LifeBook, item: Item, trait: Trait, name: str
) -> Judged:
    """Lives of which a trait reads so; an earlier revision is looked for among all lives."""
    among = lives_to_tell(trait, lives, item.revision)
    read = reader(trait, operations_of(among))
    chosen = [life for life in among if read(life) == name and life.pk not in book.left_out]
    if trait == Trait.GRINDING and chosen:
        return book.judged(item, book.work_now(item), chosen[0].regrinds)
    return Judged(tuple(chosen), model_of_lives(chosen, prior_of(item)))


def life_model_of(item: Item) -> LifeModel | None:
    """Life model of one kind; None while neither a usual life nor a failure is known."""
    return known_life_models([item]).get(item.pk)


def lives_of(item: Item) -> QuerySet[Fitting]:
    """Every life of a kind, the newest first; one set aside and fitted again is one life."""
    return (
        Fitting.objects.filter(item=item, continued_by__isnull=True)
        .select_related("machine", "lot", "item")
        .order_by("-fitted_on", "-pk")
    )


def is_implausible(fitting: Fitting) -> bool:
    """Whether its life is too long to be true, so that nothing is worked out from it."""
    return fitting.pk in LifeBook([fitting.item]).left_out


def would_be_implausible(fitting: Fitting, more: Decimal) -> bool:
    """Whether so much more would make its life too long to be true, and it isn't yet."""
    if is_implausible(fitting):
        return False
    of_kind = lives_of(fitting.item).filter(revision=fitting.revision).exclude(pk=fitting.pk)
    longer = copy(fitting)
    longer.life_used += more
    return longer in too_long([*of_kind, longer], fitting.item.rated_life)


def fittings() -> QuerySet[Fitting]:
    return Fitting.objects.select_related("item", "machine", "lot", "continues")


def logs_of(fitting: Fitting) -> list[WearLog]:
    """Life logged on it, the newest first; a taken-back entry and its negative both stay."""
    return list(fitting.logs.select_related("batch", "reversed_by", "reverses"))


def readings_of(fitting: Fitting) -> list[WearReading]:
    """Wear land readings of the cutter, the earlier fittings of the same one included."""
    ids = [fitting.pk]
    earlier = fitting.continues
    while earlier is not None:
        ids.append(earlier.pk)
        earlier = earlier.continues
    read = WearReading.objects.filter(fitting__in=ids).select_related("fitting")
    return list(read.order_by("life_at", "pk"))


def wear_life(readings: Sequence[WearReading], limit_um: int | None) -> WearLife | None:
    """Where the readings cross the limit; None without a limit or a measured reading.

    What was only seen by eye is a gap between the measured ones.
    """
    newest: dict[Decimal, int | None] = {}
    for reading in readings:
        seen = newest.get(reading.life_at)
        newest[reading.life_at] = seen if reading.vb_um is None else reading.vb_um
    if not limit_um or not any(vb is not None for vb in newest.values()):
        return None
    return life_at_wear([float(at) for at in newest], list(newest.values()), limit_um)


def in_a_machine_on(day: date) -> QuerySet[Fitting]:
    """What was fitted on a day, whether or not it was taken out since."""
    still_in = Q(removed_on__isnull=True) | Q(removed_on__gte=day)
    return fittings().filter(still_in, fitted_on__lte=day, continued_by__isnull=True)


def set_aside() -> QuerySet[Fitting]:
    """Cutters removed while still good, which may be fitted again."""
    return Fitting.objects.filter(
        end_reason=Fitting.EndReason.REMOVED_EARLY,
        continued_by__isnull=True,
        sent_out__isnull=True,
    ).select_related("item")


def _shares(lives: Sequence[Fitting]) -> list[Share]:
    counts = Counter(life.get_end_reason_display() or IN_USE for life in lives)
    return [Share(reason, count, count / len(lives)) for reason, count in counts.most_common()]


def _steps(lives: Sequence[Fitting]) -> KaplanMeier | None:
    failed = [life.end_reason in FAILED for life in lives]
    if not any(failed):
        return None
    return kaplan_meier([float(life.life_used) for life in lives], failed)


def _curve(model: LifeModel | None, lives: Sequence[Fitting]) -> list[CurvePoint]:
    if model is None:
        return []
    longest = max((float(life.life_used) for life in lives), default=0.0)
    end = max(longest, model.weibull.life_failed_by(0.97))
    points = []
    for life in np.linspace(0.0, end, POINTS):
        chances = model.around.survival_chances(0.0, float(life))
        low, high = np.quantile(chances, [0.05, 0.95])
        points.append(
            CurvePoint(float(life), model.weibull.survival(float(life)), float(low), float(high))
        )
    return points
