"""Pieces cut as a cutting plan says."""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal

from inventory.actions.cut_piece import PieceCut, Size, cut_pieces
from inventory.cutting import PiecePlan
from inventory.errors import NotEnough
from inventory.models import Batch, User
from inventory.queries.material_plan import MaterialPlan


def cut_by_plan(
    material: MaterialPlan,
    *,
    day: date,
    kept: Mapping[str, Sequence[Size]] | None = None,
    batch: Batch | None = None,
    reason: str = "batch",
    note: str = "",
    by: User | None = None,
) -> Decimal:
    """Cut every piece of a plan and return what the material cost; part of other actions.

    kept: remnants really kept, by label of their piece; those of the others as planned.
    Raises: NotEnough when the rack doesn't yield everything.
    """
    item = material.item
    if material.missing:
        wanted = ", ".join(f"{qty} for {kit}" for kit, qty in material.plan.missing.items() if qty)
        raise NotEnough(
            f"{item.code}: the pieces here don't yield {wanted}. "
            f"Receive {material.to_buy or 'more'} full pieces, or build fewer."
        )
    cuts = [_as_cut(material, planned, kept or {}) for planned in material.plan.rack_pieces]
    if not cuts:
        return Decimal(0)
    posting = cut_pieces(cuts, day=day, batch=batch, reason=reason, note=note, by=by)
    return -sum(move.qty * move.unit_cost for move in posting.movements.all())


def _as_cut(
    material: MaterialPlan, planned: PiecePlan, kept: Mapping[str, Sequence[Size]]
) -> PieceCut:
    piece = material.pieces[planned.piece]
    is_bar = piece.width_um is None
    as_planned = [(w, None if is_bar else h) for _, _, w, h in planned.remnants]
    labels = material.labels.get(planned.piece, ())
    remnants, numbers = _in_order_of_plan(kept.get(planned.piece, as_planned), as_planned)
    return PieceCut(
        piece,
        [(part.w, None if is_bar else part.h, 1) for part in planned.placed],
        remnants,
        [labels[number] for number in numbers] if labels else (),
    )


def _in_order_of_plan(
    kept: Sequence[Size], planned: Sequence[Size]
) -> tuple[list[Size], list[int]]:
    """Remnants kept, those that stand for a planned one first, and the numbers of these.

    The label of a planned remnant is written on it at the saw, so it goes with the size closest.
    """
    pairs = sorted(
        (_apart(size, other), number, which)
        for which, size in enumerate(kept)
        for number, other in enumerate(planned)
    )
    number_of: dict[int, int] = {}
    for _, number, which in pairs:
        if which not in number_of and number not in number_of.values():
            number_of[which] = number
    others = [size for which, size in enumerate(kept) if which not in number_of]
    return [*(kept[which] for which in number_of), *others], list(number_of.values())


def _apart(size: Size, other: Size) -> int:
    return abs(size[0] - other[0]) + abs((size[1] or 0) - (other[1] or 0))
