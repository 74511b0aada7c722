"""The weight of one small part, from a sample weighed together."""

from decimal import Decimal

from inventory.actions.request import action
from inventory.errors import WrongUnit
from inventory.models import Item, User
from inventory.weighing import weight_of_one


@action
def weigh_sample(*, item: Item, sample: int, weight: Decimal, by: User | None = None) -> Item:
    """Keep what one piece weighs, in g, and how many were weighed; an earlier weight is replaced.

    Refuses an item that isn't kept by count.
    """
    if item.stock_unit != Item.Unit.EACH or item.is_service:
        raise WrongUnit(f"{item.code} isn't kept by count. Weigh it full and empty instead.")
    item.weight_of_one_g = weight_of_one(sample, weight)
    item.weighed_sample = sample
    item.save(update_fields=["weight_of_one_g", "weighed_sample"])
    return item
