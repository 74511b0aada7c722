"""What a pack or a full piece of an item is today, by the offer it would be ordered on."""

from datetime import date

from inventory.models import Item, Offer
from inventory.packs import Pack
from inventory.queries.arrivals import current_offers

PIECE_OF_KIND = {Item.Kind.BAR: "bar", Item.Kind.SHEET: "sheet", Item.Kind.WEBBING: "roll"}


def pack_of(item: Item, day: date) -> Pack | None:
    """The pack of the current offer; None when nobody offers the item."""
    offer = current_offers(day, [item.pk]).get(item.pk)
    return pack_in(offer) if offer else None


def pack_in(offer: Offer) -> Pack:
    """The pack as one offer states it."""
    in_pieces = offer.item.in_pieces
    return Pack(
        name=offer.pack_name,
        qty=offer.pack_qty,
        piece=PIECE_OF_KIND.get(offer.item.kind, "") if in_pieces else "",
        size=(offer.piece_length_um, offer.piece_width_um) if in_pieces else None,
        pieces=offer.pieces_per_pack or 1,
    )
