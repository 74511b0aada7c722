"""What came in together: a steel heat, a resin batch, a sheet colour lot."""

from datetime import date, timedelta

from django.db import models
from django.db.models import Q
from django.urls import reverse

from inventory.days import show_day
from inventory.fields import UnitCostField


class Lot(models.Model):
    class Status(models.TextChoices):
        RECEIVED = "received", "received"
        QUARANTINE = "quarantine", "quarantine"
        RELEASED = "released", "released"
        REJECTED = "rejected", "rejected"
        UNKNOWN = "unknown", "lot unknown, for practice only"

    item = models.ForeignKey("Item", on_delete=models.PROTECT, related_name="lots")
    number = models.CharField(max_length=20, unique=True, help_text="ours, on the label")
    maker_number = models.CharField(
        "heat, colour or batch number", max_length=60, blank=True, help_text="theirs"
    )
    status = models.CharField(max_length=10, choices=Status, default=Status.RELEASED)
    supplier = models.ForeignKey(
        "Supplier", on_delete=models.PROTECT, null=True, blank=True, related_name="lots"
    )
    received_on = models.DateField()
    made_on = models.DateField(null=True, blank=True)
    opened_on = models.DateField(null=True, blank=True)
    expires_on = models.DateField(null=True, blank=True, help_text="earliest of all limits")
    usable_from = models.DateField(null=True, blank=True, help_text="still curing before that day")
    thickness_um = models.PositiveBigIntegerField("measured thickness", null=True, blank=True)
    unit_cost = UnitCostField("cost of one stock unit", default=0)
    certificate = models.FileField(upload_to="certificates/", blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["received_on", "pk"]
        indexes = [models.Index(fields=["item", "status"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    status__in=["received", "quarantine", "released", "rejected", "unknown"]
                ),
                name="lot_status_known",
            ),
            models.CheckConstraint(condition=Q(unit_cost__gte=0), name="lot_cost_not_negative"),
        ]

    def __str__(self) -> str:
        return self.number

    def get_absolute_url(self) -> str:
        return reverse("lot", args=[self.number])

    @property
    def newest_note(self) -> str:
        """Notes are a line each, the newest at the end."""
        return self.note.rpartition("\n")[2]

    def why_unusable(self, on: date) -> str:
        """Say why nothing of this lot may be used on that day; empty when it may.

        A lot on its expiry date is still usable; the day after it is not.
        """
        if self.status != self.Status.RELEASED:
            return self.get_status_display()
        if self.received_on > on:
            return f"not here before {show_day(self.received_on)}"
        if self.expires_on and self.expires_on < on:
            return f"expired {show_day(self.expires_on)}"
        if self.usable_from and self.usable_from > on:
            return f"curing until {show_day(self.usable_from)}"
        return ""


def expiry(
    item_shelf_days: int | None,
    item_opened_days: int | None,
    made_on: date | None,
    opened_on: date | None,
) -> date | None:
    """Earliest of unopened life from manufacture and opened life from opening.

    Source: shelf life per ASTM D1337 counts from manufacture (Petrie, Handbook of Adhesives and
    Sealants, p. 140: read).
    """
    limits = []
    if item_shelf_days and made_on:
        limits.append(made_on + timedelta(days=item_shelf_days))
    if item_opened_days and opened_on:
        limits.append(opened_on + timedelta(days=item_opened_days))
    return min(limits, default=None)
