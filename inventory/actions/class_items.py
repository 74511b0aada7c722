"""Items classed anew by value and use; done with every forecast run."""

from datetime import date

from inventory.actions.request import action
from inventory.models import Item, User
from inventory.queries.stock_classes import StockClass, stock_classes

NO_CLASS = StockClass("", "")


@action
def class_items(*, as_of: date, by: User | None = None) -> None:
    """Write the classes of the last twelve whole months to every item."""
    classes = stock_classes(as_of)
    items = list(Item.objects.all())
    for item in items:
        found = classes.get(item.pk, NO_CLASS)
        item.value_class, item.use_class = found.value, found.use
    Item.objects.bulk_update(items, ["value_class", "use_class"])
