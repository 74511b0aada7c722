"""What a label names, and which records a sheet of labels is for."""

from collections.abc import Iterable
from itertools import chain

from django.db.models import QuerySet

from inventory.models import (
    Batch,
    Fitting,
    Item,
    Lot,
    Movement,
    Piece,
    Place,
    PurchaseOrder,
)
from inventory.queries.cutters import fitted_now
from inventory.queries.stock import lots_here

Labelled = Piece | Lot | Fitting | Item | Batch | PurchaseOrder | Place

NAMED_BY = {
    Piece: "label",
    Lot: "number",
    Fitting: "label",
    Item: "code",
    Batch: "number",
    PurchaseOrder: "number",
    Place: "name",
}
PLACE_KEY = "place-"
MOST_ALIKE = 4


def key_of(record: Labelled) -> str:
    """What stands behind the short address: its label; of a place its running number."""
    if isinstance(record, Place):
        return f"{PLACE_KEY}{record.pk}"
    return getattr(record, NAMED_BY[type(record)])


def with_label(text: str) -> list[Labelled]:
    """Records that carry this label, capitals or not; usually one."""
    if "\0" in text:  # PostgreSQL refuses to compare it
        return []
    found = [*_matching(text, "exact"), *_place_with_key(text)]
    return found or _matching(text, "iexact")


def labels_like(text: str) -> list[Labelled]:
    """Some records whose label contains the text, for one that was typed wrong."""
    return _matching(text, "icontains", MOST_ALIKE) if text.isprintable() else []


def item_and_lots(item: Item) -> list[Labelled]:
    """The item's own label and one for each lot of which something is left."""
    return [item, *lots_here(item).select_related("item")]


def pieces_here(item: Item) -> list[Piece]:
    return list(_in_stock(Piece.objects.filter(lot__item=item)))


def lot_and_pieces(lot: Lot) -> list[Labelled]:
    """What came with one delivery."""
    return [lot, *_in_stock(Piece.objects.filter(lot=lot, parent__isnull=True))]


def batch_and_remnants(batch: Batch) -> list[Labelled]:
    """The batch's tray and the remnants it left that are still there."""
    left = Movement.objects.filter(posting__batch=batch, piece__isnull=False, qty__gt=0)
    return [batch, *_in_stock(Piece.objects.filter(pk__in=left.values("piece")))]


def all_places() -> list[Place]:
    return list(Place.objects.select_related("supplier"))


def cutters_in_machines() -> list[Fitting]:
    return list(fitted_now())


def _in_stock(pieces: QuerySet[Piece]) -> Iterable[Piece]:
    return pieces.filter(balances__isnull=False).select_related("lot__item").order_by("label")


def _matching(text: str, how: str, most: int | None = None) -> list[Labelled]:
    rows = (
        model.objects.filter(**{f"{field}__{how}": text})[:most]
        for model, field in NAMED_BY.items()
    )
    return list(chain.from_iterable(rows))


def _place_with_key(text: str) -> QuerySet[Place]:
    number = text.removeprefix(PLACE_KEY)
    is_key = number != text and number.isdecimal() and len(number) < 10
    return Place.objects.filter(pk=int(number)) if is_key else Place.objects.none()
