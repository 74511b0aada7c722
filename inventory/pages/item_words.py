"""What an item is easily taken for, and how it is mixed, in words."""

from decimal import Decimal

from inventory.models import Item
from inventory.queries.look_alikes import look_alikes
from inventory.queries.mixing import Mix
from inventory.units import show_length, show_number

HUNDRED = Decimal(100)


def alike_words(item: Item) -> str:
    """Which items are easily taken for this one, with both exact sizes; empty for none."""
    others = look_alikes(item)
    if not others:
        return ""
    told = "; ".join(f"{other.code} is {exact_size(other)}" for other in others)
    return f"Easily mistaken: {item.code} is {exact_size(item)}, {told}. Mark them at the rack."


def exact_size(item: Item) -> str:
    """4 mm (0.157 in) thick, 40 mm (1.575 in) wide."""
    sizes = [(item.thickness_um, "thick"), (item.width_um, "wide")]
    return ", ".join(
        f"{show_length(um)} ({show_length(um, 'in')}) {way}" for um, way in sizes if um
    )


def ratio_words(mix: Mix) -> str:
    """100 : 43 by weight; 100 : 50 by volume."""
    ways = [(mix.by_weight, "by weight"), (mix.by_volume, "by volume")]
    told = [f"100 : {show_number(share * HUNDRED, 1)} {way}" for share, way in ways if share]
    if not mix.by_volume or not mix.by_weight:
        missing = "by volume" if mix.by_weight else "by weight"
        told.append(f"{missing} it takes the densities of both")
    return "; ".join(told)
