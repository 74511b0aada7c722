"""Batches: the list, and one batch with its stages, what it holds, took and cost."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from django.db.models import Prefetch, QuerySet

from forecasting.explosion import Build
from inventory.models import (
    Balance,
    Batch,
    BatchLine,
    Item,
    Lot,
    Movement,
    Operation,
    Piece,
    Posting,
    Reservation,
    StageCount,
    WearLog,
)
from inventory.queries.batch_use import built_so_far

NOTHING = Decimal(0)
STATE = Batch.State


@dataclass(frozen=True)
class Stage:
    """One operation of a line: knives that reached it, and its count once there is one."""

    operation: Operation
    arrived: int
    count: StageCount | None
    is_next: bool


@dataclass(frozen=True)
class LineStages:
    """A line of a batch with all its stages in order."""

    line: BatchLine
    stages: list[Stage]

    @property
    def ahead(self) -> Stage | None:
        """The stage to count next; None when all are counted."""
        return next((stage for stage in self.stages if stage.is_next), None)

    @property
    def uncounted(self) -> list[Stage]:
        return [stage for stage in self.stages if stage.count is None]

    @property
    def good(self) -> int:
        """Knives still good after the last stage counted."""
        counted = [stage.count.good for stage in self.stages if stage.count]
        return counted[-1] if counted else self.line.start_qty


@dataclass(frozen=True)
class BatchInWork:
    batch: Batch
    lines: list[LineStages]


@dataclass(frozen=True)
class Held:
    """Something held for a batch, and where it lies."""

    reservation: Reservation
    places: str


@dataclass(frozen=True)
class CutDone:
    """A piece that was cut for a batch, and the remnants kept of it."""

    posting: Posting
    piece: Piece
    remnants: list[Piece]


@dataclass(frozen=True)
class Taken:
    """What a batch took of one item, returns and undone entries deducted; in its stock unit."""

    item: Item
    qty: Decimal
    cost: Decimal
    lots: list[Lot]


def batches_with_lines() -> QuerySet[Batch]:
    """Batches with products and choices fetched along."""
    lines = BatchLine.objects.select_related("product").prefetch_related("options")
    return Batch.objects.prefetch_related(Prefetch("lines", lines))


def planned_until(last_start: date) -> QuerySet[Batch]:
    """Planned and reserved batches that are to start by a day, the earliest first."""
    return (
        batches_with_lines()
        .filter(state__in=[STATE.PLANNED, STATE.RESERVED], start_on__lte=last_start)
        .order_by("start_on", "pk")
    )


def batches_in_work() -> list[BatchInWork]:
    """Batches in work with their stages, the longest running first."""
    batches = list(batches_with_lines().filter(state=STATE.IN_WORK).order_by("started_on", "pk"))
    stages = stages_of_batches(batches) if batches else {}
    return [BatchInWork(batch, stages[batch.pk]) for batch in batches]


def line_stages(batch: Batch) -> list[LineStages]:
    """Every line with its stages, in three queries."""
    return stages_of_batches([batch])[batch.pk]


def stages_of_batches(batches: list[Batch]) -> dict[int, list[LineStages]]:
    """The same for several batches at once, by batch id."""
    operations = Operation.objects.select_related("service")
    lines = (
        BatchLine.objects.filter(batch__in=batches)
        .select_related("product", "bill")
        .prefetch_related(
            "options",
            Prefetch("bill__operations", operations),
            Prefetch("stages", StageCount.objects.order_by("operation__number")),
        )
    )
    found: dict[int, list[LineStages]] = defaultdict(list)
    for line in lines:
        found[line.batch_id].append(_stages(line))
    return found


def held_for(batch: Batch) -> list[Held]:
    """What a batch holds, in the order of the places to walk to."""
    rows = list(batch.reservations.filter(is_open=True).select_related("item", "lot", "piece"))
    places: dict[tuple[int, int | None], list[str]] = defaultdict(list)
    balances = Balance.objects.filter(lot__in={row.lot_id for row in rows})
    for balance in balances.select_related("place"):
        places[balance.lot_id, balance.piece_id].append(balance.place.name)
    held = [Held(row, ", ".join(places[row.lot_id, row.piece_id])) for row in rows]
    return sorted(
        held, key=lambda each: (each.places, each.reservation.item.code, each.reservation.pk)
    )


def cuts_of(batch: Batch) -> list[CutDone]:
    """Pieces cut for a batch; cuts that were undone are left out."""
    postings = Posting.objects.filter(
        batch=batch, kind=Posting.Kind.CUT, reversed_by__isnull=True
    ).prefetch_related(
        Prefetch("movements", Movement.objects.select_related("piece", "item", "lot"))
    )
    done = []
    for posting in postings.order_by("pk"):
        moves = list(posting.movements.all())
        for cut in (move for move in moves if move.qty < 0):
            cut.piece.lot = cut.lot
            cut.lot.item = cut.item
            kept = [move.piece for move in moves if move.piece.parent_id == cut.piece_id]
            done.append(CutDone(posting, cut.piece, kept))
    return done


def taken_by(batch: Batch) -> list[Taken]:
    """Everything a batch took from stock, by item code."""
    moves = Movement.objects.filter(posting__batch=batch).select_related("item", "lot")
    by_item: dict[int, list[Movement]] = defaultdict(list)
    for move in moves.order_by("item__code", "pk"):
        by_item[move.item_id].append(move)
    return [_taken(found) for found in by_item.values()]


def wear_of(batch: Batch) -> list[WearLog]:
    """Cutter life logged on a batch."""
    return list(
        batch.wear_logs.select_related("fitting__item", "fitting__machine").order_by(
            "fitting__item__code", "pk"
        )
    )


def builds_after(batch: Batch, scrapped: Mapping[tuple[int, int], int]) -> list[Build]:
    """The builds of a batch in work as they will have been with these scrapped at stages to come.

    scrapped: by (batch line id, operation id); a stage not named scraps none.
    """
    builds = []
    for line, build in zip(line_stages(batch), built_so_far(batch), strict=True):
        good, entering = line.line.start_qty, []
        for stage in line.stages:
            entering.append(good)
            lost = scrapped.get((line.line.pk, stage.operation.pk), 0)
            good = stage.count.good if stage.count else max(good - lost, 0)
        builds.append(replace(build, entering=tuple(entering)))
    return builds


def _stages(line: BatchLine) -> LineStages:
    counts = {count.operation_id: count for count in line.stages.all()}
    arrived, stages, found_next = line.start_qty, [], False
    for operation in line.bill.operations.all():
        count = counts.get(operation.pk)
        stages.append(Stage(operation, arrived, count, count is None and not found_next))
        found_next = found_next or count is None
        arrived = count.good if count else arrived
    return LineStages(line, stages)


def _taken(moves: list[Movement]) -> Taken:
    lots = {move.lot_id: move.lot for move in moves}
    by_lot: dict[int, Decimal] = defaultdict(Decimal)
    for move in moves:
        by_lot[move.lot_id] -= move.qty
    return Taken(
        item=moves[0].item,
        qty=sum(by_lot.values(), NOTHING),
        cost=sum((-move.qty * move.unit_cost for move in moves), NOTHING),
        lots=[lots[pk] for pk, qty in by_lot.items() if qty],
    )
