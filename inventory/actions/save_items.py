"""Many items at once, as a list brings them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Q
from django.db.models.functions import Lower

from inventory.actions.catalogue import refuse_new_meaning
from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import Item, User
from inventory.queries.record_check import RecordCheck, record_check

NEEDED = ("code", "name", "kind")


@dataclass(frozen=True)
class ItemEntry:
    """Values of a new item, or of one that is there (as it is in the database) and changes."""

    values: Mapping[str, Any]
    item: Item | None = None


@action
def save_items(*, entries: Sequence[ItemEntry], by: User | None = None) -> int:
    """Make and change items, and return how many; all of them or none.

    Refuses what save_item refuses, naming the item.
    """
    check = record_check(Item)
    new, known, fields = [], [], set()
    for entry in entries:
        if entry.item is None:
            new.append(_checked(Item(**entry.values), entry.values, check))
        else:
            refuse_new_meaning(entry.item, entry.values)
            known.append(_checked(_changed(entry), entry.values, check))
            fields |= entry.values.keys()
    _refuse_taken_codes(new)
    Item.objects.bulk_create(new, batch_size=500)
    if fields:
        Item.objects.bulk_update(known, sorted(fields), batch_size=200)
    return len(entries)


def _changed(entry: ItemEntry) -> Item:
    for name, value in entry.values.items():
        setattr(entry.item, name, value)
    return entry.item


def _checked(item: Item, values: Mapping[str, Any], check: RecordCheck) -> Item:
    for field, fault in check.faults(item, {*values, *NEEDED}):
        label = f"{Item._meta.get_field(field).verbose_name}: " if field else ""
        raise Refused(f"{item.code or 'An item'} not saved. {label}{fault}")
    return item


def _refuse_taken_codes(new: Sequence[Item]) -> None:
    codes = [item.code for item in new]
    alike = Q(code__in=codes) | Q(lower__in=[code.lower() for code in codes])
    stored = Item.objects.annotate(lower=Lower("code")).filter(alike)
    taken = {code.lower(): code for code in stored.values_list("code", flat=True)}
    for code in codes:
        if other := taken.get(code.lower()):
            raise Refused(f"There is an item {other} already. Leave it out, or change that one.")
        taken[code.lower()] = code
