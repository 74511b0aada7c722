"""What a thumb does with a lot or a piece: how much and what for by one tap, never typed."""

from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone

from inventory.models import Balance, Item, Lot, Piece, Place, User
from inventory.pages import display
from inventory.pages.reasons import purpose_of, purposes
from inventory.queries.item_shelf import ItemShelf
from inventory.queries.lot_at_hand import LotAtHand, last_taken, lot_among, lot_at_hand
from inventory.units import parse_quantity

COUNTS = [*map(str, range(1, 11)), "12", "20", "50", "100"]
AMOUNTS = {
    "each": COUNTS,
    "g": ["5 g", "10 g", "20 g", "50 g", "100 g", "200 g", "500 g"],
    "oz": ["0.25 oz", "0.5 oz", "1 oz", "2 oz", "4 oz", "8 oz", "16 oz"],
    "mL": ["5 mL", "10 mL", "20 mL", "50 mL", "100 mL", "200 mL", "500 mL"],
}
MOVED = {**AMOUNTS, "each": ["1", "2", "5", "10"]}
MOST_PLACES = 12
RECENT_LOTS = 3


@dataclass(frozen=True)
class Chip:
    """One tap: `value` is what the form sends."""

    value: str
    label: str


@dataclass(frozen=True)
class LotHand:
    """What is done to one lot besides using it. taken_for: what was taken of it last was for."""

    lot: Lot
    place: Place | None
    scraps: list[Chip]
    returns: list[Chip]
    finds: list[Chip]
    moves: list[Chip]
    places: list[Place]
    taken_for: str


@dataclass(frozen=True)
class Hand:
    """What is done to an item, or to one lot of it.

    lot: None takes what expires first. of_lot: None when there are several lots to choose from.
    """

    item: Item
    lot: Lot | None
    uses: list[Chip]
    purposes: list[tuple[str, str]]
    of_lot: LotHand | None
    lots: list[Lot]


@dataclass(frozen=True)
class PieceHand:
    """What is done to a whole piece. size: as the form of a measured piece reads it, exact."""

    piece: Piece
    is_here: bool
    was_taken: bool
    taken_for: str
    size: str
    purposes: list[tuple[str, str]]
    places: list[Place]


def hand_of_lot(lot: Lot, user: User) -> Hand:
    here = lot_at_hand(lot, timezone.localdate())
    item = lot.item
    uses = chips(item, user, most=here.free)
    return Hand(item, lot, uses, purposes(), _rest_of(here, user), [])


def hand_of_item(shelf: ItemShelf, user: User) -> Hand:
    """The same for an item that isn't kept in pieces."""
    item = shelf.item
    lots = list({balance.lot_id: balance.lot for balance in shelf.balances}.values())
    if not lots:
        lots = list(item.lots.order_by("-received_on", "-pk")[:RECENT_LOTS])
    free = sum((qty for _, qty in shelf.free), Decimal(0))
    of_lot = None
    if len(lots) == 1:
        lots[0].item = item
        of_lot = _rest_of(lot_among(lots[0], shelf.balances, shelf.free), user)
    return Hand(item, None, chips(item, user, most=free), purposes(), of_lot, lots)


def hand_of_piece(piece: Piece, balance: Balance | None) -> PieceHand:
    taken = None if balance else last_taken(piece.lot, piece)
    sides = [piece.length_um, *([piece.width_um] if piece.width_um else [])]
    return PieceHand(
        piece=piece,
        is_here=balance is not None,
        was_taken=taken is not None,
        taken_for=purpose_of(taken),
        size=" x ".join(f"{Decimal(side) / 1000}" for side in sides) + " mm",
        purposes=purposes(),
        places=other_places(piece.lot.item, balance.place if balance else None),
    )


def chips(
    item: Item,
    user: User,
    most: Decimal | None = None,
    amounts: dict[str, list[str]] = AMOUNTS,
) -> list[Chip]:
    """Amounts below `most` in the reader's unit, and all of it; without `most`, all amounts."""
    unit = item.stock_unit
    steps = amounts["oz" if unit == "g" and user.mass_unit == "oz" else unit]
    if most is None:
        return [Chip(step, step) for step in steps]
    if not most:
        return []
    below = [Chip(step, step) for step in steps if parse_quantity(step, unit) < most]
    whole = f"{most.normalize():f}" + ("" if unit == Item.Unit.EACH else f" {unit}")
    return [*below, Chip(whole, f"all {display.quantity_text(most, unit, user)}")]


def other_places(item: Item, where: Place | None) -> list[Place]:
    """Places to move to: the item's own first, the shop's shelves, then vendors'."""
    places = Place.objects.exclude(pk=where.pk if where else None).select_related("supplier")
    own_first = sorted(
        places,
        key=lambda place: (place.pk != item.place_id, bool(place.supplier_id), place.name),
    )
    return own_first[:MOST_PLACES]


def _rest_of(here: LotAtHand, user: User) -> LotHand:
    item = here.lot.item
    return LotHand(
        lot=here.lot,
        place=here.place,
        scraps=chips(item, user, most=here.there),
        returns=chips(item, user, most=here.out),
        finds=chips(item, user),
        moves=chips(item, user, most=here.there, amounts=MOVED)[::-1],
        places=other_places(item, here.place),
        taken_for=purpose_of(last_taken(here.lot)),
    )
