"""What lies on the rack but is too small for a job."""

from inventory.models import Item, Piece
from inventory.queries.bills import BlankSize
from inventory.queries.material_plan import MaterialPlan


def too_small(material: MaterialPlan) -> list[Piece]:
    """Pieces of the rack that hold not one of the parts to cut, squaring trim deducted."""
    return sorted(
        (
            piece
            for piece in material.pieces.values()
            if not any(_holds(piece, material.item, size) for size in material.blanks.values())
        ),
        key=lambda piece: piece.label,
    )


def _holds(piece: Piece, item: Item, size: BlankSize) -> bool:
    trim = 0 if piece.squared else item.trim_um
    length = piece.length_um - trim
    if piece.width_um is None:
        return size.length_um <= length
    width = piece.width_um - trim
    if size.length_um <= length and size.width_um <= width:
        return True
    may_turn = size.may_turn or not item.has_grain
    return may_turn and size.width_um <= length and size.length_um <= width
