"""One stocked item against what a batch needs of it."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from forecasting.explosion import Explosion, Need
from inventory.cutting import AimName
from inventory.models import Item, Offer
from inventory.queries.arrivals import Arrival, covered_on
from inventory.queries.availability import Stock
from inventory.queries.batch_needs import needs_by_item
from inventory.queries.bills import BlankSize
from inventory.queries.material_plan import MaterialPlan, kit_of, plan_material
from inventory.queries.shelf import Shelf

NOTHING = Decimal(0)


@dataclass(frozen=True)
class MaterialCheck:
    """Need and stock of one item, in its stock unit.

    need: to take. short: missing. For items kept in pieces, parts are the blanks to cut (size ->
    count), material holds the cutting plan, and short is the full pieces to buy.
    covered: first day on which a shortage could be covered, by what covered_by says.
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

    @property
    def is_short(self) -> bool:
        return self.short > 0

    @property
    def pieces_short(self) -> int:
        """Full pieces to buy for what the rack doesn't yield."""
        return self.material.to_buy if self.material else 0

    def suffices(self, needs: Sequence[Need]) -> bool:
        """Whether what is here would do for these needs instead."""
        if self.material is None:
            qty = self.item.in_whole_units(sum((need.qty for need in needs), NOTHING))
            return qty <= self.stock.available
        return all(count <= self.material.can_make.get(kit, 0) for kit, count in map(kit_of, needs))


def check_materials(
    shelf: Shelf, exploded: Explosion, aim: AimName = "bought"
) -> list[MaterialCheck]:
    """Check every item an explosion takes, in the order of their codes; aim as in plan_material."""
    return [
        check_material(shelf, shelf.items[code], needs, aim)
        for code, needs in sorted(needs_by_item(exploded.needs).items())
    ]


def check_material(
    shelf: Shelf, item: Item, needs: Sequence[Need], aim: AimName = "bought"
) -> MaterialCheck:
    """Check one item: pieces by a cutting plan, everything else by quantity."""
    offer = shelf.offers.get(item.pk)
    stock = shelf.stock_of(item)
    parts: dict[BlankSize, int] = defaultdict(int)
    material = None
    if item.in_pieces:
        material = plan_material(item, needs, shelf.rack(item), offer, aim=aim)
        for need in needs:
            parts[need.cut] += int(need.qty)
        need_qty = sum((_size(size) * count for size, count in parts.items()), NOTHING)
        short = _pieces_missing(material, offer)
    else:
        need_qty = item.in_whole_units(sum((need.qty for need in needs), NOTHING))
        short = max(need_qty - stock.available, NOTHING)
    arrivals = shelf.arrivals.get(item.pk, [])
    covered, by = covered_on(short, arrivals, offer, shelf.day) if short else (shelf.day, "")
    return MaterialCheck(
        item, need_qty, stock, short, dict(parts), material, tuple(arrivals), covered, by
    )


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
