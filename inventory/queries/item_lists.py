"""Everything that ever came in of an item: all its lots, all its pieces."""

from decimal import Decimal

from django.db.models import OuterRef, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from inventory.fields import QuantityField
from inventory.models import Balance, Item, Lot, Piece


def lots_of(item: Item) -> QuerySet[Lot]:
    """All its lots with what is `left` of each, the newest first."""
    there = Balance.objects.filter(lot=OuterRef("pk")).order_by().values("lot")
    total = Subquery(there.annotate(total=Sum("qty")).values("total"))
    return (
        item.lots.select_related("item", "supplier")
        .annotate(left=Coalesce(total, Value(Decimal(0), output_field=QuantityField())))
        .order_by("-received_on", "-pk")
    )


def pieces_of(item: Item) -> QuerySet[Piece]:
    """All its pieces and remnants with the name of the `place`, None when gone; the newest first."""
    there = Balance.objects.filter(piece=OuterRef("pk"))
    return (
        Piece.objects.filter(lot__item=item)
        .select_related("lot", "parent")
        .annotate(place=Subquery(there.values("place__name")[:1]))
        .order_by("-pk")
    )
