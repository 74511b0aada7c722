"""What finished batches really took of each item, against their bills."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Count, Q, Sum

from forecasting.explosion import Build, Need, explode
from forecasting.learned_use import AS_THE_BILL, LearnedUse, learned_use
from inventory.models import Batch, BatchLine, Item, Movement, Offer, Posting
from inventory.queries.arrivals import current_offers
from inventory.queries.batch_needs import builds_of_lines, records_of
from inventory.queries.batch_use import built_of_lines
from inventory.queries.bills import BlankSize, made_bills_then, made_revisions
from inventory.queries.part_share import stock_units_of_part

__all__ = ["AS_THE_BILL", "LearnedUse", "learned_by_item"]

MEMORY = timedelta(days=730)
MOST_BATCHES = 60


def learned_by_item(day: date) -> dict[int, LearnedUse]:
    """How real use stands to the bills, by item id, from the batches of the last two years.

    Parts made in house are left out; what they are made of counts where a batch made them itself,
    by the bill of that time. What a batch took and all of it was undone is left out: how much it
    really was stands elsewhere, if at all.
    """
    batches = Batch.objects.filter(
        state=Batch.State.FINISHED, finished_on__lte=day, finished_on__gt=day - MEMORY
    ).order_by("-finished_on", "-pk")[:MOST_BATCHES]
    items = Item.objects.exclude(kind__in=[Item.Kind.MADE, Item.Kind.SERVICE])
    by_code = {item.code: item for item in items}
    offers = current_offers(day)
    taken = _taken_by_batch(batches)
    from_stock = _made_parts_by_batch(batches)
    begun, built = _builds_by_batch(batches)
    revisions = made_revisions()

    def compared(builds: dict[int, list[Build]]) -> dict[int, list[tuple[float, float]]]:
        pairs: dict[int, list[tuple[float, float]]] = defaultdict(list)
        for batch in batches:
            bills = made_bills_then(batch.started_on, revisions)
            needs = explode(builds[batch.pk], bills, from_stock[batch.pk]).needs
            for pk, amount in _expected(needs, by_code, offers).items():
                really = taken[batch.pk].get(pk, 0.0)
                if really is not None:
                    pairs[pk].append((amount, really))
        return pairs

    seen, foreseen = compared(built), compared(begun)
    return {pk: learned_use(pairs, foreseen.get(pk, ())) for pk, pairs in seen.items()}


def _taken_by_batch(batches: Iterable[Batch]) -> dict[int, dict[int, float | None]]:
    """Net of what went back, by batch and item; None where all of it was undone."""
    taken: dict[int, dict[int, float | None]] = defaultdict(dict)
    moves = Movement.objects.filter(posting__batch__in=[batch.pk for batch in batches])
    rows = moves.order_by().values_list("posting__batch", "item")
    undone = Count("pk", filter=Q(kind=Posting.Kind.REVERSE))
    for batch, item, qty, reversals in rows.annotate(Sum("qty"), reversals=undone):
        taken[batch][item] = None if reversals and not qty else -float(qty)
    return taken


def _builds_by_batch(
    batches: Iterable[Batch],
) -> tuple[dict[int, list[Build]], dict[int, list[Build]]]:
    """What was begun, by batch, and what was built: the knives that reached each step."""
    lines = BatchLine.objects.filter(batch__in=[batch.pk for batch in batches]).order_by("pk")
    lines = list(lines.select_related("product").prefetch_related("options", "stages"))
    records = records_of(lines)
    of_batch: dict[int, list[BatchLine]] = defaultdict(list)
    for line in lines:
        of_batch[line.batch_id].append(line)
    started = {batch.pk: builds_of_lines(of_batch[batch.pk], records) for batch in batches}
    begun = {pk: [line.build for line in lines] for pk, lines in started.items()}
    built = {pk: built_of_lines(of_batch[pk], lines) for pk, lines in started.items()}
    return begun, built


def _made_parts_by_batch(batches: Iterable[Batch]) -> dict[int, dict[str, Decimal]]:
    """Parts made in house that batches took from stock, by batch and item code."""
    taken: dict[int, dict[str, Decimal]] = defaultdict(dict)
    moves = Movement.objects.filter(
        posting__batch__in=[batch.pk for batch in batches], item__kind=Item.Kind.MADE
    )
    rows = moves.order_by().values_list("posting__batch", "item__code")
    for batch, code, qty in rows.annotate(Sum("qty")):
        taken[batch][code] = -qty
    return taken


def _expected(
    needs: Iterable[Need], items: Mapping[str, Item], offers: Mapping[int, Offer]
) -> dict[int, float]:
    """By the bill; cut parts as shares of full pieces."""
    expected: dict[int, float] = defaultdict(float)
    for need in needs:
        item = items[need.item]
        expected[item.pk] += _stock_units(need, item, offers.get(item.pk))
    return expected


def _stock_units(need: Need, item: Item, offer: Offer | None) -> float:
    if isinstance(need.cut, BlankSize):
        return float(need.qty) * stock_units_of_part(item, need.cut, offer)
    return float(max(need.qty, Decimal(0)))
