"""The stock ledger: rows are only ever added; the database refuses anything else."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from inventory.fields import QuantityField, UnitCostField


class Posting(models.Model):
    """What one action wrote together."""

    class Kind(models.TextChoices):
        RECEIVE = "receive", "received"
        ISSUE = "issue", "used"
        CUT = "cut", "cut"
        COUNT = "count", "counted"
        SCRAP = "scrap", "scrapped"
        RETURN = "return", "returned"
        TRANSFER = "transfer", "moved"
        MAKE = "make", "made"
        REVERSE = "reverse", "reversed"

    kind = models.CharField(max_length=10, choices=Kind)
    day = models.DateField(help_text="when it happened on the shelf")
    at = models.DateTimeField(auto_now_add=True, help_text="when it was entered")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    reason = models.CharField(max_length=40, blank=True)
    note = models.CharField(max_length=200, blank=True)
    batch = models.ForeignKey(
        "Batch", on_delete=models.PROTECT, null=True, blank=True, related_name="postings"
    )
    reverses = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="reversed_by"
    )

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["day"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="reverse", reverses__isnull=False)
                | (~Q(kind="reverse") & Q(reverses__isnull=True)),
                name="reversal_names_its_posting",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.day}"


class Movement(models.Model):
    """One signed line: what came to, or left, one lot (and piece) at one place."""

    posting = models.ForeignKey(Posting, on_delete=models.PROTECT, related_name="movements")
    item = models.ForeignKey(
        "Item", on_delete=models.PROTECT, related_name="movements", db_index=False
    )
    lot = models.ForeignKey(
        "Lot", on_delete=models.PROTECT, related_name="movements", db_index=False
    )
    piece = models.ForeignKey(
        "Piece", on_delete=models.PROTECT, null=True, blank=True, related_name="movements"
    )
    place = models.ForeignKey(
        "Place", on_delete=models.PROTECT, related_name="movements", db_index=False
    )
    qty = QuantityField()
    unit_cost = UnitCostField(default=0)
    kind = models.CharField(
        max_length=10, choices=Posting.Kind, help_text="the posting's kind, for the index"
    )
    day = models.DateField(help_text="the posting's day, for the index")

    class Meta:
        ordering = ["-pk"]
        indexes = [  # one for each way the ledger is read: newest day first, of an item, a kind ...
            models.Index(fields=["day", "id"], name="movement_day"),
            models.Index(fields=["item", "day", "id"], name="movement_item_day"),
            models.Index(fields=["lot", "day", "id"], name="movement_lot_day"),
            models.Index(fields=["kind", "day", "id"], name="movement_kind_day"),
            models.Index(fields=["place", "day", "id"], name="movement_place_day"),
        ]
        constraints = [models.CheckConstraint(condition=~Q(qty=0), name="movement_not_zero")]

    def __str__(self) -> str:
        return f"{self.qty:+} {self.item_id}"


class Balance(models.Model):
    """Sum of the movements of one lot (and piece) at one place, written with them."""

    item = models.ForeignKey("Item", on_delete=models.PROTECT, related_name="balances")
    lot = models.ForeignKey("Lot", on_delete=models.PROTECT, related_name="balances")
    piece = models.ForeignKey(
        "Piece", on_delete=models.PROTECT, null=True, blank=True, related_name="balances"
    )
    place = models.ForeignKey("Place", on_delete=models.PROTECT, related_name="balances")
    qty = QuantityField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(qty__gt=0), name="balance_above_zero"),
            models.UniqueConstraint(
                fields=["lot", "place"], condition=Q(piece__isnull=True), name="one_lot_balance"
            ),
            models.UniqueConstraint(
                fields=["piece"], condition=Q(piece__isnull=False), name="piece_in_one_place"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot_id}: {self.qty}"
