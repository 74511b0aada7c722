"""Lives of one kind side by side: by revision, work material, operation, cutting data, regrinds."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from django.db.models import Sum

from forecasting.life_groups import LifeSplit, split_lives
from inventory.models import Fitting, WearLog
from inventory.queries.cutters import records_of
from inventory.queries.life_book import reground_words

NOT_NOTED = "not noted"


class Trait(StrEnum):
    """What lives of one kind may differ in, in words."""

    REVISION = "item revision"
    MATERIAL = "work material"
    OPERATION = "operation"
    DATA = "speed, feed and depth"
    GRINDING = "grinding"


@dataclass(frozen=True)
class SideBySide:
    """The lives of a kind told apart by one trait."""

    trait: Trait
    split: LifeSplit


def side_by_side(lives: Sequence[Fitting], revision: int) -> list[SideBySide]:
    """Every trait in which the used lives differ."""
    among = {trait: lives_to_tell(trait, lives, revision) for trait in Trait}
    operations = operations_of(among[Trait.OPERATION])
    found = [_told_apart(trait, among[trait], reader(trait, operations)) for trait in Trait]
    return [each for each in found if each is not None]


def lives_to_tell(trait: Trait, lives: Sequence[Fitting], revision: int) -> list[Fitting]:
    """Used lives among which a trait is told apart: all else but the trait is alike.

    Only revisions are compared beyond the present one, and only grinding beyond new ones.
    """
    used = [life for life in lives if life.life_used > 0]
    if trait != Trait.REVISION:
        used = [life for life in used if life.revision == revision]
    return used if trait == Trait.GRINDING else [life for life in used if not life.regrinds]


def reader(trait: Trait, operations: dict[int, str]) -> Callable[[Fitting], str]:
    """How to read a trait off a life."""
    return {
        Trait.REVISION: lambda life: f"revision {life.revision}",
        Trait.MATERIAL: lambda life: life.work_material or NOT_NOTED,
        Trait.OPERATION: lambda life: operations.get(life.pk, NOT_NOTED),
        Trait.DATA: lambda life: life.cutting_data or NOT_NOTED,
        Trait.GRINDING: lambda life: reground_words(life.regrinds),
    }[trait]


def operations_of(lives: Sequence[Fitting]) -> dict[int, str]:
    """The operation in which most of each life was used, by its id."""
    logged = (
        WearLog.objects.filter(fitting__in=[life.pk for life in lives])
        .exclude(operation="")
        .order_by()
        .values_list("fitting", "operation")
        .annotate(total=Sum("amount"))
    )
    most: dict[int, tuple[int, str]] = {}
    for fitting, operation, total in logged:
        most[fitting] = max(most.get(fitting, (total, operation)), (total, operation))
    return {fitting: operation for fitting, (_, operation) in most.items()}


def _told_apart(
    trait: Trait, lives: Sequence[Fitting], read: Callable[[Fitting], str]
) -> SideBySide | None:
    groups: dict[str, list[Fitting]] = defaultdict(list)
    for life in lives:
        groups[read(life)].append(life)
    if len(groups) < 2:
        return None
    records = {name: records_of(groups[name]) for name in sorted(groups)}
    return SideBySide(trait, split_lives(records))
