"""Bills of materials as the explosion wants them."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache

from django.db.models import Prefetch, QuerySet

from forecasting.explosion import Bill, Line, Step
from inventory.models import BillOfMaterials, BomLine, Operation, ProductOption
from inventory.queries.wear_places import place_of_line


@dataclass(frozen=True, order=True)
class BlankSize:
    """What is cut from a piece, allowances included; width 0 for bars and rolls."""

    length_um: int
    width_um: int = 0
    may_turn: bool = False


def bills_with_lines() -> QuerySet[BillOfMaterials]:
    """Bills with operations, lines and wear fetched along: four queries however many bills."""
    lines = BomLine.objects.select_related("item", "option")
    operations = Operation.objects.select_related("service").prefetch_related(
        Prefetch("lines", lines), "wear_lines__item", "wear_lines__machine"
    )
    return BillOfMaterials.objects.select_related("product", "made_item").prefetch_related(
        Prefetch("operations", operations)
    )


def made_bills() -> dict[str, Bill]:
    """Active bill of every part made in house, by item code."""
    active = BillOfMaterials.objects.filter(
        status=BillOfMaterials.Status.ACTIVE, made_item__isnull=False
    )
    return {
        record.made_item.code: known_bill(record) for record in active.select_related("made_item")
    }


def made_revisions() -> list[BillOfMaterials]:
    """All that were ever in force of parts made in house, the oldest first."""
    revisions = BillOfMaterials.objects.filter(made_item__isnull=False).exclude(
        status=BillOfMaterials.Status.DRAFT
    )
    return list(revisions.select_related("made_item").order_by("revision"))


def made_bills_then(
    day: date, revisions: Iterable[BillOfMaterials] | None = None
) -> dict[str, Bill]:
    """The same as it was on a day: the newest revision valid by then, else the first.

    revisions: from made_revisions, for whoever asks for many days.
    """
    found: dict[str, BillOfMaterials] = {}
    for record in made_revisions() if revisions is None else revisions:
        code = record.made_item.code
        if code not in found or record.valid_from <= day:
            found[code] = record
    return {code: known_bill(record) for code, record in found.items()}


def known_bill(record: BillOfMaterials, options: Iterable[ProductOption] = ()) -> Bill:
    """The same as bill_of, read from the database only once.

    A revision never changes, nor do the codes in it: an item that stands in a bill keeps its code.
    """
    return _known(record.pk, record.written_at, frozenset(option.pk for option in options))


@lru_cache(maxsize=1024)
def _known(pk: int, written_at: datetime, options: frozenset[int]) -> Bill:
    """The time tells apart two revisions that got one id, the first of them rolled back."""
    return _bill(bills_with_lines().get(pk=pk), options)


def bill_of(record: BillOfMaterials, options: Iterable[ProductOption] = ()) -> Bill:
    """The bill for the chosen options; lines of other choices are left out."""
    return _bill(record, {option.pk for option in options})


def _bill(record: BillOfMaterials, chosen: Collection[int]) -> Bill:
    owner = record.product.code if record.product else record.made_item.code
    return Bill(owner, tuple(_step(operation, chosen) for operation in record.operations.all()))


def default_options(options: Iterable[ProductOption]) -> list[ProductOption]:
    """One choice of every group: the default, else the first."""
    by_group: dict[str, ProductOption] = {}
    for option in options:
        if option.is_default or option.group not in by_group:
            by_group[option.group] = option
    return list(by_group.values())


def blank_of(line: BomLine) -> BlankSize | None:
    """Size to cut for a line of bar, sheet or webbing; None for anything else."""
    if line.cut_length_um is None:
        return None
    length, width = line.blank_um
    return BlankSize(length, width or 0, line.may_turn)


def _step(operation: Operation, chosen: Collection[int]) -> Step:
    lines = tuple(
        Line(line.item.code, line.per, line.qty, line.loss_share, blank_of(line))
        for line in operation.lines.all()
        if line.option_id is None or line.option_id in chosen
    )
    return Step(
        number=operation.number,
        name=operation.name,
        good_share=operation.good_share,
        setup_size=operation.setup_size,
        lines=lines,
        wear=tuple(
            (wear.item.code, wear.life_per_knife, place_of_line(wear))
            for wear in operation.wear_lines.all()
        ),
        service=operation.service.code if operation.service else None,
        wait_days=operation.wait_days,
    )
