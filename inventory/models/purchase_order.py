"""What is ordered and outstanding, and what came of it."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from inventory.fields import MoneyField, QuantityField


class PurchaseOrder(models.Model):
    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        SENT = "sent", "sent"
        RECEIVED = "received", "received"
        CANCELLED = "cancelled", "cancelled"

    number = models.CharField(max_length=20, unique=True)
    supplier = models.ForeignKey("Supplier", on_delete=models.PROTECT, related_name="orders")
    state = models.CharField(max_length=10, choices=State, default=State.DRAFT)
    drafted_on = models.DateField()
    sent_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-drafted_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="draft", sent_on__isnull=True)
                | Q(state="cancelled")
                | Q(state__in=["sent", "received"], sent_on__isnull=False),
                name="order_sent_has_a_date",
            )
        ]

    def __str__(self) -> str:
        return self.number

    def get_absolute_url(self) -> str:
        return reverse("order", args=[self.number])


class OrderLine(models.Model):
    order = models.ForeignKey(PurchaseOrder, on_delete=models.PROTECT, related_name="lines")
    offer = models.ForeignKey("Offer", on_delete=models.PROTECT, related_name="order_lines")
    item = models.ForeignKey("Item", on_delete=models.PROTECT, related_name="order_lines")
    packs = models.PositiveIntegerField()
    qty = QuantityField("stock units ordered")
    received_qty = QuantityField("stock units received", default=0)
    pack_price = MoneyField()
    lead_days = models.PositiveIntegerField("lead time quoted when ordered")
    expected_on = models.DateField(null=True, blank=True)
    closed = models.BooleanField("nothing more will come", default=False)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(packs__gte=1) & Q(qty__gt=0), name="order_line_above_zero"
            ),
            models.CheckConstraint(
                condition=Q(received_qty__gte=0), name="order_received_not_negative"
            ),
            models.UniqueConstraint(fields=["order", "offer"], name="one_line_an_offer"),
        ]

    def __str__(self) -> str:
        return f"{self.order_id}: {self.packs} x {self.item_id}"

    @property
    def outstanding(self):
        """Stock units still to come; nothing once the line is closed."""
        return max(self.qty - self.received_qty, 0) if not self.closed else 0


class OrderReceipt(models.Model):
    """A delivery against one order line: the evidence for lead times."""

    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="receipts")
    posting = models.ForeignKey(
        "Posting", on_delete=models.PROTECT, null=True, related_name="order_receipts"
    )
    qty = QuantityField()
    day = models.DateField()

    class Meta:
        ordering = ["day", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(qty__gt=0), name="order_receipt_above_zero")
        ]

    def __str__(self) -> str:
        return f"{self.line_id}: {self.qty} on {self.day}"
