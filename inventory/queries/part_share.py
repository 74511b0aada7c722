"""What one cut part costs of the pieces it is cut from."""

from inventory.cutting import Rules, usable_for
from inventory.models import Item, Offer
from inventory.queries.bills import BlankSize
from inventory.queries.material_plan import full_piece, part_to_cut


def stock_units_of_part(item: Item, size: BlankSize, offer: Offer | None) -> float:
    """Stock units of a full piece, waste included, for one part: the piece shared by its yield.

    Without an offer, or when a full piece yields none, the part with one kerf.
    """
    if offer is not None and offer.piece_length_um:
        part, piece = part_to_cut(item, "part", size), full_piece(item, offer)
        count = usable_for(part, piece, Rules(kerf=item.kerf_um))
        if count:
            return float(offer.pack_qty / (offer.pieces_per_pack or 1)) / count
    length = (size.length_um + item.kerf_um) / 1000
    return length * (size.width_um + item.kerf_um) / 1000 if size.width_um else length
