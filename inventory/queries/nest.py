"""How much of what batches cut of an item became parts, as planned and as it was really cut."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from inventory.cutting import PiecePlan, Plan, plan_from_json
from inventory.models import Batch, CutPlan, Item, Movement, Piece
from inventory.models.piece import size_in_stock_unit

LAST_BATCHES = 20
NOTHING = Decimal(0)


@dataclass(frozen=True)
class Nest:
    """Sums over batches, in the item's stock unit: parts cut, and what they were cut out of.

    planned and taken leave out the remnants that went back to the rack.
    """

    batches: int
    parts: Decimal
    planned: Decimal
    taken: Decimal

    @property
    def planned_yield(self) -> Decimal:
        return self.parts / self.planned

    @property
    def real_yield(self) -> Decimal:
        return self.parts / self.taken


def nest_of(item: Item) -> Nest | None:
    """The nest of the last batches that cut the item; None when there were none."""
    started = CutPlan.objects.filter(
        item=item, batch__state__in=[Batch.State.IN_WORK, Batch.State.FINISHED]
    )
    stored = dict(
        started.order_by("-batch__started_on")[:LAST_BATCHES].values_list("batch", "plan")
    )
    taken = _taken(item, stored)
    plans = [plan_from_json(stored[batch]["plan"]) for batch in taken]
    if not plans:
        return None
    labels = [cut.piece for plan in plans for cut in plan.rack_pieces]
    sizes = {piece.label: piece.quantity for piece in Piece.objects.filter(label__in=labels)}
    return Nest(
        batches=len(plans),
        parts=sum(map(_parts, plans), NOTHING),
        planned=sum((_planned(plan, sizes) for plan in plans), NOTHING),
        taken=sum(taken.values(), NOTHING),
    )


def _taken(item: Item, batches: Mapping[int, object]) -> dict[int, Decimal]:
    """Net of remnants and undone cuts, by batch; those whose cuts were all undone left out."""
    moves = Movement.objects.filter(item=item, posting__batch__in=list(batches)).order_by()
    sums = moves.values_list("posting__batch").annotate(Sum("qty"))
    return {batch: -qty for batch, qty in sums if qty < 0}


def _parts(plan: Plan) -> Decimal:
    boxes = [(part.w, part.h) for cut in plan.rack_pieces for part in cut.placed]
    return sum((size_in_stock_unit(w, h or None) for w, h in boxes), NOTHING)


def _planned(plan: Plan, sizes: Mapping[str, Decimal]) -> Decimal:
    return sum((sizes[cut.piece] - _kept(cut) for cut in plan.rack_pieces), NOTHING)


def _kept(cut: PiecePlan) -> Decimal:
    return sum((size_in_stock_unit(w, h or None) for _, _, w, h in cut.remnants), NOTHING)
