"""Knives built together: planned, reserved, in work, finished or cancelled."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from inventory.fields import QuantityField


class Batch(models.Model):
    class State(models.TextChoices):
        PLANNED = "planned", "planned"
        RESERVED = "reserved", "reserved"
        IN_WORK = "in_work", "in work"
        FINISHED = "finished", "finished"
        CANCELLED = "cancelled", "cancelled"

    number = models.CharField(max_length=20, unique=True)
    state = models.CharField(max_length=10, choices=State, default=State.PLANNED)
    start_on = models.DateField("planned start")
    started_on = models.DateField(null=True, blank=True)
    finished_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-start_on", "-pk"]
        verbose_name_plural = "batches"
        constraints = [
            models.CheckConstraint(
                condition=Q(state="finished", finished_on__isnull=False)
                | (~Q(state="finished") & Q(finished_on__isnull=True)),
                name="batch_finished_has_a_date",
            ),
            models.CheckConstraint(
                condition=~Q(state="in_work") | Q(started_on__isnull=False),
                name="batch_in_work_has_a_start",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    def get_absolute_url(self) -> str:
        return reverse("batch", args=[self.number])

    @property
    def is_open(self) -> bool:
        return self.state in (self.State.PLANNED, self.State.RESERVED, self.State.IN_WORK)


class BatchLine(models.Model):
    """One product of a batch, with the bill and the choices it is built by."""

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="lines")
    product = models.ForeignKey("Product", on_delete=models.PROTECT, related_name="batch_lines")
    bill = models.ForeignKey("BillOfMaterials", on_delete=models.PROTECT, related_name="+")
    options = models.ManyToManyField("ProductOption", blank=True, related_name="+")
    wanted = models.PositiveIntegerField("good knives wanted")
    start_qty = models.PositiveIntegerField("knives to start")
    good = models.PositiveIntegerField(default=0)
    scrapped = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(wanted__gte=1) & Q(start_qty__gte=models.F("wanted")),
                name="batch_starts_enough",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.wanted} x {self.product_id}"


class StageCount(models.Model):
    """Good and scrapped knives counted after one operation."""

    line = models.ForeignKey(BatchLine, on_delete=models.CASCADE, related_name="stages")
    operation = models.ForeignKey("Operation", on_delete=models.PROTECT, related_name="+")
    good = models.PositiveIntegerField()
    scrapped = models.PositiveIntegerField(default=0)
    cause = models.CharField(max_length=80, blank=True)
    day = models.DateField()

    class Meta:
        ordering = ["line", "operation__number"]
        constraints = [
            models.UniqueConstraint(fields=["line", "operation"], name="one_count_a_stage")
        ]

    def __str__(self) -> str:
        return f"{self.operation_id}: {self.good} good"


class Reservation(models.Model):
    """Stock held for a batch; open until it is used or released."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="reservations")
    item = models.ForeignKey("Item", on_delete=models.PROTECT, related_name="reservations")
    lot = models.ForeignKey("Lot", on_delete=models.PROTECT, related_name="reservations")
    piece = models.ForeignKey(
        "Piece", on_delete=models.PROTECT, null=True, blank=True, related_name="reservations"
    )
    qty = QuantityField()
    is_open = models.BooleanField(default=True)

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["item"], condition=Q(is_open=True), name="open_held")]
        constraints = [
            models.CheckConstraint(condition=Q(qty__gt=0), name="reservation_above_zero"),
            models.UniqueConstraint(
                fields=["piece"],
                condition=Q(is_open=True, piece__isnull=False),
                name="piece_held_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.qty} of {self.item_id} for {self.batch_id}"
