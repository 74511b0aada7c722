"""Which lives answer for a cutter, and what they say: unlike work and regrinds are kept apart."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from decimal import Decimal

from forecasting.errors import BadInput
from forecasting.life_groups import split_lives
from forecasting.tool_life import LifeModel, LifeRecord, Prior, life_model
from inventory.models import Fitting, Item
from inventory.queries.cutters import prior_of, records_of, too_long


@dataclass(frozen=True)
class Work:
    """What a cutter does: its work material, and speed, feed and depth; empty where not noted."""

    material: str = ""
    cutting_data: str = ""

    @classmethod
    def of(cls, fitting: Fitting) -> "Work":
        return cls(fitting.work_material, fitting.cutting_data)


ANY_WORK = Work()


@dataclass(frozen=True)
class Judged:
    """The lives that are counted, the newest first, and what they say.

    model: None while neither a usual life nor a failure is known.
    """

    lives: tuple[Fitting, ...]
    model: LifeModel | None


class LifeBook:
    """Used lives of the items' present revisions; one set aside and fitted again is one life.

    left_out: ids of lives too long to be true, of any revision; nothing is worked out from them.
    """

    def __init__(self, items: Iterable[Item]) -> None:
        self._items = {item.pk: item for item in items if item.wears}
        self._lives: dict[int, list[Fitting]] = defaultdict(list)
        self._fitted: dict[int, list[Fitting]] = defaultdict(list)
        self._judged: dict[tuple[int, Work, int], Judged] = {}
        lives = Fitting.objects.filter(item__in=self._items, continued_by__isnull=True)
        lives = list(lives.order_by("-fitted_on", "-pk"))
        self.left_out = self._too_long(lives)
        for one in lives:
            if one.is_fitted:
                self._fitted[one.item_id].append(one)
            is_present = one.revision == self._items[one.item_id].revision
            if is_present and one.life_used > 0 and one.pk not in self.left_out:
                self._lives[one.item_id].append(one)

    def judged(self, item: Item, work: Work = ANY_WORK, regrinds: int = 0) -> Judged:
        """Lives of cutters reground so often, in that work alone where others are unlike.

        New ones start from the item's usual life. Reground ones start from how long they lasted
        before that regrind, and are moved by their own lives only.
        """
        key = item.pk, work, regrinds
        if key not in self._judged:
            self._judged[key] = self._judge(item, work, regrinds)
        return self._judged[key]

    def now(self, item: Item) -> Judged:
        """New ones in the work done now."""
        return self.judged(item, self.work_now(item))

    def model_of(self, item: Item, fitting: Fitting) -> LifeModel | None:
        """For one fitted, or ready to be: by its work and its regrinds."""
        return self.judged(item, Work.of(fitting), fitting.regrinds).model

    def work_now(self, item: Item) -> Work:
        """Of what is fitted, where that is one and the same."""
        fitted = self._fitted[item.pk]
        return Work(
            _only({one.work_material for one in fitted}),
            _only({one.cutting_data for one in fitted}),
        )

    def _too_long(self, lives: Iterable[Fitting]) -> frozenset[int]:
        kinds: dict[tuple[int, int], list[Fitting]] = defaultdict(list)
        for one in lives:
            kinds[one.item_id, one.revision].append(one)
        return frozenset(
            one.pk
            for (item, _), of_kind in kinds.items()
            for one in too_long(of_kind, self._items[item].rated_life)
        )

    def _judge(self, item: Item, work: Work, regrinds: int) -> Judged:
        lives = [life for life in self._lives[item.pk] if life.regrinds == regrinds]
        prior = prior_of(item)
        if regrinds:
            prior = _after_a_regrind(self.judged(item, work, regrinds - 1).model, regrinds)
        alone = []
        for trait, value in (("work_material", work.material), ("cutting_data", work.cutting_data)):
            own = [life for life in lives if getattr(life, trait) == value]
            if value and _are_unlike(own, [life for life in lives if life not in own]):
                lives = own
                alone.append(value)
        return Judged(tuple(lives), model_of_lives(lives, prior, alone, regrinds))


def known_life_models(items: Iterable[Item]) -> dict[int, LifeModel]:
    """Life of a new one by item id, of the items of which a usual life or a failure is known."""
    wearing = [item for item in items if item.wears]
    book = LifeBook(wearing)
    models = {item.pk: book.now(item).model for item in wearing}
    return {pk: model for pk, model in models.items() if model is not None}


@dataclass(frozen=True)
class MeanLife:
    """Life that the cost of a new one is divided by, and where it is known from, in words."""

    amount: Decimal
    known_from: str


def mean_lives(items: Iterable[Item]) -> dict[int, MeanLife]:
    """By item id: the mean that the forecast takes once one has failed here, else the usual life.

    An item of which neither is known is left out.
    """
    wearing = {item.pk: item for item in items if item.wears}
    found = {
        pk: MeanLife(item.rated_life, "usual life")
        for pk, item in wearing.items()
        if item.rated_life
    }
    for pk, model in known_life_models(wearing.values()).items():
        if model.failures:
            mean = round(Decimal(model.weibull.mean), 6)
            lives = "life" if model.failures == 1 else "lives"
            found[pk] = MeanLife(mean, f"mean life, learned from {model.failures} {lives}")
    return found


def model_of_lives(
    lives: Sequence[Fitting],
    prior: Prior | None,
    alone: Sequence[str] = (),
    regrinds: int = 0,
) -> LifeModel | None:
    """What lives say, with words of which they are; None where they and the prior say nothing."""
    with suppress(BadInput):
        model = life_model(records_of(lives), prior)
        words = f"Lives in {' at '.join(alone)} alone, the others are unlike. " if alone else ""
        kind = f"{reground_words(regrinds).capitalize()} ones alone. " if regrinds else ""
        return replace(model, words=f"{words}{kind}{model.words}") if words or kind else model
    return None


def reground_words(regrinds: int) -> str:
    """How often one was reground, in words."""
    return {0: "new", 1: "reground once"}.get(regrinds, f"reground {regrinds} times")


def _after_a_regrind(before: LifeModel | None, regrinds: int) -> Prior | None:
    if before is None:
        return None
    weibull = before.weibull
    kind = "new ones" if regrinds == 1 else f"those {reground_words(regrinds - 1)}"
    return Prior(weibull.mean, weibull.shape, source=f"how long {kind} last")


def _are_unlike(own: Sequence[Fitting], others: Sequence[Fitting]) -> bool:
    groups: Mapping[str, list[LifeRecord]] = {
        "these": records_of(own),
        "others": records_of(others),
    }
    return split_lives(groups).differ


def _only(values: set[str]) -> str:
    return values.pop() if len(values) == 1 else ""
