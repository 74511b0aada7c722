"""What a batch in work really takes: by the knives that reached each step."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from django.db.models import Sum

from forecasting.explosion import Bill, Build, WearNeed, explode
from inventory.models import Batch, BatchLine, Fitting, Item, Movement, WearLog
from inventory.queries.batch_needs import Started, batch_builds
from inventory.queries.cutters import fitted_by_item
from inventory.queries.wear_places import ANYWHERE, WearPlace, narrowest, stations_of


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
    lines = list(batch.lines.prefetch_related("stages"))
    return built_of_lines(lines, planned or batch_builds(batch))


def built_of_lines(lines: Iterable[BatchLine], planned: Iterable[Started]) -> list[Build]:
    """The same for the lines of one batch, read with their stages."""
    builds = []
    for line, started in zip(lines, planned, strict=True):
        steps = len(started.build.bill.steps)
        entering = [line.start_qty, *(stage.good for stage in line.stages.all())][:steps]
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


class WearDone:
    """Life already logged on a batch, by item code and by where it was fitted."""

    def __init__(self) -> None:
        self._done: dict[str, dict[WearPlace, Decimal]] = defaultdict(lambda: defaultdict(Decimal))

    def add(self, code: str, place: WearPlace, life: Decimal) -> None:
        self._done[code][place] += life

    def left_of(self, code: str, asked: Mapping[WearPlace, Decimal]) -> dict[WearPlace, Decimal]:
        """What is still to log at each place; what was logged elsewhere is taken off the others."""
        left, over = dict(asked), Decimal(0)
        for pocket, life in self._done[code].items():
            home = narrowest(left, pocket)
            if home is None:
                over += life
            else:
                left[home] -= life
        for place in left:
            taken = min(max(left[place], Decimal(0)), over)
            left[place], over = max(left[place], Decimal(0)) - taken, over - taken
        return left


def wear_logged(batches: Iterable[Batch]) -> dict[int, WearDone]:
    """Life already logged on each batch, by batch id."""
    logged: dict[int, WearDone] = defaultdict(WearDone)
    rows = WearLog.objects.filter(batch__in=batches).order_by()
    by_pocket = rows.values_list(
        "batch", "fitting__item__code", "fitting__machine", "fitting__pocket"
    )
    for batch, code, machine, pocket, life in by_pocket.annotate(Sum("amount")):
        logged[batch].add(code, WearPlace(machine, pocket), life)
    return logged


def proposed_wear(
    builds: list[Build],
    made_used: Mapping[str, Decimal],
    bills: Mapping[str, Bill],
    logged: WearDone,
) -> list[ProposedWear]:
    """Life still to log of every wearing item, a row for each place where the bills wear it.

    The most worn fitting of a place goes first. logged: on the batch before, at the machine.
    """
    life: dict[str, dict[WearPlace, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
    needs: tuple[WearNeed, ...] = explode(builds, bills, made_used).wear
    for need in needs:
        life[need.item][need.place or ANYWHERE] += need.life
    items = Item.objects.in_bulk(life, field_name="code")
    fitted = fitted_by_item(items.values())
    rows = []
    for code, asked in sorted(life.items()):
        left = logged.left_of(code, asked)
        for station in stations_of(left, fitted[items[code].pk]):
            first = station.fitted[0] if station.fitted else None
            rows.append(ProposedWear(items[code], station.job_of(left), first))
    return rows


def taken_out_during(batch: Batch, rows: Sequence[ProposedWear]) -> list[tuple[Fitting, int]]:
    """Cutters taken out since the batch began with nothing logged for it, each with its row.

    They may have done part of what is proposed for the one that is in their pocket now, or all of it
    where the pocket is empty. None of a batch that hasn't begun.
    """
    if batch.started_on is None:
        return []
    gone = (
        Fitting.objects.filter(
            item__in=[row.item for row in rows],
            removed_on__gte=batch.started_on,
            continued_by__isnull=True,
        )
        .exclude(logs__batch=batch)
        .select_related("item", "machine")
        .order_by("removed_on", "pk")
    )
    pockets = {
        (row.item.pk, row.fitting.machine_id, row.fitting.pocket): number
        for number, row in enumerate(rows)
        if row.fitting is not None and row.life
    }
    empty = {
        row.item.pk: number for number, row in enumerate(rows) if row.fitting is None and row.life
    }
    found = []
    for one in gone:
        number = pockets.get((one.item_id, one.machine_id, one.pocket), empty.get(one.item_id))
        if number is not None:
            found.append((one, number))
    return found


def fitted_by_then(rows: Iterable[ProposedWear], day: date) -> dict[int, Decimal]:
    """Fitting id -> life, of what is fitted now and was on that day."""
    return {
        row.fitting.pk: row.life
        for row in rows
        if row.fitting is not None and row.fitting.fitted_on <= day and row.life
    }
