"""One stocked item against what a batch needs of it."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from typing import Any

from forecasting.explosion import Explosion, Need
from inventory.cutting import AimName
from inventory.models import Item, Offer
from inventory.queries.arrivals import Arrival, covered_on
from inventory.queries.availability import Stock
from inventory.queries.batch_needs import needs_by_item
from inventory.queries.bills import BlankSize
from inventory.queries.lot_match import lots_of, match_lots, must_match, sets_of
from inventory.queries.material_plan import MaterialPlan, kit_of, plan_material
from inventory.queries.shelf import Shelf

NOTHING = Decimal(0)
FINEST = Decimal("0.000001")


@dataclass(frozen=True)
class MaterialCheck:
    """Need and stock of one item, in its stock unit.

    need: to take. short: missing. For items kept in pieces, parts are the blanks to cut (size ->
    count), material holds the cutting plan, and short is the full pieces to buy.
    covered: first day on which a shortage could be covered, by what covered_by says.
    lots: free of each lot, where lots may not be mixed; by_lot: what to take of each then. split:
    enough is here in total, but not in one lot.
    """

    item: Item
    need: Decimal
    stock: Stock
    short: Decimal
    parts: dict[BlankSize, int] = field(default_factory=dict)
    material: MaterialPlan | None = None
    arrivals: tuple[Arrival, ...] = ()
    covered: date | None = None
    covered_by: str = ""
    lots: dict[int, Decimal] = field(default_factory=dict)
    by_lot: dict[int, Decimal] = field(default_factory=dict)
    split: bool = False

    @property
    def is_short(self) -> bool:
        return self.short > 0

    @property
    def pieces_short(self) -> int:
        """Full pieces to buy for what the rack doesn't yield."""
        return self.material.to_buy if self.material else 0

    def suffices(self, needs: Sequence[Need]) -> bool:
        """Whether what is here would do for these needs instead."""
        if self.lots and match_lots(self.lots, sets_of(self.item, needs)).missing:
            return False
        if self.material is None:
            qty = self.item.in_whole_units(sum((need.qty for need in needs), NOTHING))
            return qty <= self.stock.available
        return all(count <= self.material.can_make.get(kit, 0) for kit, count in map(kit_of, needs))


def check_materials(
    shelf: Shelf, exploded: Explosion, aim: AimName = "bought"
) -> list[MaterialCheck]:
    """Check every item an explosion takes, in the order of their codes; aim as in plan_material."""
    taken = needs_by_item(exploded.needs)
    return [
        _check_pieces(shelf, shelf.items[code], needs, aim)
        if shelf.items[code].in_pieces
        else _check_quantity(shelf, shelf.items[code], needs, taken)
        for code, needs in sorted(taken.items())
    ]


def _check_pieces(shelf: Shelf, item: Item, needs: Sequence[Need], aim: AimName) -> MaterialCheck:
    offer = shelf.offers.get(item.pk)
    material = plan_material(item, needs, shelf.rack(item), offer, aim=aim)
    parts: dict[BlankSize, int] = defaultdict(int)
    for need in needs:
        parts[need.cut] += int(need.qty)
    need_qty = sum((_size(size) * count for size, count in parts.items()), NOTHING)
    short = _pieces_missing(material, offer)
    return MaterialCheck(
        item,
        need_qty,
        shelf.stock_of(item),
        short,
        dict(parts),
        material,
        **_coverage(shelf, item, short),
    )


def _check_quantity(
    shelf: Shelf, item: Item, needs: Sequence[Need], taken: Collection[str]
) -> MaterialCheck:
    need_qty = item.in_whole_units(sum((need.qty for need in needs), NOTHING))
    stock, other = _as_far_as_mixed(shelf, item, taken)
    short = max(need_qty - stock.available, NOTHING)
    matching: dict[str, Any] = {}
    if must_match(item):
        lots = lots_of(shelf.free.get(item.pk, []))
        matched = match_lots(lots, sets_of(item, needs))
        split = bool(matched.missing) and not short
        matching = {"lots": lots, "by_lot": matched.by_lot, "split": split}
        short = max(short, matched.missing)
    if other is not None and need_qty <= shelf.stock_of(item).available:
        coverage = _coverage(shelf, other[0], short * other[1])
    else:
        coverage = _coverage(shelf, item, short)
    return MaterialCheck(item, need_qty, stock, short, **coverage, **matching)


def _coverage(shelf: Shelf, item: Item, short: Decimal) -> dict[str, Any]:
    """When and by what a shortage could be covered."""
    arrivals = shelf.arrivals.get(item.pk, [])
    offer = shelf.offers.get(item.pk)
    covered, by = covered_on(short, arrivals, offer, shelf.day) if short else (shelf.day, "")
    return {"arrivals": tuple(arrivals), "covered": covered, "covered_by": by}


def _as_far_as_mixed(
    shelf: Shelf, item: Item, taken: Collection[str]
) -> tuple[Stock, tuple[Item, Decimal] | None]:
    """Stock of an item, and the part it is mixed with (and its share) where that one ends first.

    Of several that it may be mixed with, all count. A bill that takes both parts has both of them
    checked already.
    """
    stock, others = shelf.stock_of(item), shelf.mixed_with(item)
    if not others or any(other.code in taken for other, _ in others):
        return stock, None
    reach = sum(shelf.stock_of(other).available / share for other, share in others)
    if stock.available <= reach:
        return stock, None
    why = f"without {' or '.join(other.code for other, _ in others)}"
    idle = (stock.available - reach).quantize(FINEST)
    return replace(stock, unusable={**stock.unusable, why: idle}), others[0]


def _size(size: BlankSize) -> Decimal:
    if size.width_um:
        return Decimal(size.length_um * size.width_um).scaleb(-6)
    return Decimal(size.length_um).scaleb(-3)


def _pieces_missing(material: MaterialPlan, offer: Offer | None) -> Decimal:
    """Stock units of the full pieces to buy; of the parts themselves when nobody sells any."""
    if not material.missing:
        return NOTHING
    if material.to_buy and offer is not None:
        return offer.pack_qty / (offer.pieces_per_pack or 1) * material.to_buy
    return sum((_size(size) for size in material.blanks.values()), NOTHING) * material.missing
