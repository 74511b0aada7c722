"""A count of the shelf: a list of what to count, each line counted blind and stamped with the time."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from inventory.fields import QuantityField


class StockCount(models.Model):
    """One list, of a place or of a class of items; open until its differences are posted."""

    class State(models.TextChoices):
        OPEN = "open", "open"
        POSTED = "posted", "posted"
        DROPPED = "dropped", "dropped"

    number = models.CharField(max_length=20, unique=True)
    state = models.CharField(max_length=7, choices=State, default=State.OPEN)
    what = models.CharField("what is counted", max_length=80)
    started_at = models.DateTimeField(auto_now_add=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="open", ended_at__isnull=True)
                | (~Q(state="open") & Q(ended_at__isnull=False)),
                name="count_ended_has_a_time",
            )
        ]

    def __str__(self) -> str:
        return self.number

    def get_absolute_url(self) -> str:
        return reverse("count", args=[self.number])


class CountLine(models.Model):
    """A lot or a piece at a place.

    expected: by the ledger at the moment it was counted, so that what is issued afterwards isn't
    counted twice. For pieces, length and width are counted; the quantity follows.
    """

    count = models.ForeignKey(StockCount, on_delete=models.CASCADE, related_name="lines")
    lot = models.ForeignKey("Lot", on_delete=models.PROTECT, related_name="+")
    piece = models.ForeignKey(
        "Piece", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    place = models.ForeignKey("Place", on_delete=models.PROTECT, related_name="+")
    counted = QuantityField(null=True, blank=True)
    first_counted = QuantityField("before it was counted again", null=True, blank=True)
    counted_length_um = models.PositiveBigIntegerField(null=True, blank=True)
    counted_width_um = models.PositiveBigIntegerField(null=True, blank=True)
    expected = QuantityField(null=True, blank=True)
    counted_at = models.DateTimeField(null=True, blank=True)
    times = models.PositiveSmallIntegerField("times counted", default=0)
    recount = models.BooleanField("to be counted again", default=False)
    reason = models.CharField(max_length=40, blank=True)
    posting = models.ForeignKey(
        "Posting", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["count", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["count", "lot", "place"],
                condition=Q(piece__isnull=True),
                name="lot_on_a_count_once",
            ),
            models.UniqueConstraint(
                fields=["count", "piece"],
                condition=Q(piece__isnull=False),
                name="piece_on_a_count_once",
            ),
            models.CheckConstraint(
                condition=Q(counted__isnull=True, expected__isnull=True, counted_at__isnull=True)
                | Q(counted__gte=0, expected__gte=0, counted_at__isnull=False),
                name="counted_line_is_stamped",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot_id} on {self.count_id}"
