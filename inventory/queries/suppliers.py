"""Suppliers and vendors, their offers and how punctual they were."""

from datetime import date

from django.db.models import Count, Max, Q, QuerySet

from inventory.models import Offer, OrderReceipt, PurchaseOrder, Supplier


def suppliers(day: date) -> QuerySet[Supplier]:
    """Every supplier with `offers_now`, `open_orders` and `last_order`."""
    current = Q(offers__valid_to__isnull=True) | Q(offers__valid_to__gte=day)
    return Supplier.objects.annotate(
        offers_now=Count("offers", filter=current, distinct=True),
        open_orders=Count(
            "orders", filter=Q(orders__state=PurchaseOrder.State.SENT), distinct=True
        ),
        last_order=Max("orders__sent_on"),
    )


def offers_by(supplier: Supplier) -> QuerySet[Offer]:
    """All offers of a supplier, those that hold first."""
    return (
        supplier.offers.select_related("item")
        .prefetch_related("price_breaks")
        .order_by("valid_to", "item__code", "-valid_from")
    )


def lateness(supplier: Supplier) -> list[int]:
    """Days each delivery came after it was expected; negative when it was early."""
    receipts = OrderReceipt.objects.filter(
        line__order__supplier=supplier, line__expected_on__isnull=False
    )
    rows = receipts.values_list("day", "line__expected_on")
    return [(came - expected).days for came, expected in rows]
