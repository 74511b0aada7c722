"""Orders sent and what came of them."""

from collections import defaultdict
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path

from inventory import actions
from inventory.errors import NotFound, Refused
from inventory.exchange.workshop.days import DatedFiles, Deed, together
from inventory.exchange.workshop.files import Row, find, parse_contents, read_rows
from inventory.models import Item, Lot, Offer, OrderLine, Supplier

__all__ = ["OrderFile"]

PieceSizes = list[tuple[int, int | None, int]]


class OrderFile(DatedFiles):
    """Rows with one order name went out together; each line has a day of its own on which it came."""

    def __init__(self, folder: Path, items: Mapping[str, Item], today: date) -> None:
        super().__init__(folder, items, today)
        self.suppliers = {supplier.code: supplier for supplier in Supplier.objects.all()}
        self.offers = _offers_by_item()
        self.lines: dict[Row, OrderLine] = {}

    def deeds(self) -> list[Deed]:
        found: list[Deed] = []
        for rows in together(read_rows(self.folder / "orders.csv"), "order"):
            found += self.deed(rows, "order", "sent", self._send)
            for row in rows:
                found += self.deed([row], "delivery", "received", self._receive)
        return found

    def _send(self, rows: list[Row], day: date) -> None:
        supplier = find(self.suppliers, rows[0]["supplier"], "supplier")
        wanted = [(self._offer(row, day), row.whole("packs")) for row in rows]
        order = actions.draft_order(supplier=supplier, lines=wanted, day=day)
        actions.send_order(order=order, day=day)
        by_offer = {line.offer_id: line for line in order.lines.select_related("order__supplier")}
        for row, (offer, _) in zip(rows, wanted, strict=True):
            self.lines[row] = by_offer[offer.pk]

    def _offer(self, row: Row, day: date) -> Offer:
        for offer in self.offers[row["item"], row["supplier"]]:
            if offer.valid_from <= day and (offer.valid_to is None or day <= offer.valid_to):
                return offer
        raise NotFound(f"{row['supplier']} offers no {row['item']} on {day} in offers.csv.")

    def _receive(self, rows: list[Row], day: date) -> None:
        [row] = rows
        if row not in self.lines:
            raise Refused("It is received before it was sent.")
        line = self.lines[row]
        qty, pieces = self._what_came(row, line)
        actions.receive_delivery(
            item=self.item(row),
            day=day,
            qty=qty,
            pieces=pieces,
            order_line=line,
            maker_number=row["heat"],
            made_on=row.day("made", self.today),
            status=row["status"] or Lot.Status.RELEASED,
            note=row["note"],
        )

    def _what_came(self, row: Row, line: OrderLine) -> tuple[Decimal | None, PieceSizes | None]:
        """As ordered, unless the row says otherwise."""
        item = self.item(row)
        if row["came"]:
            return parse_contents(row["came"], item.stock_unit)
        if not item.in_pieces:
            return line.qty, None
        offer = line.offer
        count = offer.pieces_per_pack * line.packs
        return None, [(offer.piece_length_um, offer.piece_width_um, count)]


def _offers_by_item() -> dict[tuple[str, str], list[Offer]]:
    found: dict[tuple[str, str], list[Offer]] = defaultdict(list)
    offers = Offer.objects.select_related("item", "supplier").prefetch_related("price_breaks")
    for offer in offers:
        found[offer.item.code, offer.supplier.code].append(offer)
    return found
