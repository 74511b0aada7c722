"""Offers: what a supplier sells, in which packs, at which prices."""

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

from django.utils import timezone

from inventory.actions.save_offers import NewOffer, save_offers
from inventory.errors import Refused
from inventory.exchange.tables.cells import (
    Cell,
    Day,
    Number,
    Quantity,
    Text,
    Whole,
    YesNo,
    as_text,
)
from inventory.exchange.tables.codes import ByCode
from inventory.exchange.tables.contents import contents_as_typed
from inventory.exchange.tables.notation import Notation
from inventory.exchange.tables.table import (
    Change,
    Column,
    Found,
    Row,
    Table,
    Tell,
    refuse_twice,
    refusing,
)
from inventory.exchange.workshop.files import parse_contents
from inventory.models import Item, Offer, Supplier, User
from inventory.models.piece import size_in_stock_unit
from inventory.queries.record_check import RecordCheck, record_check

__all__ = ["OfferTable"]

Breaks = tuple[tuple[int, Decimal], ...]


class Prices:
    """ "42.50; from 5: 39": prices of a pack, as ((packs, price), ...)."""

    is_numeric = True

    def read(self, cell: Cell, notation: Notation) -> Breaks:
        parts = [part.strip() for part in Quantity().read(cell, notation).split(";")]
        return tuple(sorted(self._price(part) for part in parts if part))

    def write(self, value: Breaks | None) -> Decimal | str:
        if value is not None and len(value) == 1 and value[0][0] == 1:
            return value[0][1]
        steps = [
            f"{f'from {packs}: ' if packs > 1 else ''}{as_text(price)}"
            for packs, price in value or ()
        ]
        return "; ".join(steps)

    def _price(self, part: str) -> tuple[int, Decimal]:
        packs, colon, price = part.lower().removeprefix("from ").rpartition(":")
        try:
            return int(packs) if colon else 1, round(Decimal(price.strip()), 5)
        except (ValueError, InvalidOperation) as error:
            raise Refused(f"“{part}” is no price. Write 42.50; from 5: 39.") from error


class OfferTable(Table):
    name = "offers"
    title = "Offers"
    about = (
        "Packs, prices and lead times of suppliers. A changed offer is a new one from its day on; "
        "the earlier one stays in the records. Suppliers and items come first."
    )
    columns = (
        Column("supplier", Text(20), "code of the supplier", "BOLTS", needed=True),
        Column("item", Text(30), "code of the item", "SCREW-M4X12", needed=True),
        Column("their code", Text(40), "what to order it by", "4012-BK"),
        Column("sold as", Text(40), "as in bag of 100", "bag of 100", field="pack_name"),
        Column(
            "contents",
            Quantity(),
            "of one pack: 100, 2.5 kg, 4 of 305 x 610 mm",
            "100",
            needed_when_new=True,
        ),
        Column(
            "prices",
            Prices(),
            "of one pack; breaks after a ;",
            "12.40; from 5: 11",
            needed_when_new=True,
            also=("price",),
        ),
        Column("minimum packs", Whole(), "empty: 1", "1"),
        Column("charge", Number(5), "for each order line or load", "0", field="lot_charge"),
        Column("lead days", Whole(), "quoted, in days", "10", needed_when_new=True),
        Column("first choice", YesNo(), "yes where it is ordered first", "yes", field="preferred"),
        Column("from", Day(), "the day it holds from; empty: today", "2025-01-15"),
    )

    def records(self) -> Iterator[dict[str, Any]]:
        for offer in _in_force().values():
            yield {
                **self._values(offer),
                "supplier": offer.supplier.code,
                "item": offer.item.code,
                "from": offer.valid_from,
            }

    def compare(self, rows: Sequence[Row], found: Found, tell: Tell) -> None:
        suppliers = ByCode(Supplier.objects.all())
        items = ByCode(Item.objects.all())
        in_force = _in_force()
        first = {item for (_, item), offer in in_force.items() if offer.preferred}
        check = record_check(Offer)
        seen: dict[Any, int] = {}
        chosen: dict[Any, int] = {}
        for row in rows:
            supplier, item = suppliers.get(row["supplier"]), items.get(row["item"])
            if supplier is None:
                found.refuse(row.number, "supplier", f"There is no supplier {row['supplier']}.")
            elif item is None:
                found.refuse(row.number, "item", f"There is no item {row['item']}.")
            elif refuse_twice(found, seen, (supplier.pk, item.pk), row, "item") or (
                row.get("first choice")
                and refuse_twice(found, chosen, item.pk, row, "first choice")
            ):
                continue
            else:
                known = in_force.get((supplier.pk, item.pk))
                with refusing(found, row):
                    change = self._compare(row, supplier, item, known, item.pk in first)
                    _refuse_faults(change, check)
                    found.changes.append(change)
                first.add(item.pk)

    def enter(self, changes: Sequence[Change], by: User | None, tell: Tell) -> None:
        save_offers(offers=[change.wanted for change in changes], by=by)

    def _values(self, offer: Offer) -> dict[str, Any]:
        """An offer as its row would say it, but for whose it is and from when."""
        size = offer.piece_length_um and (offer.piece_length_um, offer.piece_width_um)
        contents = contents_as_typed(offer.pack_qty, size, offer.pieces_per_pack or 1)
        return {
            "their code": offer.their_code,
            "sold as": offer.pack_name,
            "contents": as_text(contents),
            "prices": tuple((step.from_packs, step.price) for step in offer.price_breaks.all()),
            "minimum packs": offer.minimum_packs,
            "charge": offer.lot_charge,
            "lead days": offer.lead_days,
            "first choice": offer.preferred,
        }

    def _compare(
        self, row: Row, supplier: Supplier, item: Item, known: Offer | None, is_second: bool
    ) -> Change:
        what = f"{item.code} from {supplier.code}"
        if item.kind == Item.Kind.MADE:
            raise Refused(f"{item.code} is made in house; nobody offers it.")
        before = self._values(known) if known else {"first choice": not is_second}
        after = {**before, **{name: row[name] for name in row.values if name in self._own}}
        for column in self.columns:
            if column.needed_when_new and column.name not in after:
                raise Refused(f"{what} is new here: it needs {column.name}.")
        values = _as_asked(item, after)
        differences = tuple(
            (name, self.written(name, before.get(name)), self.written(name, after[name]))
            for name in after
            if not known or not self._same(item, name, before[name], after[name])
        )
        if known and not differences:
            return Change(row.number, what, "unchanged")
        valid_from = row.get("from") or timezone.localdate()
        if known and valid_from <= known.valid_from:
            raise Refused(
                f"{what} holds from {known.valid_from} on already. Give the new one a later day."
            )
        wanted = NewOffer(supplier, item, values, after["prices"], valid_from)
        return Change(row.number, what, "changed" if known else "new", differences, wanted)

    @property
    def _own(self) -> set[str]:
        return {column.name for column in self.columns} - {"supplier", "item", "from"}

    def _same(self, item: Item, name: str, before: Any, after: Any) -> bool:
        if name == "contents":
            return parse_contents(before, item.stock_unit) == parse_contents(after, item.stock_unit)
        kind = self.column(name).kind
        return kind.write(before) == kind.write(after)


