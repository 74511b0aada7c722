"""What can still be made from one piece: how many blanks of each bill it yields."""

from dataclasses import dataclass

from inventory.cutting import Rules, usable_for
from inventory.models import BomLine, Item, Piece, Product
from inventory.queries.bills import BlankSize, blank_of
from inventory.queries.material_plan import part_to_cut, rack_piece
from inventory.queries.stock import uses_of


@dataclass(frozen=True)
class StillMade:
    """Blanks of one line of a bill that a piece yields, when nothing else is cut from it."""

    line: BomLine
    owner: Product | Item
    size: BlankSize
    blanks: int

    @property
    def knives(self) -> int:
        """Whole knives, or parts, that so many blanks are enough for."""
        return int(self.blanks // self.line.qty)


def still_made_from(piece: Piece) -> list[StillMade]:
    """For every active bill that cuts this item, the most useful first; squaring trim deducted."""
    item = piece.lot.item
    found = [
        StillMade(use.line, use.owner, size, _yield(piece, item, size))
        for use in uses_of(item)
        if not use.wears and (size := blank_of(use.line))
    ]
    return sorted(found, key=lambda made: (-made.blanks, made.owner.code, made.line.pk))


def _yield(piece: Piece, item: Item, size: BlankSize) -> int:
    return usable_for(
        part_to_cut(item, "blank", size), rack_piece(item, piece), Rules(item.kerf_um)
    )
