"""A cutting plan for pieces and parts that stand in no record."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone

from forecasting.explosion import Need
from inventory.models import Item, Piece
from inventory.queries.availability import free_balances
from inventory.queries.bills import BlankSize
from inventory.queries.material_plan import MaterialPlan, plan_material
from inventory.queries.shelf import rack_of

Size = tuple[int, int | None]


@dataclass(frozen=True)
class LooseCuts:
    """pieces and parts: (length µm, width µm or None) -> count; all with a width, or none."""

    pieces: Mapping[Size, int]
    parts: Mapping[Size, int]
    kerf_um: int = 0
    trim_um: int = 0
    keep_um: int = 0
    has_grain: bool = False


def plan_loose_cuts(asked: LooseCuts) -> MaterialPlan:
    """Most parts from these pieces, then the largest remnant; the pieces are labelled 1, 2, 3."""
    flat = any(width is not None for _, width in asked.pieces)
    item = Item(
        stock_unit=Item.Unit.MM2 if flat else Item.Unit.MM,
        kerf_um=asked.kerf_um,
        trim_um=asked.trim_um,
        keep_length_um=asked.keep_um,
        keep_width_um=asked.keep_um,
        has_grain=asked.has_grain,
    )
    sizes = [size for size, count in sorted(asked.pieces.items()) for _ in range(count)]
    digits = len(str(len(sizes)))  # 01 to 12: labels are sorted as text
    rack = [
        Piece(label=f"{number:0{digits}}", length_um=length, width_um=width)
        for number, (length, width) in enumerate(sizes, start=1)
    ]
    needs = [_need(size, count) for size, count in sorted(asked.parts.items())]
    return plan_material(item, needs, rack, aim="remnant")


def rack_sizes(item: Item) -> dict[Size, int]:
    """Sizes of the free pieces of an item, and how many there are of each."""
    rack = rack_of(free_balances(item, timezone.localdate()))
    return dict(Counter((piece.length_um, piece.width_um) for piece in rack))


def loose_name(size: BlankSize) -> str:
    """What a plan calls the parts of one size; each size is a kit of its own."""
    return f"{size.length_um} x {size.width_um}"


def _need(size: Size, count: int) -> Need:
    length, width = size
    blank = BlankSize(length, width or 0)
    return Need("", Decimal(count), Decimal(1), "knife", blank, loose_name(blank), 0, "")
