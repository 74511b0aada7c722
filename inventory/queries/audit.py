"""Every stored figure that follows from others, added up again; the ledger is right by definition."""

from collections import defaultdict
from collections.abc import Iterator
from decimal import Decimal

from django.db.models import F, Q, Sum

from inventory.fields import QuantityField
from inventory.models import (
    Balance,
    Batch,
    Fitting,
    Item,
    Lot,
    Movement,
    OrderLine,
    Piece,
    Place,
    Reservation,
    WearLog,
)

NOTHING = Decimal(0)
NO_ONE_HOLDS = (Batch.State.PLANNED, Batch.State.FINISHED, Batch.State.CANCELLED)

Key = tuple[int, int, int | None, int]
"""Ids of item, lot, piece and place: what one balance stands for."""


def audit() -> list[str]:
    """Return one line for each record that disagrees with what it is the sum of."""
    return [
        *_balances(),
        *_movements(),
        *_pieces(),
        *_reservations(),
        *_order_lines(),
        *_wear(),
    ]


def _balances() -> Iterator[str]:
    """Balances against the sums of their movements, both ways."""
    key = ("item", "lot", "piece", "place")
    sums = Movement.objects.order_by().values_list(*key).annotate(_total("qty"))
    moved: dict[Key, Decimal] = {row[:-1]: row[-1] for row in sums}
    stored: dict[Key, Decimal] = {
        row[:-1]: row[-1] for row in Balance.objects.values_list(*key, "qty")
    }
    wrong = [
        each
        for each in sorted(moved.keys() | stored.keys(), key=str)
        if moved.get(each, NOTHING) != stored.get(each, NOTHING)
    ]
    name = _Names(wrong)
    for each in wrong:
        yield (
            f"{name(each)}: the balance says {_plain(stored.get(each, NOTHING))}, "
            f"its movements add up to {_plain(moved.get(each, NOTHING))}."
        )


class _Names:
    """Readable names of the records in some keys, fetched at once."""

    def __init__(self, keys: list[Key]) -> None:
        items, lots, pieces, places = zip(*keys, strict=True) if keys else ((), (), (), ())
        self.items = dict(Item.objects.filter(pk__in=items).values_list("pk", "code"))
        self.lots = dict(Lot.objects.filter(pk__in=lots).values_list("pk", "number"))
        self.pieces = dict(
            Piece.objects.filter(pk__in=filter(None, pieces)).values_list("pk", "label")
        )
        self.places = dict(Place.objects.filter(pk__in=places).values_list("pk", "name"))

    def __call__(self, key: Key) -> str:
        item, lot, piece, place = key
        of_lot = f" piece {self.pieces[piece]}" if piece else ""
        return f"{self.items[item]} lot {self.lots[lot]}{of_lot} at {self.places[place]}"


def _movements() -> Iterator[str]:
    """Movements against the records they name."""
    odd = Movement.objects.exclude(
        item=F("lot__item"), day=F("posting__day"), kind=F("posting__kind")
    ) | Movement.objects.exclude(Q(piece=None) | Q(lot=F("piece__lot")))
    for movement in odd.distinct().select_related("item", "lot"):
        yield (
            f"Movement {movement.pk} of {movement.item.code}: its lot, piece, kind or day belongs to "
            "other records."
        )


def _pieces() -> Iterator[str]:
    """A piece in stock is there with its whole size, and fits into what it was cut from."""
    for balance in Balance.objects.filter(piece__isnull=False).select_related("piece"):
        if balance.qty != balance.piece.quantity:
            yield (
                f"Piece {balance.piece.label}: {_plain(balance.qty)} is in stock, its size is "
                f"{_plain(balance.piece.quantity)}."
            )
    cut_off = Piece.objects.filter(parent__isnull=False).select_related("parent")
    for piece in cut_off.filter(
        Q(length_um__gt=F("parent__length_um"))
        | Q(width_um__gt=F("parent__width_um"))
        | ~Q(lot=F("parent__lot"))
    ):
        yield f"Piece {piece.label} can't come from {piece.parent.label}: other lot or larger."


def _reservations() -> Iterator[str]:
    """What is held is there, and only for batches that may hold it."""
    held: dict[tuple[int, int | None], Decimal] = defaultdict(Decimal)
    names: dict[tuple[int, int | None], str] = {}
    rows = Reservation.objects.filter(is_open=True).select_related("batch", "item", "lot", "piece")
    for row in rows:
        key = row.lot_id, row.piece_id
        held[key] += row.qty
        piece = f" piece {row.piece.label}" if row.piece else ""
        names[key] = f"{row.item.code} lot {row.lot.number}{piece}"
        if row.batch.state in NO_ONE_HOLDS:
            yield f"{names[key]} is held for batch {row.batch}, which is {row.batch.state}."
    there = dict.fromkeys(held, NOTHING)
    lots = {lot for lot, _ in held}
    for lot, piece, qty in Balance.objects.filter(lot__in=lots).values_list("lot", "piece", "qty"):
        if (lot, piece) in there:
            there[lot, piece] += qty
    for key in sorted(held, key=str):
        if held[key] > there[key]:
            yield f"{names[key]}: {_plain(held[key])} is held, {_plain(there[key])} is there."


def _order_lines() -> Iterator[str]:
    """Order lines against their deliveries."""
    lines = OrderLine.objects.select_related("order", "item").annotate(came=_total("receipts__qty"))
    for line in lines.exclude(received_qty=0, receipts=None):
        came = line.came or NOTHING
        if line.received_qty != came:
            yield (
                f"Order {line.order.number}, {line.item.code}: {_plain(line.received_qty)} noted "
                f"as received, its deliveries add up to {_plain(came)}."
            )


def _wear() -> Iterator[str]:
    """Life used against the wear log, and against the fitting it goes on from."""
    logged = dict(WearLog.objects.order_by().values_list("fitting").annotate(_total("amount")))
    for fitting in Fitting.objects.select_related("continues"):
        life = fitting.life_before + logged.get(fitting.pk, NOTHING)
        if fitting.life_used != life:
            yield (
                f"{fitting.label}: life used is {_plain(fitting.life_used)}, "
                f"its log adds up to {_plain(life)}."
            )
        if fitting.continues and fitting.continues.life_used != fitting.life_before:
            yield (
                f"{fitting.label} went on at {_plain(fitting.life_before)}, but "
                f"{fitting.continues.label} had used {_plain(fitting.continues.life_used)}."
            )


def _total(field: str) -> Sum:
    return Sum(field, output_field=QuantityField())


def _plain(qty: Decimal) -> str:
    return f"{qty.normalize():f}"
