"""Items, places, machines, suppliers, products: what the rest refers to."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

from inventory.actions.many_records import RecordEntry, refuse_faults, write_by_code
from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import Item, Machine, Place, Product, ProductOption, Supplier, User
from inventory.queries.record_check import record_check

LONGEST_PLACE = Place._meta.get_field("name").max_length


@action
def save_item(
    *, values: Mapping[str, Any], item: Item | None = None, by: User | None = None
) -> Item:
    """Make or change an item.

    Refuses what would give records another meaning: another stock unit once something has moved or
    a bill or offer speaks in it, made in house or not and service or not once it is used, another
    life unit once a life or a bill speaks in it, another code once it is on labels or in a bill.
    """
    if item is not None:
        refuse_new_meaning(Item.objects.get(pk=item.pk), values)
    return _saved(item or Item(), values)


@action
def save_place(*, name: str, supplier: Supplier | None = None, by: User | None = None) -> Place:
    """Make a place, or give an existing one its vendor."""
    place = Place.objects.filter(name=name).first() or Place()
    return _saved(place, {"name": name, "supplier": supplier})


@action
def save_machine(*, name: str, by: User | None = None) -> Machine:
    """Make a machine that cutters are fitted in."""
    return _saved(Machine(), {"name": name})


@action
def save_supplier(
    *, values: Mapping[str, Any], supplier: Supplier | None = None, by: User | None = None
) -> Supplier:
    """Make or change a supplier; a vendor gets a place, so that what is out there can be seen."""
    saved = _saved(supplier or Supplier(), values)
    _give_places_to_vendors([saved])
    return saved


@action
def save_suppliers(*, entries: Sequence[RecordEntry], by: User | None = None) -> int:
    """Make and change suppliers as save_supplier does, and return how many; all of them or none."""
    _give_places_to_vendors(write_by_code(Supplier, entries, needed=("code", "name")))
    return len(entries)


@action
def save_product(
    *,
    values: Mapping[str, Any],
    options: Sequence[tuple[str, str, bool]] = (),
    product: Product | None = None,
    by: User | None = None,
) -> Product:
    """Make or change a product; options as (group, choice, is default). Choices are only added."""
    saved = _saved(product or Product(), values)
    _write_options([(saved, *option) for option in options])
    return saved


@action
def save_products(*, entries: Sequence[RecordEntry], by: User | None = None) -> int:
    """Make and change products, and return how many; all of them or none."""
    return len(write_by_code(Product, entries, needed=("code", "name")))


@action
def save_choices(
    *, choices: Sequence[tuple[Product, str, str, bool]], by: User | None = None
) -> int:
    """Add choices of products, as (product, group, choice, is default), or say which is usual."""
    _write_options(choices)
    return len(choices)


def refuse_new_meaning(item: Item, values: Mapping[str, Any]) -> None:
    """Refuse values that would give the records of an item, here as it is stored, another meaning."""
    changed = {name for name, value in values.items() if value != getattr(item, name)}
    if "code" in changed and _stands_in_records(item):
        raise Refused(
            f"{item.code} stands in bills or on labels; its code stays. Change the name, or make "
            "a new item."
        )
    if "stock_unit" in changed:
        _refuse_new_stock_unit(item)
    bought_otherwise = {Item.Kind.MADE, Item.Kind.SERVICE} & {item.kind, values.get("kind")}
    if (
        "kind" in changed
        and bought_otherwise
        and (_stands_in_records(item) or item.offers.exists())
    ):
        raise Refused(
            f"{item.code} is used as a {item.get_kind_display()}; that stays. Make a new item instead."
        )
    if "life_unit" in changed and (item.fittings.exists() or item.wear_lines.exists()):
        raise Refused(
            f"{item.code} has lives or bills in {item.get_life_unit_display()}; its life unit "
            "stays. Make a new item instead."
        )


def _give_places_to_vendors(suppliers: Sequence[Supplier]) -> None:
    vendors = [supplier for supplier in suppliers if supplier.is_vendor]
    known = set(Place.objects.filter(supplier__in=vendors).values_list("supplier", flat=True))
    new = [
        Place(name=f"At {vendor.name}"[:LONGEST_PLACE], supplier=vendor)
        for vendor in vendors
        if vendor.pk not in known
    ]
    taken = set(
        Place.objects.filter(name__in=[place.name for place in new]).values_list("name", flat=True)
    )
    for place in new:
        if place.name in taken:
            raise Refused(
                f"{place.supplier.code} not saved. There is a place {place.name} already. Give the "
                "vendor another name, or that place to the vendor first."
            )
        taken.add(place.name)
    Place.objects.bulk_create(new)


def _write_options(wanted: Sequence[tuple[Product, str, str, bool]]) -> None:
    """Add choices in their order; a default takes that mark from the others of its group."""
    check = record_check(ProductOption)
    groups: dict[tuple[int, str], dict[str, ProductOption]] = defaultdict(dict)
    for option in ProductOption.objects.filter(product__in={product for product, *_ in wanted}):
        groups[option.product_id, option.group][option.choice] = option
    usual = {
        option.pk for group in groups.values() for option in group.values() if option.is_default
    }
    for product, group, choice, is_default in wanted:
        known = groups[product.pk, group]
        option = known.setdefault(
            choice, ProductOption(product=product, group=group, choice=choice)
        )
        for other in known.values() if is_default else ():
            other.is_default = False
        option.is_default = is_default
        refuse_faults(option, check, check.fields, f"{product.code}, {group}: {choice}")
    options = [option for group in groups.values() for option in group.values()]
    stored = {option.pk for option in options if option.pk and option.is_default}
    ProductOption.objects.filter(pk__in=usual - stored).update(is_default=False)
    ProductOption.objects.filter(pk__in=stored - usual).update(is_default=True)
    ProductOption.objects.bulk_create([option for option in options if not option.pk], 500)


def _refuse_new_stock_unit(item: Item) -> None:
    moved = item.movements.exists()
    if moved or item.bom_lines.exists() or item.offers.exists():
        where = "movements" if moved else "bills or offers"
        raise Refused(
            f"{item.code} has {where} in {item.get_stock_unit_display()}; its stock unit "
            "stays. Make a new item instead."
        )


def _stands_in_records(item: Item) -> bool:
    return (
        item.lots.exists()
        or item.bom_lines.exists()
        or item.bills.exists()
        or item.wear_lines.exists()
        or item.service_operations.exists()
    )


def _saved(record: models.Model, values: Mapping[str, Any]) -> Any:
    for name, value in values.items():
        setattr(record, name, value)
    try:
        record.full_clean()
    except ValidationError as error:
        raise Refused(_in_words(record, error)) from error
    record.save(update_fields=list(values) if record.pk else None)
    return record


def _in_words(record: models.Model, error: ValidationError) -> str:
    parts = []
    for name, messages in error.message_dict.items():
        if name == "__all__":
            parts += messages
            continue
        label = record._meta.get_field(name).verbose_name
        parts.append(f"{label}: {' '.join(messages)}")
    return f"{record._meta.verbose_name.capitalize()} not saved. {' '.join(parts)}"
