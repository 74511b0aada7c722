"""What a batch in work really takes: by the knives that reached each step."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from django.db.models import Sum

from forecasting.explosion import Bill, Build, WearNeed, explode
from inventory.models import Batch, Fitting, Item, Movement, WearLog
from inventory.queries.batch_needs import Started, batch_builds
from inventory.queries.cutters import fitted_now


@dataclass(frozen=True)
class ProposedWear:
    """Life a batch used of one item; on the fitting that is in the machine, if any."""

    item: Item
    life: Decimal
    fitting: Fitting | None


def built_so_far(batch: Batch, planned: Sequence[Started] | None = None) -> list[Build]:
    """The batch's builds with the knives that really entered each step; uncounted steps as planned.

    planned: the batch's lines, when they were read before.
    """
    stages: dict[int, list] = defaultdict(list)
    lines = list(batch.lines.prefetch_related("stages"))
    for line in lines:
        stages[line.pk] = list(line.stages.all())
    builds = []
    for line, started in zip(lines, planned or batch_builds(batch), strict=True):
        steps = len(started.build.bill.steps)
        entering = [line.start_qty, *(stage.good for stage in stages[line.pk])][:steps]
        entering += [entering[-1]] * (steps - len(entering))
        builds.append(replace(started.build, entering=tuple(entering)))
    return builds


def made_parts_used(batch: Batch) -> dict[str, Decimal]:
    """Parts made in house that the batch took from stock, by item code."""
    taken: dict[str, Decimal] = defaultdict(Decimal)
    moves = Movement.objects.filter(posting__batch=batch, item__kind=Item.Kind.MADE)
    for code, qty in moves.values_list("item__code", "qty"):
        taken[code] -= qty
    return taken


def made_parts_due(
    builds: list[Build], made_used: Mapping[str, Decimal], bills: Mapping[str, Bill]
) -> list[tuple[Item, Decimal]]:
    """Parts still to take from stock, or (below zero) taken for knives that never got to them.

    Only parts that must be made ahead are still to take; others are made within the batch.
    """
    made = {part.item: part for part in explode(builds, bills, made_used).made}
    due = {code: Decimal(part.to_make) for code, part in made.items() if part.wait_days}
    for code, taken in made_used.items():
        needed = made[code].needed if code in made else Decimal(0)
        if taken > needed:
            due[code] = needed - taken
    items = Item.objects.in_bulk(due, field_name="code")
    return [(items[code], qty) for code, qty in sorted(due.items()) if qty]


def proposed_use(
    builds: list[Build], made_used: Mapping[str, Decimal], bills: Mapping[str, Bill]
) -> list[tuple[Item, Decimal]]:
    """Quantity of every item not kept in pieces; pieces were cut when the batch started."""
    totals: dict[str, Decimal] = defaultdict(Decimal)
    for need in explode(builds, bills, made_used).needs:
        totals[need.item] += need.qty
    items = Item.objects.in_bulk(totals, field_name="code")
    return [
        (items[code], items[code].in_whole_units(qty))
        for code, qty in sorted(totals.items())
        if not items[code].in_pieces
    ]


def wear_logged(batches: Iterable[Batch]) -> dict[int, dict[str, Decimal]]:
    """Life already logged on each batch, by batch id and item code."""
    logged: dict[int, dict[str, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
    rows = WearLog.objects.filter(batch__in=batches).order_by()
    by_item = rows.values_list("batch", "fitting__item__code").annotate(Sum("amount"))
    for batch, code, life in by_item:
        logged[batch][code] = life
    return logged


def proposed_wear(
    builds: list[Build],
    made_used: Mapping[str, Decimal],
    bills: Mapping[str, Bill],
    logged: Mapping[str, Decimal],
) -> list[ProposedWear]:
    """Life still to log of every wearing item; the most worn fitting of an item goes first.

    logged: by item code, what was logged on the batch before, at the machine.
    """
    life: dict[str, Decimal] = defaultdict(Decimal)
    needs: tuple[WearNeed, ...] = explode(builds, bills, made_used).wear
    for need in needs:
        life[need.item] += need.life
    life = {code: max(used - logged.get(code, 0), Decimal(0)) for code, used in life.items()}
    items = Item.objects.in_bulk(life, field_name="code")
    fitted: dict[int, Fitting] = {}
    for fitting in fitted_now().filter(item__in=items.values()).order_by("life_used"):
        fitted[fitting.item_id] = fitting
    return [
        ProposedWear(items[code], used, fitted.get(items[code].pk))
        for code, used in sorted(life.items())
    ]


def fitted_by_then(rows: Iterable[ProposedWear], day: date) -> dict[int, Decimal]:
    """Fitting id -> life, of what is fitted now and was on that day."""
    return {
        row.fitting.pk: row.life
        for row in rows
        if row.fitting is not None and row.fitting.fitted_on <= day and row.life
    }
