"""What a batch, planned or only asked about, takes of everything."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.db.models import QuerySet

from forecasting.explosion import Bill, Build, Explosion, Need, explode
from forecasting.rejects import StartQuantity, chance_of_enough, start_quantity
from inventory.errors import NotFound, Refused
from inventory.models import Batch, BatchLine, BillOfMaterials, Item, Product, ProductOption
from inventory.queries.bills import default_options, known_bill

LARGEST_BATCH = 2000


@dataclass(frozen=True)
class Wanted:
    """Good knives wanted of one product in its choices; start None: from the step yields."""

    product: Product
    qty: int
    options: tuple[ProductOption, ...] = ()
    start: int | None = None


@dataclass(frozen=True)
class Started:
    """A wanted line with its bill, and how many to start so that enough good ones finish."""

    wanted: Wanted
    record: BillOfMaterials
    build: Build
    start: StartQuantity


def find_product(code: str) -> Product:
    """Raises: NotFound, naming the codes there are."""
    product = Product.objects.filter(code__iexact=code.strip()).first()
    if product is None:
        known = ", ".join(Product.objects.filter(active=True).values_list("code", flat=True))
        raise NotFound(f"No product has the code {code}. There are: {known or 'none yet'}.")
    return product


def choose_options(product: Product, choices: Iterable[str]) -> tuple[ProductOption, ...]:
    """Options by choice or “group=choice”, the default for every group not named.

    Raises: NotFound, naming the choices there are.
    """
    there = list(product.options.all())
    chosen = {option.group: option for option in default_options(there)}
    for text in choices:
        group, _, choice = text.rpartition("=")
        fits = [
            option
            for option in there
            if option.choice.lower() == choice.strip().lower()
            and (not group or option.group.lower() == group.strip().lower())
        ]
        if len(fits) != 1:
            known = ", ".join(str(option) for option in there)
            raise NotFound(f"{product.code} has no choice “{text}”. There are: {known or 'none'}.")
        chosen[fits[0].group] = fits[0]
    return tuple(chosen[group] for group in sorted(chosen))


def start_builds(wanted: Sequence[Wanted], confidence: float) -> list[Started]:
    """Bills and start quantities, the usual choice of every group that isn't named.

    Raises: Refused for a product without bill, a choice it doesn't have or a silly number.
    """
    lines = [_with_usual_choices(line) for line in wanted]
    active = _records().filter(
        status=BillOfMaterials.Status.ACTIVE, product__in={line.product.pk for line in lines}
    )
    by_product = {record.product_id: record for record in active}
    return _told_apart(
        [_start(line, by_product.get(line.product.pk), confidence) for line in lines]
    )


def batch_builds(batch: Batch) -> list[Started]:
    """The same for a batch's own lines: its revisions, choices and start quantities stand."""
    lines = list(batch.lines.select_related("product").prefetch_related("options"))
    return builds_of_lines(lines, records_of(lines))


def records_of(lines: Iterable[BatchLine]) -> dict[int, BillOfMaterials]:
    """The revisions that lines of batches are built by, by id."""
    return _records().in_bulk({line.bill_id for line in lines})


def builds_of_lines(
    lines: Iterable[BatchLine], records: Mapping[int, BillOfMaterials]
) -> list[Started]:
    """The same for the lines of one batch, read with product and options."""
    return _told_apart(
        [
            _start(
                Wanted(line.product, line.wanted, tuple(line.options.all()), line.start_qty),
                records[line.bill_id],
                0.5,
            )
            for line in lines
        ]
    )


def items_of(lines: Iterable[Started], bills: Mapping[str, Bill]) -> list[int]:
    """Ids of every item the lines could take: parts made in house and what they are made of."""
    return items_in(explode([line.build for line in lines], bills, {}))


def items_in(exploded: Explosion) -> list[int]:
    """Ids of the items that an explosion takes or makes."""
    codes = {row.item for row in (*exploded.needs, *exploded.made)}
    return list(Item.objects.filter(code__in=codes).values_list("pk", flat=True))


def needs_by_item(needs: Iterable[Need]) -> dict[str, list[Need]]:
    """Needs gathered by item code; an item that isn't needed has none."""
    grouped: dict[str, list[Need]] = defaultdict(list)
    for need in needs:
        grouped[need.item].append(need)
    return grouped


def _records() -> QuerySet[BillOfMaterials]:
    return BillOfMaterials.objects.select_related("product").prefetch_related("operations")


def _told_apart(lines: list[Started]) -> list[Started]:
    """A product on two lines, in two colours, is two kits to cut: each line its own owner."""
    often = Counter(line.build.bill.owner for line in lines)
    seen: Counter[str] = Counter()
    told = []
    for line in lines:
        owner = line.build.bill.owner
        if often[owner] > 1:
            choices = ", ".join(option.choice for option in line.wanted.options)
            owner = f"{owner} ({choices})" if choices else owner
            seen[owner] += 1
            owner = f"{owner} {seen[owner]}" if seen[owner] > 1 else owner
        bill = replace(line.build.bill, owner=owner)
        told.append(replace(line, build=replace(line.build, bill=bill)))
    return told


def _with_usual_choices(line: Wanted) -> Wanted:
    there = list(line.product.options.all())
    chosen = {option.group: option for option in default_options(there)}
    named = {option.group: option for option in line.options}
    if len(named) < len(line.options) or not set(line.options) <= set(there):
        raise Refused(
            f"{line.product.code}: choose one of each group of its own choices, but got "
            f"{', '.join(str(option) for option in line.options)}."
        )
    chosen |= named
    return replace(line, options=tuple(chosen[group] for group in sorted(chosen)))


def _start(line: Wanted, record: BillOfMaterials | None, confidence: float) -> Started:
    code = line.product.code
    if record is None:
        raise Refused(f"{code} has no active bill of materials. Write one before checking a batch.")
    if not 1 <= line.qty <= LARGEST_BATCH:
        raise Refused(f"{code}: ask for 1 to {LARGEST_BATCH} good knives, but got {line.qty}.")
    if line.start is not None and not line.qty <= line.start <= 2 * LARGEST_BATCH:
        raise Refused(f"{code}: {line.start} started can't give {line.qty} good ones.")
    bill = known_bill(record, line.options)
    start = start_quantity(line.qty, bill.yields, confidence)
    if line.start is not None:
        overall = start.expected_good / start.start
        start = StartQuantity(
            line.start,
            chance_of_enough(line.start, line.qty, overall),
            line.start * overall,
            start.entering,
        )
    return Started(line, record, Build(bill, start.start, line.qty), start)
