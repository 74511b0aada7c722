"""What a workshop is made of: shop, people, places, machines, suppliers, items, offers."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from inventory import actions
from inventory.errors import Refused
from inventory.exchange.workshop.files import (
    Row,
    as_decimal,
    blaming,
    find,
    parse_contents,
    read_rows,
    read_yaml,
)
from inventory.models import Item, Place, Supplier
from inventory.units import parse_length, parse_size

__all__ = ["load_items", "load_offers", "load_shop"]


def load_shop(folder: Path, password: str) -> None:
    """Shop, people, places, machines and suppliers of shop.yaml; vendors get a place of their own."""
    path = folder / "shop.yaml"
    with blaming(path.name):
        content = read_yaml(path)
        _load_people(content, password)
        for name in content["places"]:
            actions.save_place(name=name)
        for name in content["machines"]:
            actions.save_machine(name=name)
        for entry in content["suppliers"]:
            _load_supplier(entry)


def load_items(folder: Path) -> dict[str, Item]:
    """Items of items.csv by code, cutters with what stands in cutters.csv.

    Which of them are mixed stands in shop.yaml.
    """
    places = {place.name: place for place in Place.objects.all()}
    items = {}
    for row in read_rows(folder / "items.csv"):
        with blaming(row):
            items[row["code"]] = actions.save_item(values=_item_values(row, places))
    for row in read_rows(folder / "cutters.csv"):
        with blaming(row):
            item = find(items, row["item"], "item")
            items[row["item"]] = actions.save_item(item=item, values=_geometry(row))
    with blaming("shop.yaml"):
        for entry in read_yaml(folder / "shop.yaml").get("mixed", []):
            other = find(items, entry["with"], "item")
            values = {"mixed_with": other, "mix_share": as_decimal(entry["share"])}
            actions.save_item(item=find(items, entry["item"], "item"), values=values)
    return items


def load_offers(folder: Path, items: Mapping[str, Item], today: date) -> None:
    """Offers of offers.csv with their price breaks."""
    suppliers = {supplier.code: supplier for supplier in Supplier.objects.all()}
    for row in read_rows(folder / "offers.csv"):
        with blaming(row):
            item = find(items, row["item"], "item")
            supplier = find(suppliers, row["supplier"], "supplier")
            actions.save_offer(
                supplier=supplier,
                item=item,
                values=_offer_values(row, item),
                price_breaks=_price_breaks(row["prices"]),
                valid_from=row.day("from", today),
            )


def _load_people(content: dict[str, Any], password: str) -> None:
    """The first of the people owns the shop."""
    settings = dict(content["shop"])
    owner, *others = content["people"]
    actions.set_up_shop(
        name=settings.pop("name"),
        currency=settings.pop("currency"),
        username=owner["username"],
        password=password,
        settings={field: as_decimal(value) for field, value in settings.items()},
    )
    for person in others:
        actions.add_user(password=password, **person)


def _load_supplier(entry: dict[str, Any]) -> None:
    actions.save_supplier(
        values={
            "code": entry["code"],
            "name": entry["name"],
            "email": entry.get("email", ""),
            "is_vendor": entry.get("vendor", False),
            "order_fee": as_decimal(entry.get("order_fee", 0)),
            "note": entry.get("note", ""),
        }
    )


def _item_values(row: Row, places: Mapping[str, Place]) -> dict[str, Any]:
    keep = parse_size(row["keep"]) if row["keep"] else (0, None)
    grit_system, _, grit_number = row["grit"].partition(" ")
    life, _, life_unit = row["life"].partition(" ")
    return {
        "code": row["code"],
        "name": row["name"],
        "kind": row["kind"],
        "stock_unit": row["unit"],
        "grade": row["grade"],
        "colour": row["colour"],
        "place": find(places, row["place"], "place") if row["place"] else None,
        "note": row["note"],
        "thickness_um": _length(row["thickness"]),
        "width_um": _length(row["width"]),
        "kerf_um": _length(row["kerf"]) or 0,
        "trim_um": _length(row["trim"]) or 0,
        "keep_length_um": keep[0],
        "keep_width_um": keep[1] or 0,
        "has_grain": row.yes("grain"),
        "lot_match": row["lot_match"] or Item.LotMatch.NONE,
        "density_g_per_ml": row.number("density"),
        "shelf_life_days": row.whole("shelf_life_days"),
        "opened_life_days": row.whole("opened_life_days"),
        "grit_system": grit_system,
        "grit_number": int(grit_number) if grit_number else None,
        "grit_um": row.number("grit_um"),
        "life_unit": life_unit,
        "rated_life": Decimal(life) if life else None,
        "rated_shape": row.number("shape"),
        "wear_limit_um": row.whole("wear_limit_um"),
        "hazard_codes": row["hazards"],
        "caution": row["caution"],
    }


def _geometry(row: Row) -> dict[str, Any]:
    """Of a cutter, by the symbols of ISO 13399; a bare number is in mm."""
    return {
        "diameter_um": _length(row["DC"]),
        "cut_depth_um": _length(row["APMX"]),
        "usable_length_um": _length(row["LU"]),
        "overall_length_um": _length(row["OAL"]),
        "corner_radius_um": _length(row["RE"]),
        "flutes": row.whole("NOF"),
        "coating": row["coating"],
        "most_regrinds": row.whole("regrinds"),
        "smallest_diameter_um": _length(row["smallest"]),
    }


def _length(text: str) -> int | None:
    return parse_length(text) if text else None


def _offer_values(row: Row, item: Item) -> dict[str, Any]:
    qty, pieces = parse_contents(row["contents"], item.stock_unit)
    values = {
        "their_code": row["their_code"],
        "pack_name": row["pack"],
        "minimum_packs": row.whole("minimum") or 1,
        "lead_days": row.whole("lead_days"),
        "lot_charge": row.number("lot_charge") or Decimal(0),
        "preferred": row.yes("preferred"),
    }
    if not pieces:
        return {**values, "pack_qty": qty}
    [(length, width, count)] = pieces
    return {
        **values,
        "piece_length_um": length,
        "piece_width_um": width,
        "pieces_per_pack": count,
    }


def _price_breaks(text: str) -> list[tuple[int, Decimal]]:
    """Read "86; 5: 82" as [(1, 86), (5, 82)]."""
    breaks = []
    for part in text.split(";"):
        packs, colon, price = part.rpartition(":")
        try:
            breaks.append((int(packs) if colon else 1, Decimal(price.strip())))
        except (ValueError, ArithmeticError) as error:
            raise Refused(f"prices are “{text}”; write 86; 5: 82.") from error
    return breaks
