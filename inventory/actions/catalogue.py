"""Items, places, machines, suppliers, offers, products: what the rest refers to."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

from inventory.actions.request import action
from inventory.days import show_day
from inventory.errors import Refused
from inventory.models import (
    Item,
    Machine,
    Offer,
    Place,
    PriceBreak,
    Product,
    ProductOption,
    Supplier,
    User,
)
from inventory.models.piece import size_in_stock_unit


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
    if saved.is_vendor and not saved.places.exists():
        Place.objects.create(name=f"At {saved.name}", supplier=saved)
    return saved


@action
def save_offer(
    *,
    supplier: Supplier,
    item: Item,
    values: Mapping[str, Any],
    price_breaks: Sequence[tuple[int, Decimal]],
    valid_from: date,
    by: User | None = None,
) -> Offer:
    """Add a dated offer; the supplier's earlier one for the item ends the day before.

    For items kept in pieces the pack's quantity follows from the piece size and count.
    A preferred offer takes that mark from any other.
    """
    values = dict(values)
    if item.in_pieces:
        values["pack_qty"] = _pack_of_pieces(item, values)
    if not price_breaks or min(count for count, _ in price_breaks) > 1:
        raise Refused(f"{item.code}: give the price of a single pack first.")
    _end_earlier(supplier, item, valid_from)
    if values.get("preferred", True):
        Offer.objects.filter(item=item, preferred=True).update(preferred=False)
    offer = _saved(
        Offer(), {**values, "supplier": supplier, "item": item, "valid_from": valid_from}
    )
    for count, price in sorted(price_breaks):
        _saved(PriceBreak(), {"offer": offer, "from_packs": count, "price": price})
    return offer


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
    for group, choice, is_default in options:
        found = saved.options.filter(group=group, choice=choice).first()
        if is_default:
            saved.options.filter(group=group).update(is_default=False)
        _saved(
            found or ProductOption(),
            {"product": saved, "group": group, "choice": choice, "is_default": is_default},
        )
    return saved


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


def _pack_of_pieces(item: Item, values: dict[str, Any]) -> Decimal:
    length, width = values.get("piece_length_um"), values.get("piece_width_um")
    count = values.setdefault("pieces_per_pack", 1)
    if not length or (item.stock_unit == Item.Unit.MM2) != bool(width):
        raise Refused(f"{item.code} is kept in pieces; give the size of one piece of the pack.")
    return size_in_stock_unit(length, width) * count


def _end_earlier(supplier: Supplier, item: Item, valid_from: date) -> None:
    earlier = Offer.objects.filter(supplier=supplier, item=item, valid_to__isnull=True)
    for offer in earlier:
        if offer.valid_from >= valid_from:
            raise Refused(
                f"{item.code}: {supplier.name} already has an offer from {show_day(offer.valid_from)}. "
                "Give the new one a later day."
            )
    earlier.update(valid_to=valid_from - timedelta(days=1), preferred=False)
