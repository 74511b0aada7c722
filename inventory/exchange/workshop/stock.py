"""Stock that came without an order, decisions about lots, parts made, other use, counts."""

from datetime import date
from decimal import Decimal
from typing import Any

from inventory import actions
from inventory.errors import NotEnough
from inventory.exchange.workshop.days import QUICK_PLAN, DatedFiles, Deed
from inventory.exchange.workshop.files import Row, parse_contents
from inventory.models import Balance, Item, Lot, Piece, Posting
from inventory.queries.availability import free_balances
from inventory.units import parse_quantity, parse_size

__all__ = ["StockFiles"]

ALL = "all"


class StockFiles(DatedFiles):
    def deeds(self) -> list[Deed]:
        return [
            *self.each_row("opening.csv", "stock", self._take_in),
            *self.each_row("decisions.csv", "decision", self._decide),
            *self.each_row("made.csv", "made", self._make),
            *self.each_row("other_use.csv", "other use", self._use),
            *self.each_row("counts.csv", "count", self._count),
        ]

    def _take_in(self, row: Row, day: date) -> None:
        item = self.item(row)
        qty, pieces = parse_contents(row["contents"], item.stock_unit)
        actions.receive_delivery(
            item=item,
            day=day,
            qty=qty,
            pieces=pieces,
            offcuts=row.yes("offcuts"),
            maker_number=row["heat"],
            made_on=row.day("made", self.today),
            status=row["status"] or Lot.Status.RELEASED,
            unit_cost=row.number("unit_cost"),
            note=row["note"],
        )

    def _decide(self, row: Row, day: date) -> None:
        """What was decided about the lot of an item with that heat or colour number."""
        lot = Lot.objects.get(item=self.item(row), maker_number=row["heat"])
        if row["decision"] == "opened":
            actions.open_lot(lot=lot, day=day)
        elif row["decision"] == "extended":
            actions.extend_lot(lot=lot, expires_on=row.day("until", self.today), note=row["note"])
        else:
            actions.set_lot_status(lot=lot, status=row["decision"], note=row["note"])

    def _make(self, row: Row, day: date) -> None:
        actions.make_part(
            item=self.item(row),
            qty=row.whole("good"),
            start=row.whole("started"),
            day=day,
            aim=QUICK_PLAN,
            note=row["note"],
        )

    def _use(self, row: Row, day: date) -> None:
        """Use outside batches: an amount, a piece that holds a size, a cut of it, or all there is."""
        item = self.item(row)
        why = {"day": day, "reason": row["reason"], "note": row["note"]}
        taken = _taken(row, item, day, why)
        if row.yes("not_again"):
            actions.leave_out_use(posting=taken, day=day)

    def _count(self, row: Row, day: date) -> None:
        """Book what a count found more or less, on the fullest lot."""
        item = self.item(row)
        balances = Balance.objects.filter(item=item).select_related("lot__item", "place")
        fullest = balances.order_by("-qty", "pk").first()
        if fullest is None:
            raise NotEnough(f"Nothing of {item.code} is there to count on {day}.")
        actions.count_lot(
            lot=fullest.lot,
            place=fullest.place,
            counted=fullest.qty + parse_quantity(row["difference"], item.stock_unit),
            day=day,
            reason=row["reason"],
        )


def _taken(row: Row, item: Item, day: date, why: dict[str, Any]) -> Posting:
    """The entry, the last one where it takes several."""
    amount = row["amount"]
    if not item.in_pieces:
        qty = _all_free(item, day) if amount == ALL else parse_quantity(amount, item.stock_unit)
        return actions.issue_stock(item=item, qty=qty, **why)
    if amount == ALL:
        pieces = [balance.piece for balance, _ in free_balances(item, day)]
        if not pieces:
            raise NotEnough(f"No piece of {item.code} is free on {day}.")
        return [actions.issue_piece(piece=piece, **why) for piece in pieces][-1]
    piece = _smallest_holding(item, amount, day)
    return _cut(row, item, piece, why) if row["cut"] else actions.issue_piece(piece=piece, **why)


def _cut(row: Row, item: Item, piece: Piece, why: dict[str, Any]) -> Posting:
    _, parts = parse_contents(row["cut"], item.stock_unit)
    left = parse_contents(row["left"], item.stock_unit)[1] if row["left"] else []
    return actions.cut_piece(
        piece=piece,
        parts=parts,
        remnants=[(length, width) for length, width, count in left for _ in range(count)],
        **why,
    )


def _smallest_holding(item: Item, size: str, day: date) -> Piece:
    """The smallest free piece that holds the size; a one-off is cut from what is left over."""
    length, width = parse_size(size)
    fitting = [
        balance
        for balance, _ in free_balances(item, day)
        if balance.piece.length_um >= length and (balance.piece.width_um or 0) >= (width or 0)
    ]
    if not fitting:
        raise NotEnough(f"No free piece of {item.code} holds {size} on {day}.")
    return min(fitting, key=lambda balance: (balance.qty, balance.pk)).piece


def _all_free(item: Item, day: date) -> Decimal:
    return sum((free for _, free in free_balances(item, day)), Decimal(0))
