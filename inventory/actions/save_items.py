"""Many items at once, as a list brings them."""

from collections.abc import Sequence

from inventory.actions.catalogue import refuse_new_meaning
from inventory.actions.many_records import RecordEntry, write_by_code
from inventory.actions.request import action
from inventory.models import Item, User


@action
def save_items(*, entries: Sequence[RecordEntry], by: User | None = None) -> int:
    """Make and change items, and return how many; all of them or none.

    Refuses what save_item refuses, naming the item.
    """
    for entry in entries:
        if entry.record is not None:
            refuse_new_meaning(entry.record, entry.values)
    return len(write_by_code(Item, entries, needed=("code", "name", "kind")))