def _in_force() -> dict[tuple[int, int], Offer]:
    offers = Offer.objects.filter(valid_to=None).select_related("supplier", "item")
    ordered = offers.order_by("item__code", "supplier__code").prefetch_related("price_breaks")
    return {(offer.supplier_id, offer.item_id): offer for offer in ordered}


def _as_asked(item: Item, after: Mapping[str, Any]) -> dict[str, Any]:
    """Values of a new offer."""
    values = {
        "their_code": after.get("their code", ""),
        "pack_name": after.get("sold as") or "each",
        "minimum_packs": after.get("minimum packs", 1),
        "lot_charge": after.get("charge", Decimal(0)),
        "lead_days": after["lead days"],
        "preferred": after["first choice"],
    }
    qty, pieces = parse_contents(after["contents"], item.stock_unit)
    if pieces is None:
        return {**values, "pack_qty": qty}
    if len(pieces) > 1:
        raise Refused(f"{item.code}: the pieces of a pack have one size. Write 4 of 305 x 610 mm.")
    [(length, width, count)] = pieces
    if (width is None) != (item.stock_unit == Item.Unit.MM):
        raise Refused(f"{item.code}: give a length for bars and rolls, length x width for sheets.")
    size = {"piece_length_um": length, "piece_width_um": width, "pieces_per_pack": count}
    return {**values, **size, "pack_qty": size_in_stock_unit(length, width) * count}


def _refuse_faults(change: Change, check: RecordCheck) -> None:
    if change.wanted is None:
        return
    wanted: NewOffer = change.wanted
    if not wanted.prices or wanted.prices[0][0] != 1:
        raise Refused("Give the price of a single pack first: 42.50; from 5: 39.")
    if min(price for _, price in wanted.prices) < 0:
        raise Refused("A price is below zero. Check it.")
    offer = Offer(
        supplier=wanted.supplier, item=wanted.item, valid_from=wanted.valid_from, **wanted.values
    )
    for field, fault in check.faults(offer, check.fields):
        name = Offer._meta.get_field(field).verbose_name if field else ""
        raise Refused(f"{name}: {fault}" if name else fault)
